"""State of one contact: coverage, thermal resistance, interface temperatures (manual, theory-interfaces)."""

from __future__ import annotations

import bisect

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import LORENZ_V2_K2


def coverage(radius_m: float, r_faces_m: FloatArray) -> FloatArray:
    """Share of each annular column inside `radius_m`, by area, shape (nr,).

    Continuous in the radius, so that a moving contact edge makes nothing jump.
    """
    share = np.zeros(len(r_faces_m) - 1)
    edge = bisect.bisect_right(r_faces_m, radius_m) - 1
    share[:edge] = 1.0
    if 0 <= edge < len(share):
        inner, outer = float(r_faces_m[edge]), float(r_faces_m[edge + 1])
        share[edge] = (radius_m**2 - inner**2) / (outer**2 - inner**2)
    return share


def by_electrons(electrical_ohm_m2: FloatArray, temperature_K: FloatArray) -> FloatArray:
    """Heat conductance per area [W/(m2 K)] of what passes current: L T / r_c (Wiedemann-Franz)."""
    return np.asarray(LORENZ_V2_K2 * temperature_K / electrical_ohm_m2, dtype=np.float64)


def side_temperatures(
    cells_K: tuple[FloatArray, FloatArray],
    halves_m2K_W: tuple[FloatArray, FloatArray],
    resistance_m2K_W: FloatArray,
    heat_W_m2: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Temperatures of both sides of an interface from the flux balance.

    Each side receives half of the interface heat `s`. With half-cell resistances ``R1, R2``
    and contact resistance ``R``, the flux through the contact is
    ``q = (T1 - T2 + s (R1 - R2) / 2) / (R1 + R + R2)``.

    Parameters
    ----------
    cells_K : pair of ndarray
        Temperatures of the cells on side 1 and side 2 [K].
    halves_m2K_W : pair of ndarray
    resistance_m2K_W : ndarray
    heat_W_m2 : ndarray
        Interface heat s [W/m2].
    """
    (T1, T2), (R1, R2) = cells_K, halves_m2K_W
    half = 0.5 * heat_W_m2
    flux = (T1 - T2 + half * (R1 - R2)) / (R1 + resistance_m2K_W + R2)
    return T1 - (flux - half) * R1, T2 + (flux + half) * R2


def heat_partition(halves_m2K_W: tuple[FloatArray, FloatArray], resistance_m2K_W: FloatArray) -> FloatArray:
    """Share of the interface heat that reaches side 1 (see `side_temperatures`)."""
    R1, R2 = halves_m2K_W
    return np.asarray((R2 + 0.5 * resistance_m2K_W) / (R1 + resistance_m2K_W + R2), dtype=np.float64)
