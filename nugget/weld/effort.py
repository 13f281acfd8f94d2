"""How long a march will take, from counts alone: before it is begun."""

from __future__ import annotations

from nugget.grid.stack import build_grid
from nugget.setup.description import Description
from nugget.weld.phases import phases

STAGES_PER_STEP = 6.0
STEPS_COOLING, STEPS_PER_PULSE, STEPS_PER_PHASE = 40, 50, 5
SECONDS_PER_STAGE, SECONDS_PER_CELL = 1.6e-3, 1.05e-6
"""Counts of default welds of all kinds of source and of three grids, and seconds of one core of a shared
server of 2026 for 359 to 11,528 cells: good to a factor of two or three, which is what they are for."""


def march_seconds(setup: Description) -> float:
    """Seconds that one march takes on one core, to a factor of two or three."""
    powered = [phase for phase in phases(setup) if phase.pulse is not None]
    steps = STEPS_COOLING + STEPS_PER_PULSE * len(setup.train) + STEPS_PER_PHASE * len(powered)
    cells = int(build_grid(setup).active.sum())
    return STAGES_PER_STEP * steps * (SECONDS_PER_STAGE + SECONDS_PER_CELL * cells)
