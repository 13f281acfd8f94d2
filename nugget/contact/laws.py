"""Contact laws: electrical resistance per area of an interface inside its contact radius.

The equations: manual, theory-interfaces.
"""

from __future__ import annotations

import inspect
import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any, ClassVar, Protocol, runtime_checkable

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import LORENZ_V2_K2

FLOOR_OHM_M2 = 1e-14
"""Smallest resistance per area [ohm m2] that an interface is given (choice): that of a tenth of a
micrometre of nickel, far below what a prediction could tell from none, and still a finite conductance."""


SPOTS_PER_M2 = 4e8
"""Spots per area under a worn flat: 1 um rough, slope 0.1, pressure 0.05 of the hardness (Cooper,
Mikic and Yovanovich, Int. J. Heat Mass Transfer 12 (1969) 279, from memory)."""


@dataclass(frozen=True)
class ContactConditions:
    """What a contact law is told about the inside of one contact; arrays have one entry per column.

    Attributes
    ----------
    above_K, below_K : ndarray, shape (nr,)
        Temperatures of the two surfaces.
    real_fraction : ndarray, shape (nr,)
        Real over apparent contact area, 0 to 1; 1 in a metallic spot.
    resistivity_sum_ohm_m : ndarray, shape (nr,)
        Sum of the two resistivities.
    pressure_Pa : float
        Force over apparent contact area.
    radius_m : float
        Contact radius.
    rate_1_s : float
        Rate ``(da/dt) / a`` at which it grows.
    time_s, tau_s : float
        Time, and implicit coefficient times the step (infinite when no time passes).
    memory : ndarray or None
        State of a law that remembers; None for one that does not.
    """

    above_K: FloatArray
    below_K: FloatArray
    real_fraction: FloatArray
    resistivity_sum_ohm_m: FloatArray
    pressure_Pa: float = 0.0
    radius_m: float = 0.0
    rate_1_s: float = 0.0
    time_s: float = 0.0
    tau_s: float = math.inf
    memory: FloatArray | None = None

    @property
    def mean_K(self) -> FloatArray:
        """Mean of the two surface temperatures [K]."""
        return 0.5 * (self.above_K + self.below_K)

    @cached_property
    def touching(self) -> FloatArray:
        """`real_fraction`, nowhere quite nothing."""
        return np.minimum(np.maximum(self.real_fraction, 1e-9), 1.0)

    @cached_property
    def metallic(self) -> bool:
        """Whether all of it touches, so that nothing constricts current or heat in the contact."""
        return float(self.touching.min()) == 1.0


@runtime_checkable
class ContactLaw(Protocol):
    """What the solver asks of a contact law.

    Attributes
    ----------
    grows : bool
        True: one spot carries the force and its radius follows the force.
        False: the radius is the face plus a spread and asperities carry inside it.
    """

    @property
    def grows(self) -> bool: ...

    def resistance(self, contact: ContactConditions) -> FloatArray:
        """Resistance per area [ohm m2] inside the contact, one value per radial column."""
        ...


@runtime_checkable
class ConductingLaw(ContactLaw, Protocol):
    """A law that knows how heat passes; with any other it passes as current does (Wiedemann-Franz)."""

    def heat_conductance(self, contact: ContactConditions) -> FloatArray:
        """Heat conductance per area [W/(m2 K)] inside the contact, without that of the gas."""
        ...


@runtime_checkable
class RememberingLaw(ContactLaw, Protocol):
    """A contact law with a state of its own, such as a film that breaks down for good."""

    def first_memory(self, columns: int) -> FloatArray:
        """State at the first touch; any shape that ends in `columns`."""
        ...

    def remember(self, contact: ContactConditions) -> FloatArray:
        """State at the end of an implicit stage of length `tau_s` that starts from `contact.memory`.

        Of ``dm/dt = g(m, contact)`` it is the root of ``m = contact.memory + tau_s g(m, contact)``.
        """
        ...


