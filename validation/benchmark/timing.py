"""Clocks and counters that the pieces of the benchmark share."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.outcome.recorder import Recorder
from nugget.setup import Setup, default_setup
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState

REPEATS = 5


def plain(refinement: float = 1.0, tolerance_K: float = 1.5) -> Setup:
    """The default weld without losses to air, which the peers leave out."""
    numerics = {"numerics.refinement": refinement, "numerics.tolerance": tolerance_K}
    return default_setup().with_({"ambient.heat_transfer_coefficient": 0.0, **numerics})


def short(refinement: float) -> Setup:
    """One millisecond of the default weld, without cool-down: for grids of any size."""
    changes = {"pulse.0.duration": "1 ms", "hold_time": "0.1 ms", "numerics.max_time": "1 ms"}
    return default_setup().with_({**changes, "numerics.refinement": refinement})


def march(setup: Setup, model: WeldModel | None = None, until_s: float = np.inf) -> list[WeldState]:
    """All moments of a weld, to the end of its cool-down or to an instant."""
    steps = March(setup, model)
    recorder, found = Recorder(steps), []
    for state in steps:
        recorder.add(state)
        found.append(state)
        if recorder.done() or state.time_s >= until_s * (1.0 - 1e-9):
            break
    return found


def seconds(job: Callable[[], Any]) -> float:
    """Wall time of one call [s]."""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def medians(job: Callable[[], Any], repeats: int) -> tuple[float, float, float]:
    """Median, shortest and longest wall time of `repeats` calls [s]."""
    taken = [seconds(job) for _ in range(repeats)]
    return statistics.median(taken), min(taken), max(taken)


@dataclass
class Clock:
    """Calls of a function and the time spent in them."""

    calls: int = 0
    seconds: float = 0.0


@contextmanager
def clocked(*targets: tuple[Any, str]) -> Iterator[list[Clock]]:
    """Time every call of ``getattr(owner, name)`` for each (owner, name) while the block runs."""
    clocks = [Clock() for _ in targets]
    originals = [getattr(owner, name) for owner, name in targets]

    def timed(clock: Clock, call: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any, **named: Any) -> Any:
            start = time.perf_counter()
            try:
                return call(*given, **named)
            finally:
                clock.calls += 1
                clock.seconds += time.perf_counter() - start

        return run

    for (owner, name), clock, call in zip(targets, clocks, originals, strict=True):
        setattr(owner, name, timed(clock, call))
    try:
        yield clocks
    finally:
        for (owner, name), call in zip(targets, originals, strict=True):
            setattr(owner, name, call)
