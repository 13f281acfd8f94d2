"""Readings of `nugget.outcome.melt` in machine code; imported where kernels serve."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled import melt_readings
from nugget.outcome.melt import MELTED


def equal_diameters(levels: FloatArray, r: FloatArray, edge_m: float) -> FloatArray:
    """See `nugget.outcome.melt`."""
    found = np.empty(levels.shape[:-1])
    melt_readings.diameters(np.ascontiguousarray(levels).reshape(-1, r.size), r, edge_m, found.reshape(-1))
    return found


def melted_share(
    levels: tuple[FloatArray, FloatArray, FloatArray], rows: slice, z_faces: FloatArray, z: FloatArray
) -> FloatArray:
    """See `nugget.outcome.melt.MeltReader`; `levels` in the middle and at both faces of each cell."""
    share = np.empty(levels[0].shape[1])
    melt_readings.melted(*levels, rows.start, rows.stop, z_faces, z, MELTED, share)
    return share
