"""Melt through the strip, and the hole that it can leave (manual, theory-joint).

Liquid that reaches through the strip lies as a disc under the tip, or as a ring between what the tip keeps
solid and the solid further out. A hole in it ends at solid, so the widest round one that fits has the
diameter of the disc or the width of the ring.
"""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray

NEARLY, THROUGH = 0.95, 0.999
"""Melted share of the thickness from which a column counts, and from which it counts in full. A thicker
skin than of the first, 7 um of 0.15 mm strip, holds (assumption): a cold tip keeps some 20 um solid."""


def hole_width(molten_share: FloatArray, r_faces_m: FloatArray) -> float:
    """Diameter [m] of the widest round hole that fits where the strip is molten through.

    Continuous in the shares but where two rings meet, or one closes to a disc.

    Parameters
    ----------
    molten_share : ndarray, shape (nr,)
        Melted share of the strip's thickness in each column.
    r_faces_m : ndarray, shape (nr + 1,)
        Faces of the columns.

    Examples
    --------
    >>> faces = np.linspace(0.0, 1.0, 11)
    >>> disc, ring = np.ones(10), np.zeros(10)
    >>> disc[4:], ring[4:7] = 0.0, 1.0
    >>> round(hole_width(disc, faces), 2), round(hole_width(ring, faces), 2)
    (0.8, 0.3)
    """
    if float(molten_share.max()) <= NEARLY:
        return 0.0
    counts = np.minimum(np.maximum((molten_share - NEARLY) / (THROUGH - NEARLY), 0.0), 1.0)
    widths = counts * np.diff(r_faces_m)
    ends = np.flatnonzero(np.diff(np.concatenate([[False], counts > 0.0, [False]])))
    rings = [float(widths[start:end].sum()) for start, end in zip(ends[::2], ends[1::2], strict=True)]
    if ends[0] == 0:
        rings[0] *= 2.0
    return max(rings)
