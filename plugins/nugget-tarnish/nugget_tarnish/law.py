"""Contact law for strip that has lain in a damp shed: a film that breaks down with heat."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.laws import ContactConditions

ROOM_K = 293.15
FLOOR_OHM_M2 = 1e-14


@dataclass(frozen=True)
class TarnishContact:
    """One metallic spot under a film whose resistance fades as it heats and cracks.

    ``r_c = film_ohm_m2 exp(-(T - 293.15 K) / fading_K)``, not below 1e-14 ohm m2. The shape is a
    choice for this example, not a measurement: a film conducts better the hotter it is and is gone
    long before the metal melts.

    Attributes
    ----------
    film_ohm_m2 : float
        Resistance per area of the film at room temperature [ohm m2].
    fading_K : float
        Rise in temperature [K] over which it falls to 1/e.
    """

    grows: ClassVar[bool] = True
    film_ohm_m2: float = 2e-11
    fading_K: float = 150.0

    def __post_init__(self) -> None:
        if self.film_ohm_m2 < 0.0 or self.fading_K <= 0.0:
            raise ValueError("film_ohm_m2 must not be negative and fading_K must be above zero")

    def resistance(self, contact: ContactConditions) -> FloatArray:
        """Return the resistance per area [ohm m2] of each radial column."""
        warmer = np.maximum(contact.mean_K - ROOM_K, 0.0)
        return np.maximum(self.film_ohm_m2 * np.exp(-warmer / self.fading_K), FLOOR_OHM_M2)
