"""Where the spots of several welds lie on a cell's end."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.setup.description import Description


def spots_each(setup: Description) -> int:
    """Spots that one weld makes: two for a pair in series, else one."""
    return 2 if setup.arrangement.startswith("series") else 1


def places(setup: Description, welds: int, apart_m: float, clear_m: float) -> FloatArray | None:
    """Places of the spots of a row of welds, shape (welds, spots of each, 2) [m].

    Parameters
    ----------
    setup : Description
    welds : int
    apart_m : float
        From one weld to the next: along the strip, or across it when the tips lie along it.
    clear_m : float
        Room that a spot needs to the edge of the cell's end, and half of it to that of the strip.

    Returns
    -------
    ndarray or None
        x along the strip, y across it, from the axis of the cell; None when they do not fit.
    """
    s, rows = setup.spacing_m, (np.arange(welds) - 0.5 * (welds - 1)) * apart_m
    if setup.arrangement == "series across":
        found = [[(x, -0.5 * s), (x, 0.5 * s)] for x in rows]
    elif setup.arrangement == "series along":
        found = [[(-0.5 * s, y), (0.5 * s, y)] for y in rows]
    else:
        found = [[(x, 0.0)] for x in rows]
    spots = np.array(found)
    inside = np.hypot(spots[..., 0], spots[..., 1]).max() + clear_m <= setup.base[0].radius_m
    on_strip = np.abs(spots[..., 1]).max() + 0.5 * clear_m <= 0.5 * setup.strip_width_m
    return spots if inside and on_strip else None
