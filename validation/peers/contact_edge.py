"""How far a contact reaches on a grid, for the peers: their own look-up and their own coverage."""

from __future__ import annotations

from functools import cache

import numpy as np

from nugget.arrays import FloatArray
from validation.readers import rows


@cache
def _table() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Logarithm of height over width, place in the cell, and the extra radius in cell heights."""
    found = rows("contact_edge")
    places = [name for name in found[0] if name != "aspect"]
    extra = [[float(row[name]) for name in places] for row in found]
    ratios = np.log([float(row["aspect"]) for row in found])
    return ratios, np.array([float(name) for name in places]), np.array(extra)


def reach(radius_m: float, faces_m: FloatArray, height_m: float) -> float:
    """Radius [m] that has to be covered on these cells to conduct what a contact of `radius_m` does.

    Linear between the rows and columns of ``validation/data/contact_edge.csv``.
    """
    cell = min(int(np.searchsorted(faces_m, radius_m, side="right")) - 1, len(faces_m) - 2)
    widths = np.diff(faces_m)
    width = np.interp(radius_m, 0.5 * (faces_m[1:] + faces_m[:-1]), widths)
    ratios, places, extra = _table()
    place = (radius_m - faces_m[cell]) / widths[cell]
    by_ratio = [float(np.interp(place, places, row)) for row in extra]
    return radius_m + height_m * float(np.interp(np.log(height_m / width), ratios, by_ratio))
