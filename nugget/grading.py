"""Graded one-dimensional grids with faces at given places."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np

from nugget.arrays import FloatArray

_SAMPLES = 2001


def graded_faces(
    marks: Sequence[float], spacing: Callable[[FloatArray], FloatArray], refinement: float = 1.0
) -> FloatArray:
    """Return face positions [m] that contain every mark and keep below a wanted spacing.

    Parameters
    ----------
    marks : sequence of float
        Positions that must be faces, ascending [m].
    spacing : callable
        Wanted cell size [m] at a position [m]; vectorised, positive.
    refinement : float
        Divides the cell size.

    Returns
    -------
    ndarray
        Between two marks the cells share the integral of 1 / spacing evenly, so that
        neighbours differ smoothly and refining keeps the shape of the grid.
    """
    faces = [np.array([marks[0]])]
    for low, high in pairwise(marks):
        x = np.linspace(low, high, _SAMPLES)
        density = 1.0 / spacing(x)
        count = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(x))])
        n = max(1, int(np.ceil(refinement * count[-1] - 1e-9)))
        faces.append(np.interp(np.linspace(0.0, count[-1], n + 1)[1:], count, x))
        faces[-1][-1] = high
    return np.concatenate(faces)
