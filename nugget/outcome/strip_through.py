"""Melt through the strip under the tip (manual, theory-joint).

Beside a tip the strip may be molten to its free surface. Where the tip moves over it the strip freezes
from the tip on: at once in its first row, through its thickness `t` in about ``t^2 / (pi^2 alpha)``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.spot import coverage
from nugget.outcome.melt import equal_diameter

THROUGH = 0.999
"""A layer whose melted share reaches this is liquid to its far face."""
NEARLY = 0.9
"""From here on to `THROUGH` a ring counts more and more, so that no rounding decides about all of it."""
FREEZING_S = 1e-4
"""For so long what the tip has covered counts as it was before: 0.12 mm of hot nickel, 1.5e-5 m2/s, freeze
through in this time, and few steps are longer (assumption). What is liquid just when a step ends is chance:
in strip of 0.1 mm at 16 V it was 0.3 to 2.1 thicknesses wide from one duration to the next, 2 % longer."""


@dataclass(frozen=True)
class Cover:
    """The tip on the strip at one instant.

    Attributes
    ----------
    time_s, radius_m : float
        Radius of the tip's contact.
    molten_share : ndarray, shape (nr,)
        Melted share of the strip's thickness in each column.
    """

    time_s: float
    radius_m: float
    molten_share: FloatArray


def through_diameter(covers: Sequence[Cover], r_m: FloatArray, r_faces_m: FloatArray) -> float:
    """Diameter [m] of the circle with the area under the tip on which the strip is molten through.

    Parameters
    ----------
    covers : sequence of Cover
        Up to the instant that is asked for, the last one.
    r_m, r_faces_m : ndarray, shape (nr,), (nr + 1,)
        Centres and faces of the columns.
    """
    now = covers[-1]
    level = now.molten_share - THROUGH
    since_s = now.time_s - FREEZING_S
    later = sum(1 for _ in takewhile(lambda cover: cover.time_s > since_s, reversed(covers)))
    recent = covers[-later - 1 :]  # and the one before
    inner_m = float(np.interp(since_s, [c.time_s for c in recent], [c.radius_m for c in recent]))
    highest = np.max([cover.molten_share for cover in recent], axis=0)
    counts = np.clip((highest - NEARLY) / (THROUGH - NEARLY), 0.0, 1.0)
    covered = coverage(now.radius_m, r_faces_m) - coverage(inner_m, r_faces_m)
    # A tip that is lifted covers less than before: what it leaves does not count against what was under it.
    ring = float((counts * covered * np.diff((2.0 * r_faces_m) ** 2)).sum())
    older = equal_diameter(level, r_m, inner_m)
    return max(float(np.sqrt(older**2 + max(ring, 0.0))), equal_diameter(level, r_m, now.radius_m))
