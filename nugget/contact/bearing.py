"""How a contact carries its force: the seam of radius laws, and the laws that know no rate.

A radius law is asked with a `ContactLoad` and answers with a `Bearing`. What it is told is enough
for an implicit rate equation: the hardness of each column at several rates of deformation, where the
stage starts from and how long it is. What no law may do is let a loaded contact shrink; whoever asks
sees to that (`nugget.weld.interface_model`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact import spot


@dataclass(frozen=True)
class ContactLoad:
    """What a radius law is told about one interface at one instant.

    Attributes
    ----------
    force_N : float
    hardness_Pa : ndarray, shape (n_rates, nr)
        Indentation hardness of the softer side in each column at each rate; 0 where a side is
        missing.
    rates_1_s : ndarray, shape (n_rates,)
        Rates of deformation ``(da/dt) / a`` that the rows of `hardness_Pa` belong to, increasing.
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
    """

    force_N: float
    hardness_Pa: FloatArray
    rates_1_s: FloatArray
    r_faces_m: FloatArray
    cap_m: float
    start_radius_m: float
    start_fraction: FloatArray
    tau_s: float
    least_radius_m: float
    least_fraction: FloatArray


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
class ForceBalance:
    """One spot that carries the force at the hardness of the first row: ``F = 2 pi int H r dr``.

    Attributes
    ----------
    radius_factor : float
        Multiplies the radius, not its cap.
    """

    radius_factor: float = 1.0

    def bearing(self, load: ContactLoad) -> Bearing:
        hardness, cap = load.hardness_Pa[0], load.cap_m / self.radius_factor
        radius, share = spot.supporting_radius(load.force_N, hardness, load.r_faces_m, cap)
        return Bearing(radius * self.radius_factor, share, np.ones_like(hardness))


@dataclass(frozen=True)
class FlatFaces:
    """Flat faces touch over all of their cap; asperities in it carry at the hardness of the first row."""

    def bearing(self, load: ContactLoad) -> Bearing:
        share = spot.real_fraction(load.force_N, load.cap_m, load.hardness_Pa[0], load.least_fraction)
        return Bearing(load.cap_m, 1.0, share)


def nominal_pressure(force_N: float, radius_m: float) -> float:
    """Force over apparent area [Pa]."""
    return force_N / (math.pi * radius_m**2)