@dataclass(frozen=True)
class MetallicContact:
    """One metallic spot: the film alone resists, the constriction is in the field already.

    Under a worn flat many small spots share the current, as under flat faces (`AsperityContact`).

    Attributes
    ----------
    film_ohm_m2 : float
    film_W_m2K : float
        Heat that the film passes by its lattice, beside what its electrons carry; none by default,
        which keeps strip and tip hottest.
    """

    grows: ClassVar[bool] = True
    film_ohm_m2: float = 0.0
    film_W_m2K: float = 0.0

    def resistance(self, contact: ContactConditions) -> FloatArray:
        return _many_spots(contact, SPOTS_PER_M2, self.film_ohm_m2)

    def heat_conductance(self, contact: ContactConditions) -> FloatArray:
        return heat_through(contact, SPOTS_PER_M2, self.film_ohm_m2, self.film_W_m2K)


@dataclass(frozen=True)
class AsperityContact:
    """Many small spots under flat faces (a-spot law).

    ``r_c = (rho_1 + rho_2) sqrt(pi) / (4 sqrt(n f)) (1 - sqrt f)^1.5 + film / f`` with `n`
    spots per area and `f` the real over the apparent area: Holm's constriction of n spots in
    parallel with the usual fit for neighbouring spots (Holm, Electric Contacts, 4th ed. 1967;
    (1 - eps)^1.5: Cooper, Mikic and Yovanovich, Int. J. Heat Mass Transfer 12 (1969) 279).
    `film_W_m2K` as in `MetallicContact`.
    """

    grows: ClassVar[bool] = False
    spots_per_m2: float
    film_ohm_m2: float = 0.0
    film_W_m2K: float = 0.0

    def resistance(self, contact: ContactConditions) -> FloatArray:
        return _many_spots(contact, self.spots_per_m2, self.film_ohm_m2)

    def heat_conductance(self, contact: ContactConditions) -> FloatArray:
        return heat_through(contact, self.spots_per_m2, self.film_ohm_m2, self.film_W_m2K)


def _many_spots(contact: ContactConditions, spots_per_m2: float, film_ohm_m2: float) -> FloatArray:
    """Resistance per area of the a-spot law (`AsperityContact`)."""
    found = film_ohm_m2 / contact.touching
    if not contact.metallic:
        found = found + _constriction(contact, spots_per_m2)
    return np.asarray(np.maximum(found, FLOOR_OHM_M2))


def heat_through(
    contact: ContactConditions, spots_per_m2: float, film_ohm_m2: float, film_W_m2K: float
) -> FloatArray:
    """Constrictions pass heat as they pass current; so does their film, and by its lattice beside that."""
    electrons = LORENZ_V2_K2 * contact.mean_K
    resistance = 0.0 if contact.metallic else _constriction(contact, spots_per_m2) / electrons
    if film_ohm_m2 > 0.0:
        resistance = resistance + 1.0 / (contact.touching * (electrons / film_ohm_m2 + film_W_m2K))
    return np.asarray(1.0 / np.maximum(resistance, FLOOR_OHM_M2 / electrons))


def _constriction(contact: ContactConditions, spots_per_m2: float) -> FloatArray:
    root = np.sqrt(contact.touching)
    one = contact.resistivity_sum_ohm_m * (math.sqrt(math.pi / spots_per_m2) / 4.0) / root
    return np.asarray(one * (1.0 - root) ** 1.5)


@dataclass(frozen=True)
class TableContact:
    """A table of resistance per area [ohm m2] against temperature [K], held past its ends."""

    temperature_K: FloatArray
    resistance_ohm_m2: FloatArray
    grows: bool = True

    def resistance(self, contact: ContactConditions) -> FloatArray:
        found = np.interp(contact.mean_K, self.temperature_K, self.resistance_ohm_m2)
        return np.maximum(found, FLOOR_OHM_M2)


@dataclass(frozen=True)
class MeanTemperatureLaw:
    """A law of the older form ``resistance(temperature_K, fraction, resistivity_sum_ohm_m)``."""

    law: Any

    @property
    def grows(self) -> bool:
        return bool(self.law.grows)

    def resistance(self, contact: ContactConditions) -> FloatArray:
        found = self.law.resistance(contact.mean_K, contact.real_fraction, contact.resistivity_sum_ohm_m)
        return np.asarray(found, dtype=np.float64)


def understood(law: ContactLaw) -> ContactLaw:
    """The law itself, or a cover for one of the older form with three arguments."""
    asked = len(inspect.signature(law.resistance).parameters)
    return MeanTemperatureLaw(law) if asked == 3 else law
