"""Running integrals of one march, kept with the same quadrature as the march itself."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from nugget.arrays import FloatArray

RATES = ("load", "holder", "air", "outside", "drawn", "action", "charge", "returned")
"""What is integrated: power into the modelled load (the half, when mirrored), heat to holder and
air, heat in the sheet behind the grounds, power of the ideal source [W]; current squared [A2],
current [A] and power in the whole load that the source sees [W]."""


@dataclass(frozen=True)
class EnergyBalance:
    """Integrals over time so far.

    Attributes
    ----------
    sums : ndarray, shape (len(RATES),)
        Joules, coulombs and A2 s in the order of `RATES`.
    clamp_J : float
        Inductive energy that went to the clamp at turn-off.
    worst_J : float
        Largest energy imbalance met so far [J].
    """

    sums: FloatArray = field(default_factory=lambda: np.zeros(len(RATES)))
    clamp_J: float = 0.0
    worst_J: float = 0.0

    def __getitem__(self, name: str) -> float:
        return float(self.sums[RATES.index(name)])

    def add(
        self, weights_s: tuple[float, ...], rates: tuple[FloatArray, ...], stored_J: float
    ) -> EnergyBalance:
        """Add one step; `stored_J` is the gain of all enthalpy since the start."""
        sums = self.sums + sum(w * r for w, r in zip(weights_s, rates, strict=True))
        load, holder, air, outside = sums[:4]
        worst = max(self.worst_J, abs(load - stored_J - holder - air - outside))
        return replace(self, sums=sums, worst_J=float(worst))

    def clamp(self, energy_J: float) -> EnergyBalance:
        """Book inductive energy that the clamp took."""
        return replace(self, clamp_J=self.clamp_J + energy_J)
