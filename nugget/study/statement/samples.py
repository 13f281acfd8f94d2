"""One weld of many: its figures, the limits that it breaks, and how far it is from each of them."""

from __future__ import annotations

import time
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from nugget.errors import SolverError
from nugget.merit.figure import FIGURES
from nugget.merit.limit import by_id
from nugget.outcome.figures import figures_of
from nugget.outcome.recorder import Recorder
from nugget.setup import Setup
from nugget.study.durations.criteria import criteria_of, margins
from nugget.study.tasks import Finished
from nugget.weld.march import March


def kept_figures() -> tuple[str, ...]:
    """Keys of the figures that every weld of a scatter keeps: what a limit could refer to."""
    return tuple(key for key, one in FIGURES.items() if one.can_be_limited)


@dataclass(frozen=True)
class Sample:
    """One weld of many.

    Attributes
    ----------
    figures : dict
        Figures of merit by key: all numbers and truth values that apply.
    limits : dict of str to float or None
        What each limit bounds, by its id.
    broken : tuple of str
        Ids of the limits that were broken.
    peak_reached : bool
    failed : str
        Why the march stopped; empty when it did not.
    excess : dict of str to float
        How far each criterion is met (the target) or broken (a limit), relative to its threshold:
        zero is the edge, see `nugget.study.durations.criteria`.
    seconds : float
        Wall time of the march; no part of the result.
    """

    figures: dict[str, float]
    limits: dict[str, float | None]
    broken: tuple[str, ...]
    peak_reached: bool
    failed: str = ""
    excess: dict[str, float] = field(default_factory=dict)
    seconds: float = field(default=0.0, compare=False)

    @property
    def enough(self) -> bool:
        """Whether the joint reaches its target."""
        return self.figures["nugget_diameter_m"] >= self.figures["minimum_diameter_m"]

    @property
    def good(self) -> bool:
        """Whether it does so with every limit kept and the interior followed past its peak."""
        return self.enough and not self.broken and self.peak_reached


def sample(setup: Setup) -> Sample:
    """March one weld on one thread; one argument, for executors."""
    from threadpoolctl import threadpool_limits

    started = time.perf_counter()
    try:
        with threadpool_limits(limits=1):
            recorder, reached = _marched(setup)
            figures = figures_of(recorder, reached)
    except (SolverError, ArithmeticError) as failure:
        return Sample({}, {}, (), False, str(failure))
    limits, history = by_id(setup.limits), recorder.history()
    values = {id: limit.value_in(figures) for id, limit in limits.items()}
    return Sample(
        {key: float(figures[key]) for key in kept_figures() if figures[key] is not None},
        values,
        tuple(id for id, limit in limits.items() if limit.breaks(values[id])),
        reached,
        "",
        {one.key: one.excess(figures, history) for one in criteria_of(setup) if one.kind != "bond"},
        time.perf_counter() - started,
    )


def _marched(setup: Setup) -> tuple[Recorder, bool]:
    """A march and whether it was followed until the interior had passed its peak."""
    march = March(setup)
    recorder = Recorder(march)
    for state in march:
        recorder.add(state)
        recorder.rows[-1] |= margins(recorder, state)
        if recorder.done():
            return recorder, True
    return recorder, False


def sample_from(tree: dict[str, Any]) -> Sample:
    """Rebuild a `Sample` from JSON."""
    return Sample(**{**tree, "broken": tuple(tree["broken"])})


def kept(path: Path | None = None, resume: bool = False) -> Finished[Sample]:
    """Finished marches, in a file when `path` is given; `resume` reads what it holds already."""
    return Finished(asdict, sample_from, path, resume)
