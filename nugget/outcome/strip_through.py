"""Melt through the strip, and the hole that it can leave (manual, theory-joint).

Liquid that reaches through the strip lies as a disc under the tip, or as a ring between what the tip keeps
solid and the solid further out. A hole in it ends at solid, so the widest round one that fits has the
diameter of the disc or the width of the ring.
"""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray

THROUGH = 0.95
"""Melted share of the thickness from which a skin that is left holds nothing (assumption)."""


def hole_width(molten_share: FloatArray, r_m: FloatArray) -> float:
    """Diameter [m] of the widest round hole that fits where the strip is molten through.

    Parameters
    ----------
    molten_share : ndarray, shape (nr,)
        Melted share of the strip's thickness in each column, linear between centres.
    r_m : ndarray, shape (nr,)
        Centres of the columns.

    Examples
    --------
    >>> r = np.linspace(0.05, 0.95, 10)
    >>> disc, ring = np.where(r < 0.4, 1.0, 0.0), np.where((r > 0.4) & (r < 0.7), 1.0, 0.0)
    >>> round(hole_width(disc, r), 2), round(hole_width(ring, r), 2)
    (0.71, 0.21)
    """
    level = np.concatenate([molten_share[:1], molten_share]) - THROUGH
    if float(level.max()) <= 0.0:
        return 0.0
    r = np.concatenate([[0.0], r_m])
    crossing = np.flatnonzero((level[:-1] > 0.0) != (level[1:] > 0.0))
    a, b = level[crossing], level[crossing + 1]
    edges = r[crossing] + (r[crossing + 1] - r[crossing]) * a / (a - b)
    if level[-1] > 0.0:
        edges = np.append(edges, r[-1])
    if level[0] > 0.0:
        edges = np.concatenate([[-edges[0]], edges])
    return float((edges[1::2] - edges[::2]).max())
