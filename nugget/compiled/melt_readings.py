"""Readings of a joint's levels (`nugget.outcome.melt`)."""

from __future__ import annotations

import math

from nugget.arrays import FloatArray
from nugget.compiled.kernel import inlined, kernel


@inlined
def _positive(start: float, end: float) -> float:
    """Share of a segment on which a linear function from `start` to `end` is positive."""
    high, low = max(start, end), min(start, end)
    if low >= 0.0:
        return 1.0
    return 0.0 if high <= 0.0 else high / (high - low)


@kernel("void(f8[:,::1], f8[::1], f8, f8[::1])")
def diameters(levels: FloatArray, r: FloatArray, edge_m: float, found: FloatArray) -> None:
    """Fill in `nugget.outcome.melt.equal_diameters` of several levels, shape (levels, nr)."""
    inside = min(edge_m, r[-1]) ** 2
    for n in range(levels.shape[0]):
        level, area, reached = levels[n, 0], 0.0, 0.0
        for j in range(r.size):
            square, end = r[j] * r[j], levels[n, j]
            if square >= inside:
                if j > 0:
                    slope = (end - level) / (square - reached)
                    end = slope * (inside - reached) + level
                area += _positive(level, end) * (inside - reached)
                break
            area += _positive(level, end) * (square - reached)
            level, reached = end, square
        found[n] = 2.0 * math.sqrt(area)


@kernel("void(f8[:,::1], f8[:,::1], f8[:,::1], i8, i8, f8[::1], f8[::1], f8, f8[::1])")
def melted(
    cells: FloatArray,
    lower: FloatArray,
    upper: FloatArray,
    start: int,
    stop: int,
    z_faces: FloatArray,
    z: FloatArray,
    threshold: float,
    share: FloatArray,
) -> None:
    """Fill in the melted share of the rows from `start` to before `stop` in each column, from levels."""
    whole = z_faces[stop] - z_faces[start]
    for j in range(share.size):
        level, height, sum_m = lower[start, j] - threshold, z_faces[start], 0.0
        for i in range(start, stop):
            sum_m += _positive(level, cells[i, j] - threshold) * (z[i] - height)
            level, height = cells[i, j] - threshold, z[i]
        sum_m += _positive(level, upper[stop - 1, j] - threshold) * (z_faces[stop] - height)
        share[j] = sum_m / whole
