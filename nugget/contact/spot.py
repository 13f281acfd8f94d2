"""State of one contact: coverage, thermal resistance, interface temperatures (manual, theory-interfaces)."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import LORENZ_V2_K2


def coverage(radius_m: float, r_faces_m: FloatArray) -> FloatArray:
    """Share of each annular column inside `radius_m`, by area, shape (nr,).

    Continuous in the radius, so that a moving contact edge makes nothing jump.
    """
    square = r_faces_m**2
    share = (radius_m**2 - square[:-1]) / (square[1:] - square[:-1])
    return np.asarray(np.minimum(np.maximum(share, 0.0), 1.0), dtype=np.float64)


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
