"""Size and state of one contact: coverage, force balance, interface temperatures."""

from __future__ import annotations

import math

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


def supporting_radius(
    force_N: float, hardness_Pa: FloatArray, r_faces_m: FloatArray, cap_m: float
) -> tuple[float, float]:
    """Solve ``F = 2 pi * integral of H(r) r dr`` over 0..a for `a`.

    Parameters
    ----------
    force_N : float
    hardness_Pa : ndarray, shape (nr,)
        Softer side of the interface in each column; 0 where it is liquid.
    r_faces_m : ndarray, shape (nr + 1,)
    cap_m : float
        Largest radius.

    Returns
    -------
    radius_m : float
        At most `cap_m`.
    supported : float
        Share of the force that the contact carries at that radius: 1 below the cap.
    """
    square = r_faces_m**2
    carried = np.concatenate([[0.0], np.cumsum(math.pi * hardness_Pa * (square[1:] - square[:-1]))])
    at_cap = float(np.interp(cap_m**2, square, carried))
    if at_cap <= force_N:
        return cap_m, at_cap / force_N
    return math.sqrt(float(np.interp(force_N, carried, square))), 1.0


def real_fraction(force_N: float, radius_m: float, hardness_Pa: FloatArray, before: FloatArray) -> FloatArray:
    """Real over apparent area under flat faces, ``min(1, p / H)``; it never decreases."""
    pressure = force_N / (math.pi * radius_m**2)
    share = np.minimum(1.0, pressure / np.maximum(hardness_Pa, 1e-3 * pressure))
    return np.asarray(np.maximum(before, share), dtype=np.float64)


def thermal_resistance(
    electrical_ohm_m2: FloatArray, temperature_K: FloatArray, gap_W_m2K: float
) -> FloatArray:
    """Thermal resistance per area inside the contact [m2 K/W]: 1 / (L T / r_c + h_gap)."""
    metal = LORENZ_V2_K2 * temperature_K / electrical_ohm_m2
    return np.asarray(1.0 / (metal + gap_W_m2K), dtype=np.float64)


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
