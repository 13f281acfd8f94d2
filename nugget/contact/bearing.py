"""How a contact carries its force: the seam of radius laws, and our own two.

A radius law is asked with a `ContactLoad` and answers with a `Bearing`. What it is told is enough
for an implicit rate equation: the hardness of each column at several rates of deformation, where the
stage starts from and how long it is. What no law may do is let a loaded contact shrink; whoever asks
sees to that (`nugget.weld.interface_model`).

The equations: manual, theory-contact.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.growth import HardnessRows, grown_fraction, grown_radius, held_share

FOR_GOOD_S = 1e6
"""Time after which a contact at rest has stopped growing, at any rate in the tables."""


@dataclass(frozen=True)
class ContactLoad:
    """What a radius law is told about one interface at one instant.

    Attributes
    ----------
    force_N : float
    hardness : HardnessRows
        Indentation hardness of the softer side in each column [Pa], rows at each rate; 0 where a side is
        missing. `hardness_Pa` has all of them.
    rates_1_s : ndarray, shape (n_rates,)
        Rates of deformation ``(da/dt) / a`` that the rows of `hardness` belong to, increasing.
    r_faces_m : ndarray, shape (nr + 1,)
    cap_m : float
        Largest contact radius.
    start_radius_m, start_fraction : float, ndarray of shape (nr,)
        Radius and real over apparent area that the implicit stage starts from.
    tau_s : float
        Implicit coefficient times the step: ``da/dt = (a - start_radius_m) / tau_s``. Infinite when
        no time passes, as at the first touch.
    least_radius_m, least_fraction : float, ndarray of shape (nr,)
        What was reached at the start of the step; 0 before the first touch.
    likely_radius_m : float
        Radius that is tried at present, near which the answer may be; 0 where there is none.
    """

    force_N: float
    hardness: HardnessRows
    rates_1_s: FloatArray
    r_faces_m: FloatArray
    cap_m: float
    start_radius_m: float
    start_fraction: FloatArray
    tau_s: float
    least_radius_m: float
    least_fraction: FloatArray
    likely_radius_m: float = 0.0

    @property
    def hardness_Pa(self) -> FloatArray:
        """Hardness in each column at each rate, shape (n_rates, nr)."""
        return self.hardness[:]


@dataclass(frozen=True)
class Bearing:
    """Answer of a radius law.

    Attributes
    ----------
    radius_m : float
        Contact radius that carries the force.
    load_share : float
        Share of the force that is carried at that radius.
    real_fraction : ndarray, shape (nr,)
        Real over apparent area inside it.
    """

    radius_m: float
    load_share: float
    real_fraction: FloatArray


@runtime_checkable
class RadiusLaw(Protocol):
    """How large a contact is under its load."""

    def bearing(self, load: ContactLoad) -> Bearing:
        """Answer one load; the same load always gets the same answer."""
        ...


@dataclass(frozen=True)
class CreepingSpot:
    """One spot that grows as hot metal creeps: the rate equation of `nugget.contact.growth`.

    Before the first touch it is where the force is carried for good, at the slowest rate; while no
    time passes it stays as it is.

    Attributes
    ----------
    worn_flat_m : float
        Diameter of a flat under which many small spots carry, instead of one.
    """

    worn_flat_m: float = 0.0

    def bearing(self, load: ContactLoad) -> Bearing:
        touches = load.least_radius_m > 0.0
        at_rates = load.hardness, load.rates_1_s, load.r_faces_m
        if touches and math.isinf(load.tau_s):
            radius, share = max(load.least_radius_m, load.start_radius_m), 1.0
            if radius >= load.cap_m:
                share = held_share(load.force_N, *at_rates, load.cap_m)
        else:
            least = load.least_radius_m if touches else load.start_radius_m
            stage = load.start_radius_m, load.tau_s
            radius, share = grown_radius(
                load.force_N, *at_rates, stage, (least, load.cap_m), load.likely_radius_m
            )
        return Bearing(radius, share, self._fraction(load, radius))

    def _fraction(self, load: ContactLoad, radius_m: float) -> FloatArray:
        """Real over apparent area: small spots inside the flat, everything beyond it.

        Before the contact has passed the flat nothing real lies beyond it: a cell that its edge cuts, and the
        next one that the grid's widened edge reaches, are as the outermost inside. Counted as one real spot,
        a sliver of 1 % of the face would carry as much as all its small spots.
        """
        faces, flat = load.r_faces_m, 0.5 * self.worn_flat_m
        inside = 0 if flat == 0.0 else int(np.count_nonzero(0.5 * (faces[1:] + faces[:-1]) < flat))
        if inside == 0:
            return np.ones(len(faces) - 1)
        fraction = _asperities(load, flat)
        edge = fraction[inside - 1]
        # Over the width of a cell: at once, and a contact that passes the flat would jump.
        passed = min(max((radius_m - flat) / (faces[inside] - faces[inside - 1]), 0.0), 1.0)
        fraction[inside:] = edge + passed * (1.0 - edge)
        return fraction


@dataclass(frozen=True)
class CreepingAsperities:
    """Flat faces touch over all of their cap; the asperities in it grow as hot metal creeps."""

    def bearing(self, load: ContactLoad) -> Bearing:
        return Bearing(load.cap_m, 1.0, _asperities(load, load.cap_m))


def _asperities(load: ContactLoad, radius_m: float) -> FloatArray:
    """Real over apparent area of asperities that share the force inside a radius."""
    stage = load.start_fraction, load.tau_s
    if math.isinf(load.tau_s):
        if load.least_fraction.any():
            return np.maximum(load.least_fraction, load.start_fraction)
        stage = load.start_fraction, FOR_GOOD_S
    pressure = nominal_pressure(load.force_N, radius_m)
    return grown_fraction(pressure, load.hardness_Pa, load.rates_1_s, stage, load.least_fraction)


def nominal_pressure(force_N: float, radius_m: float) -> float:
    """Force over apparent area [Pa]."""
    return force_N / (math.pi * radius_m**2)
