"""How far a contact's edge must be widened for the grid to conduct what the contact conducts.

At the edge of a contact the flux is singular and cells see too little of it: the constriction
resistance of a disc comes out 1 to 5 % high at eight cells per radius. The table holds the extra
radius, in cell heights, that makes it exact: a disc in a cylinder of four radii, uniform conductivity,
even cells, 12 per radius (8 and 16 move it by 0.003). ``python -m validation.edge_table`` computes it
from a five-point scheme of its own; ``validation`` checks the outcome against Holm's resistance.

The equations: manual, theory-interfaces.
"""

from __future__ import annotations

import bisect
import functools
import math

import numpy as np

from nugget.arrays import FloatArray

_POSITION = np.array([0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.9, 1.0])
"""Where the edge lies in its cell, 0 at the inner face, 1 at the outer one."""
_ASPECTS = math.log(1.0), math.log(1.4), math.log(2.0)
"""Logarithm of cell height over cell width at the edge. Flatter cells take the row of square ones:
rows of their own would swing by half a cell height as the edge crosses a cell, and that would
cost the march its order in time."""
_EXTRA = np.array(
    [
        [0.185, 0.157, 0.140, 0.139, 0.157, 0.202, 0.237, 0.283, 0.342, 0.320, 0.294, 0.268, 0.222, 0.185],
        [0.201, 0.192, 0.192, 0.201, 0.223, 0.261, 0.287, 0.295, 0.279, 0.264, 0.250, 0.238, 0.216, 0.201],
        [0.220, 0.222, 0.230, 0.243, 0.263, 0.267, 0.259, 0.251, 0.244, 0.238, 0.233, 0.228, 0.222, 0.220],
    ]
)  # fmt: skip


_FINE = np.linspace(0.0, 1.0, 401)


@functools.cache
def smooth_rows() -> FloatArray:
    """The table between its columns by monotone cubics: kinks would cost the march its order.

    As `scipy.interpolate.PchipInterpolator` has them, whose import takes longer than a tenth of a weld.
    """
    width, rise = np.diff(_POSITION), np.diff(_EXTRA, axis=1) / np.diff(_POSITION)
    slope = _monotone_slopes(width, rise)
    left = np.clip(np.searchsorted(_POSITION, _FINE, side="right") - 1, 0, len(width) - 1)
    h, x = width[left], _FINE - _POSITION[left]
    third = (slope[:, left] + slope[:, left + 1] - 2.0 * rise[:, left]) / h**2
    second = (rise[:, left] - slope[:, left]) / h - third * h
    return np.asarray(_EXTRA[:, left] + x * (slope[:, left] + x * (second + x * third)), dtype=np.float64)


@functools.cache
def table_rows() -> list[list[float]]:
    """The same as numbers of Python, which are read one by one for every contact."""
    rows: list[list[float]] = smooth_rows().tolist()
    return rows


def _monotone_slopes(width: FloatArray, rise: FloatArray) -> FloatArray:
    """Slopes at the columns: weighted harmonic means of the two beside, 0 at extremes.

    F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300. At the ends that of a
    parabola, or 0 where it turns.
    """
    before, after = rise[:, :-1], rise[:, 1:]
    w1, w2 = 2.0 * width[1:] + width[:-1], width[1:] + 2.0 * width[:-1]
    same = before * after > 0.0
    inner = np.where(
        same, (w1 + w2) / (w1 / np.where(same, before, 1.0) + w2 / np.where(same, after, 1.0)), 0
    )
    ends = [
        ((2.0 * a + b) * rise[:, [k]] - a * rise[:, [m]]) / (a + b)
        for a, b, k, m in ((width[0], width[1], 0, 1), (width[-1], width[-2], -1, -2))
    ]
    first, last = (np.where(end * rise[:, [k]] > 0.0, end, 0.0) for end, k in zip(ends, (0, -1), strict=True))
    return np.hstack([first, inner, last])


def resolved_radius(radius_m: float, r_faces_m: FloatArray, height_m: float) -> float:
    """Radius [m] that covers, on this grid, what a contact of `radius_m` conducts.

    Continuous and increasing in `radius_m`.

    Parameters
    ----------
    radius_m : float
    r_faces_m : ndarray, shape (nr + 1,)
    height_m : float
        Mean height of the two cells at the interface [m].
    """
    edge = min(bisect.bisect_right(r_faces_m, radius_m) - 1, len(r_faces_m) - 2)
    low, high = float(r_faces_m[edge]), float(r_faces_m[edge + 1])
    aspect = math.log(height_m / _width_at(radius_m, r_faces_m, edge))
    rows, (square, flat, flattest) = table_rows(), _ASPECTS
    row, start, end = (0, square, flat) if aspect < flat else (1, flat, flattest)
    share = min(max((aspect - start) / (end - start), 0.0), 1.0)
    at = (radius_m - low) / (high - low) * (len(rows[0]) - 1)
    node = min(int(at), len(rows[0]) - 2)
    first, second = (r[node] + (at - node) * (r[node + 1] - r[node]) for r in rows[row : row + 2])
    return radius_m + (first + share * (second - first)) * height_m


def _width_at(radius_m: float, r_faces_m: FloatArray, cell: int) -> float:
    """Width of the cells at `radius_m` [m], linear between the centres of `cell` and its neighbour."""
    low, high = float(r_faces_m[cell]), float(r_faces_m[cell + 1])
    width, centre = high - low, 0.5 * (low + high)
    if radius_m < centre and cell > 0:
        other = low - float(r_faces_m[cell - 1])
        return width + (other - width) * (centre - radius_m) / (0.5 * (width + other))
    if radius_m > centre and cell + 2 < len(r_faces_m):
        other = float(r_faces_m[cell + 2]) - high
        return width + (other - width) * (radius_m - centre) / (0.5 * (width + other))
    return width
