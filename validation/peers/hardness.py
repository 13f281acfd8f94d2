"""Strength at a rate of strain written anew (theory: contact), from the constants in the materials' files."""

from __future__ import annotations

import math

import numpy as np

from nugget.arrays import FloatArray
from nugget.materials.curve import Curve
from nugget.materials.material import Material
from nugget.materials.strength import CreepLaw, SinhLaw, StressRows

GAS, BOLTZMANN = 8.314462618, 1.380649e-23
SLOWEST_1_S, FASTEST_1_S = 1e-3, 1e5
"""Rates beyond which strength is held."""
ROOT_3 = math.sqrt(3.0)


def hardness(
    metal: Material, T: FloatArray, rate_1_s: FloatArray, melt_strength_factor: float = 1.0
) -> FloatArray:
    """Indentation hardness [Pa] of solid or molten metal at its surface, one value per point.

    Melt that solid encloses carries what that solid does at its solidus under slow load, times a
    factor, faster than 100 1/s times the 0.18th power of the rate over it, and no more than the solid
    does at the rate; it takes over evenly from solidus to liquidus, at least 10 K.
    """
    if metal.hardness is None:
        return np.zeros_like(T)
    rate = np.clip(rate_1_s, SLOWEST_1_S, FASTEST_1_S)
    if metal.solidus_K is None or metal.liquidus_K is None:
        return _solid(metal, T, rate)
    fast = _solid(metal, np.minimum(T, metal.solidus_K), rate)
    slow = _solid(metal, np.minimum(T, metal.solidus_K), np.full_like(T, SLOWEST_1_S))
    melt = np.clip((T - metal.solidus_K) / max(10.0, metal.liquidus_K - metal.solidus_K), 0.0, 1.0)
    enclosed = melt_strength_factor * slow * np.where(rate > 100.0, (rate / 100.0) ** 0.18, 1.0)
    return (1.0 - melt) * fast + melt * np.minimum(fast, enclosed)


def _solid(metal: Material, T: FloatArray, rate: FloatArray) -> FloatArray:
    """The smaller of a cold branch, which creep has no time to soften, and three times the hot flow
    stress; never less than the slow table."""
    given, table = metal.strength, metal.hardness
    assert table is not None
    slow = np.interp(T, table.temperature_K, table.value)
    gain = (rate / given.slow_rate_1_s) ** given.exponent
    melting = metal.melting_K
    if melting is None or (given.hot is None and not given.estimated):
        return np.asarray(slow * gain)
    # Up to one per second the cold branch loses, evenly in ln rate, the creep that the table holds.
    way = np.log(rate / given.slow_rate_1_s) / math.log(1.0 / given.slow_rate_1_s)
    stiff = np.maximum(slow, _modulus_alone(table, melting, T))
    cold = gain * np.exp(np.log(slow) + np.clip(way, 0.0, 1.0) * np.log(stiff / slow))
    if given.hot is not None:
        hot = 3.0 * _flow_stress(given.hot, T, rate)
    else:
        exponent = np.interp(T / melting, (0.4, 0.6, 1.0), (0.01, 0.12, 0.18))
        hot = slow * (rate / given.slow_rate_1_s) ** exponent
    return np.asarray(np.maximum(np.minimum(cold, hot), slow * np.minimum(gain, 1.0)))


def _modulus_alone(table: Curve, melting_K: float, T: FloatArray) -> FloatArray:
    """Hardness that falls above 0.4 of the melting point only as the shear modulus does."""
    knee = 0.4 * melting_K
    held = np.interp(np.minimum(T, knee), table.temperature_K, table.value)
    stiffness = 1.0 - 0.5 * (np.maximum(T, knee) - 300.0) / melting_K
    return np.asarray(held * stiffness / (1.0 - 0.5 * (knee - 300.0) / melting_K))


def _flow_stress(law: CreepLaw | SinhLaw | StressRows, T: FloatArray, rate: FloatArray) -> FloatArray:
    if isinstance(law, CreepLaw):
        G = law.modulus_Pa * (1.0 - law.modulus_fall * (T - 300.0) / law.melting_K)
        D = law.diffusivity_m2_s * np.exp(-law.activation_J_mol / (GAS * T))
        c = law.factor * D * G * law.burgers_m / (BOLTZMANN * T)
        shear = np.arcsinh(law.breakdown * (ROOT_3 * rate / c) ** (1.0 / law.exponent)) / law.breakdown
        return np.asarray(ROOT_3 * G * shear)
    if isinstance(law, SinhLaw):
        Z = rate * np.exp(law.activation_J_mol / (GAS * T))
        return np.asarray(np.arcsinh((Z / law.factor_1_s) ** (1.0 / law.exponent)) / law.inverse_stress_1_Pa)
    return np.exp(_ln_of_rows(law, T, np.log(rate)))


def _ln_of_rows(law: StressRows, T: FloatArray, x: FloatArray) -> FloatArray:
    """Measured rows: straight in temperature, and between rates, on a logarithmic scale."""
    rows = np.maximum.accumulate([_row(curve, T) for curve in law.stresses], axis=0)
    known = np.log(law.rates_1_s)
    inside = np.clip(x, known[0], known[-1])
    found, slopes = rows[0], [np.zeros_like(T)] * 2
    if len(known) > 1:
        rise = np.diff(rows, axis=0) / np.diff(known)[:, None]
        left = np.clip(np.searchsorted(known, inside, side="right") - 1, 0, len(known) - 2)
        point = np.arange(len(T))
        found = rows[left, point] + rise[left, point] * (inside - known[left])
        slopes = [rise[0], rise[-1]]
    if law.exponent is not None:
        slopes = [np.interp(T, law.exponent.temperature_K, law.exponent.value)] * 2
    slower, faster = np.minimum(x - known[0], 0.0), np.maximum(x - known[-1], 0.0)
    return np.asarray(found + slopes[0] * slower + slopes[1] * faster)


def _row(curve: Curve, T: FloatArray) -> FloatArray:
    """Logarithm of one row; past its ends it goes on as it falls there and never rises."""
    t, ln = curve.temperature_K, np.log(curve.value)
    found = np.interp(T, t, ln)
    for end, next_to_it, beyond in ((0, 1, t[0] > T), (-1, -2, t[-1] < T)):
        if len(t) > 1:
            slope = min(0.0, (ln[end] - ln[next_to_it]) / (t[end] - t[next_to_it]))
            found = np.where(beyond, ln[end] + slope * (T - t[end]), found)
    return np.asarray(found)
