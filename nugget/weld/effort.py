"""How long a march will take: by counts of steps, and by what they cost on this machine."""

from __future__ import annotations

import logging
import math
import time
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from nugget.field.checkerboard import CheckerboardSolver
from nugget.grid.stack import build_grid
from nugget.setup.description import Description
from nugget.weld.phases import phases
from nugget.weld.state import WeldState

log = logging.getLogger("nugget.weld")

STEPS_COOLING, STEPS_FIRST_PULSE, STEPS_PER_PULSE = 40, 65, 36
STEPS_PER_HALF_WAVE, STEPS_PER_PHASE = 14, 1
"""Steps of welds of all kinds of source: after the current, in the first pulse and each further one with the
gap before it, in each further half wave of a thyristor and in each further part of any other pulse."""
SECONDS_PER_STEP, SECONDS_PER_CELL_AND_STEP = 1.0e-2, 6.0e-6
"""Of one core of a shared server of 2026, for 359 to 11,528 cells: good to a factor of three, only to
tell what is certainly short from what is worth a measurement."""
WORTH_A_LOOK_S = 15.0
"""Below this by counts no march takes over a minute, even where the factor of three is full."""
FACTORISATIONS_PER_STEP = 2.0
"""What a step costs beyond `SECONDS_PER_STEP`, in factorisations of the grid's operator: 1.4 to 2 on 3,072 to
24,852 cells."""
LONG_S = 60.0
"""A march above this is announced."""
QUIET_S, SETTLED_STEPS = 3.0, 50
"""Nothing is foreseen before so many seconds have passed, nor from the pace before so many steps: steps are
smallest where a pulse begins."""


def expected_steps(setup: Description) -> int:
    """Steps of one march, by counts: to a factor of two for pulses as the trade uses them."""
    powered = [phase for phase in phases(setup) if phase.pulse is not None]
    further = sum(phase.follows_on for phase in powered)
    each = STEPS_PER_HALF_WAVE if setup.circuit.source.turns_off_at_zero else STEPS_PER_PHASE
    pulses = STEPS_FIRST_PULSE + STEPS_PER_PULSE * (len(setup.train) - 1)
    return STEPS_COOLING + pulses + each * further


def march_seconds(setup: Description, clock: Callable[[], float] = time.process_time) -> float:
    """Seconds that one march takes: by counts where that is short for certain, else by a factorisation.

    On fine grids a single step may take longer than anybody wants to wait for an estimate.
    """
    steps, grid = expected_steps(setup), build_grid(setup)
    counted = steps * (SECONDS_PER_STEP + SECONDS_PER_CELL_AND_STEP * int(grid.active.sum()))
    if counted < WORTH_A_LOOK_S:
        return counted
    from threadpoolctl import threadpool_limits

    _factor(4, 4)  # what is loaded with the first one costs time, and has no threads to limit before
    with threadpool_limits(limits=1):
        begun = clock()
        _factor(*grid.shape)
        taken = clock() - begun
    return steps * (SECONDS_PER_STEP + FACTORISATIONS_PER_STEP * taken)


def _factor(rows: int, columns: int) -> None:
    """Factor an operator like that of heat."""
    along = -np.ones((rows, columns - 1)), -np.ones((rows - 1, columns))
    CheckerboardSolver(rows, columns).factor(np.full((rows, columns), 5.0), *along)


@dataclass
class Foresight:
    """Watches a march and says once, through `logging`, when it will take over a minute.

    Before the first step by `march_seconds`. Then by two readings, of which the longer counts: the expected
    number of steps at their cost so far; and, from `SETTLED_STEPS` on, the cost until the last pulse ends if
    it grows on as the power of time with which it has grown since half of the time so far. Cost that grows
    as time itself, as over half waves, goes on as that; steps that lengthen in one long pulse make a power
    near zero.

    Parameters
    ----------
    setup : Description
    clock : callable
        Seconds.

    Attributes
    ----------
    said : bool
        Whether it has.
    expected : int
        Steps by counts.
    """

    setup: Description
    clock: Callable[[], float] = time.perf_counter
    said: bool = False
    expected: int = 0
    _counted_s: float = 0.0
    _passed: list[tuple[float, float]] = field(default_factory=list)
    _begun: float | None = None

    def add(self, state: WeldState) -> None:
        """Take a state of the march, its first one included, in order."""
        if self.said:
            return
        now = self.clock()
        if self._begun is None:
            self._begun, self.expected = now, expected_steps(self.setup)
            self._counted_s = march_seconds(self.setup)
            self._say(self._counted_s)
        spent = now - self._begun
        self._passed.append((state.time_s, spent))
        if spent < QUIET_S:
            return
        if self._counted_s < WORTH_A_LOOK_S and len(self._passed) <= SETTLED_STEPS:
            return  # short for certain, and a busy machine may let any one step wait for seconds
        self._say(self.whole_s())

    def _say(self, whole_s: float) -> None:
        if whole_s > LONG_S and not self.said:
            self.said = True
            log.warning(
                "this simulation will take about %s in all; a coarser numerics.refinement is faster",
                minutes(whole_s),
            )

    def whole_s(self) -> float:
        """Seconds of the whole march, as far as the steps so far tell."""
        at_s, spent = self._passed[-1]
        steps = len(self._passed) - 1
        each = spent / max(steps, 1)
        end_s = min(self.setup.train_s, self.setup.numerics.max_time_s)
        counted = each * max(self.expected, steps)
        if steps < SETTLED_STEPS or at_s >= end_s:
            return counted
        half = self._passed[bisect_right(self._passed, (0.5 * at_s, math.inf)) - 1][1]
        power = min(1.0, math.log2(spent / half)) if half > 0.0 else 1.0
        return max(counted, spent * math.pow(end_s / at_s, power) + STEPS_COOLING * each)


def minutes(seconds: float) -> str:
    """A duration as a person says it: ``"1.5 min"``, ``"12 min"``, ``"3 h"``."""
    if seconds < 600.0:
        return f"{seconds / 60.0:.1g} min" if seconds >= 270.0 else f"{round(seconds / 30.0) / 2.0:g} min"
    return f"{seconds / 60.0:.0f} min" if seconds < 7200.0 else f"{seconds / 3600.0:.0f} h"
