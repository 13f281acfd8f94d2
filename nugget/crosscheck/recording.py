"""The march under check, step by step, with the contacts of both stages of each step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from nugget.outcome.recorder import Recorder
from nugget.setup.description import Setup
from nugget.weld.march import March, WeldState
from nugget.weld.model import StageResult, WeldModel


class RecordingModel(WeldModel):
    """A weld model that keeps the results of the last two stages it has solved."""

    stages: tuple[StageResult, ...] = ()

    def stage(self, *args: Any, **named: Any) -> StageResult:
        """Solve one stage, see `WeldModel.stage`, and keep it."""
        found = super().stage(*args, **named)
        self.stages = (*self.stages[-1:], found)
        return found


@dataclass(frozen=True)
class Recorded:
    """One accepted step: the states at its ends and the two stages between them."""

    before: WeldState
    stages: tuple[StageResult, ...]
    after: WeldState


def recorded(setup: Setup, model: RecordingModel) -> Iterator[Recorded]:
    """March `setup` and yield every accepted step, until the interior has passed its peak."""
    march = March(setup, model)
    recorder = Recorder(march)
    before: WeldState | None = None
    for state in march:
        recorder.add(state)
        if before is not None:
            yield Recorded(before, model.stages, state)
        if recorder.done():
            return
        before = state
