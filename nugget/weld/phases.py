"""The pulse train as a list of phases between instants at which something switches."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from nugget.setup.description import Description, Pulse

INSTANT_S = 1e-12
"""What is not further apart happens at once: far below any step, far above rounding of a train's times."""


@dataclass(frozen=True)
class Phase:
    """A stretch of time in which nothing switches.

    Attributes
    ----------
    start_s, end_s : float
        `end_s` is infinite for the last one.
    pulse : Pulse or None
        The pulse that is on.
    pulse_start_s : float
        When that pulse began.
    tip_closed : bool
        Whether the tip still sits on the strip.
    follows_on : bool
        Whether the same pulse is on in the phase before.
    """

    start_s: float
    end_s: float
    pulse: Pulse | None
    pulse_start_s: float
    tip_closed: bool
    follows_on: bool = False


def phases(setup: Description) -> list[Phase]:
    """Phases of the pulse train, the hold time and the cool-down, in order."""
    found: list[Phase] = []
    time = 0.0
    for index, pulse in enumerate(setup.train):
        kinks = {pulse.upslope_s, pulse.duration_s - pulse.downslope_s, pulse.duration_s}
        kinks |= set(setup.circuit.source.instants(pulse.duration_s))
        marks = sorted({k for k in kinks if INSTANT_S < k <= pulse.duration_s})
        marks = [k for k, later in pairwise([*marks, math.inf]) if later - k > INSTANT_S]
        for low, high in zip([0.0, *marks[:-1]], marks, strict=True):
            found.append(Phase(time + low, time + high, pulse, time, True, low > 0.0))
        off = time + pulse.duration_s
        last = index == len(setup.train) - 1
        gap = setup.hold_s if last else pulse.cool_time_s
        if gap > 0.0:
            found.append(Phase(off, off + gap, None, off, True))
        time = off + gap
    found.append(Phase(time, math.inf, None, time, False))
    return found
