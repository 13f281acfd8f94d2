"""The march under check, step by step, with the contacts of both stages of each step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from nugget.outcome.recorder import Recorder
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.stage import StageProblem, StageResult, StageSolver
from nugget.weld.state import WeldState


class RecordingSolver(StageSolver):
    """A stage solver that keeps the last two results."""

    last: tuple[StageResult, ...] = ()

    def solve(self, problem: StageProblem) -> StageResult:
        """Solve one stage, see `StageSolver.solve`, and keep it."""
        found = super().solve(problem)
        self.last = (*self.last[-1:], found)
        return found


@dataclass(frozen=True)
class Recorded:
    """One accepted step: the states at its ends and the two stages between them."""

    before: WeldState
    stages: tuple[StageResult, ...]
    after: WeldState


def recorded(model: WeldModel) -> Iterator[Recorded]:
    """March `model` and yield every accepted step, until the interior has passed its peak."""
    stages = RecordingSolver(model)
    march = March(model.setup, model, stages=stages)
    recorder = Recorder(march)
    before: WeldState | None = None
    for state in march:
        recorder.add(state)
        if before is not None:
            yield Recorded(before, stages.last, state)
        if recorder.done():
            return
        before = state
