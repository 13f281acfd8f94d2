"""Contact laws: electrical resistance per area of an interface inside its contact radius."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Protocol, runtime_checkable

import numpy as np

from nugget.arrays import FloatArray

FLOOR_OHM_M2 = 1e-14
"""Smallest resistance per area [ohm m2] that an interface is given (contract, section 3)."""


@runtime_checkable
class ContactLaw(Protocol):
    """What the solver asks of a contact law.

    Attributes
    ----------
    grows : bool
        True: one spot carries the force and its radius follows the force balance.
        False: the radius is the face plus a spread and asperities carry inside it.
    """

    @property
    def grows(self) -> bool: ...

    def resistance(
        self, temperature_K: FloatArray, fraction: FloatArray, resistivity_sum_ohm_m: FloatArray
    ) -> FloatArray:
        """Resistance per area [ohm m2] inside the contact, one value per radial column.

        Parameters
        ----------
        temperature_K : ndarray, shape (nr,)
            Mean of the two interface temperatures [K].
        fraction : ndarray, shape (nr,)
            Real over apparent contact area, 0 to 1; 1 when `grows`.
        resistivity_sum_ohm_m : ndarray, shape (nr,)
            Sum of the two resistivities [ohm m].
        """
        ...


@dataclass(frozen=True)
class MetallicContact:
    """One metallic spot: the film alone resists, the constriction is in the field already."""

    grows: ClassVar[bool] = True
    film_ohm_m2: float = 0.0

    def resistance(
        self, temperature_K: FloatArray, fraction: FloatArray, resistivity_sum_ohm_m: FloatArray
    ) -> FloatArray:
        return np.full_like(temperature_K, max(self.film_ohm_m2, FLOOR_OHM_M2))


@dataclass(frozen=True)
class AsperityContact:
    """Many small spots under flat faces (a-spot law, contract section 3).

    ``r_c = (rho_1 + rho_2) sqrt(pi) / (4 sqrt(n f)) (1 - sqrt f)^1.5 + film / f`` with `n`
    spots per area and `f` the real over the apparent area: Holm's constriction of n spots in
    parallel with the usual fit for neighbouring spots (Holm, Electric Contacts, 4th ed. 1967;
    (1 - eps)^1.5: Cooper, Mikic and Yovanovich, Int. J. Heat Mass Transfer 12 (1969) 279).
    """

    grows: ClassVar[bool] = False
    spots_per_m2: float
    film_ohm_m2: float = 0.0

    def resistance(
        self, temperature_K: FloatArray, fraction: FloatArray, resistivity_sum_ohm_m: FloatArray
    ) -> FloatArray:
        f = np.clip(fraction, 1e-9, 1.0)
        constriction = resistivity_sum_ohm_m * math.sqrt(math.pi) / (4.0 * np.sqrt(self.spots_per_m2 * f))
        return np.maximum(constriction * (1.0 - np.sqrt(f)) ** 1.5 + self.film_ohm_m2 / f, FLOOR_OHM_M2)


@dataclass(frozen=True)
class TableContact:
    """A table of resistance per area [ohm m2] against temperature [K], held past its ends."""

    temperature_K: FloatArray
    resistance_ohm_m2: FloatArray
    grows: bool = True

    def resistance(
        self, temperature_K: FloatArray, fraction: FloatArray, resistivity_sum_ohm_m: FloatArray
    ) -> FloatArray:
        found = np.interp(temperature_K, self.temperature_K, self.resistance_ohm_m2)
        return np.maximum(found, FLOOR_OHM_M2)
