"""Many welds whose inputs vary: what becomes of them, and what that depends on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import MarchError
from nugget.merit.figure import FIGURES
from nugget.merit.limit import by_id
from nugget.outcome.weld import march_weld
from nugget.setup import Setup
from nugget.study.scattering.tolerance import Tolerance, drawn, setups_of
from nugget.study.tasks import Finished, key_of, run_all


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
    seconds : float
        Wall time of the march; no part of the result.
    """

    figures: dict[str, float]
    limits: dict[str, float | None]
    broken: tuple[str, ...]
    peak_reached: bool
    failed: str = ""
    seconds: float = field(default=0.0, compare=False)

    @property
    def enough(self) -> bool:
        """Whether the joint reaches its target."""
        return self.figures["nugget_diameter_m"] >= self.figures["target_diameter_m"]

    @property
    def good(self) -> bool:
        """Whether it does so with every limit kept and the interior followed past its peak."""
        return self.enough and not self.broken and self.peak_reached


def sample(setup: Setup) -> Sample:
    """March one weld; one argument, for executors."""
    try:
        weld = march_weld(setup)
    except (MarchError, ArithmeticError) as failure:
        return Sample({}, {}, (), False, str(failure))
    figures = weld.figures
    limits = by_id(setup.limits)
    values = {id: limit.value_in(figures) for id, limit in limits.items()}
    return Sample(
        {key: float(figures[key]) for key in kept_figures() if figures[key] is not None},
        values,
        tuple(id for id, limit in limits.items() if limit.breaks(values[id])),
        bool(figures["peak_reached"]),
        seconds=weld.seconds,
    )


def sample_from(tree: dict[str, Any]) -> Sample:
    """Rebuild a `Sample` from JSON."""
    return Sample(**{**tree, "broken": tuple(tree["broken"])})


def kept(path: Path | None = None, resume: bool = False) -> Finished[Sample]:
    """Finished marches, in a file when `path` is given; `resume` reads what it holds already."""
    return Finished(asdict, sample_from, path, resume)


@dataclass(frozen=True)
class Scatter:
    """Many welds of one setup.

    Attributes
    ----------
    setup : Setup
    tolerances : tuple of Tolerance
    deviations : ndarray, shape (n, inputs)
        Of the welds in `samples`, in standard deviations.
    samples : tuple of Sample
        Those whose march came to its end.
    failed : tuple of str
        Why the other marches stopped.
    seed : int
    """

    setup: Setup
    tolerances: tuple[Tolerance, ...]
    deviations: FloatArray
    samples: tuple[Sample, ...]
    failed: tuple[str, ...]
    seed: int

    def column(self, name: str) -> FloatArray | None:
        """A figure of every weld; None where it does not apply."""
        values = [one.figures.get(name) for one in self.samples]
        return None if any(v is None for v in values) else np.array(values, dtype=np.float64)


def scatter(
    setup: Setup,
    tolerances: Sequence[Tolerance],
    samples: int = 500,
    seed: int = 1,
    executor: Executor | None = None,
    finished: Finished[Sample] | None = None,
    on_done: Callable[[str], None] | None = None,
) -> Scatter:
    """March `samples` welds whose inputs vary by `tolerances`.

    Parameters
    ----------
    setup : Setup
    tolerances : sequence of Tolerance
    samples : int
    seed : int
        The same seed draws the same welds.
    executor : Executor, optional
        One march after the other in this process by default.
    finished : Finished, optional
        Marches of an earlier call.
    on_done : callable, optional
        Called with the key of each march that is in.

    Raises
    ------
    InputError
        When a tolerance reaches what no setup can have.
    MarchError
        When not a single march came to its end.
    """
    deviations = drawn(tolerances, samples, seed)
    setups = setups_of(setup, tolerances, deviations)
    keys = [key_of(one) for one in setups]
    results = run_all(sample, dict(zip(keys, setups, strict=True)), executor, finished, on_done)
    rows = [results[key] for key in keys]
    ended = [k for k, one in enumerate(rows) if not one.failed]
    failed = tuple(one.failed for one in rows if one.failed)
    if not ended:
        raise MarchError(0.0, f"none of {samples} welds came to its end, the first because {failed[0]}")
    return Scatter(setup, tuple(tolerances), deviations[ended], tuple(rows[k] for k in ended), failed, seed)
