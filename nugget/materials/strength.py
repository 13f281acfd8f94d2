"""Indentation hardness at temperature and rate of strain: what carries the force of a tip.

The equations: manual, theory-contact.

A contact that grows within milliseconds strains its metal at 50 to 3000 1/s, where hot metal is
several times harder than under the slow load of a hardness test. Hardness is the smaller of a
cold branch, which work hardening sets and the rate hardly moves, and of three times the hot flow
stress (Tabor, The Hardness of Metals, 1951), which creep sets and which grows with the rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.constants import BOLTZMANN_J_K, GAS_CONSTANT_J_MOL_K
from nugget.materials.curve import Curve

CONSTRAINT = 3.0
"""Hardness over flow stress (Tabor, The Hardness of Metals, 1951)."""
STRAIN = 0.08
"""Strain that stands for an indentation (Tabor 1951): flow stress is wanted there."""
SHEAR = 3.0**0.5
"""Uniaxial over shear stress, and shear over uniaxial rate (von Mises)."""
COLD_EXPONENT = 0.01
"""Exponent of the rate in the cold branch: about 0.01 for metals below 0.4 of their melting point
(Johnson and Cook, Proc. 7th Int. Symp. Ballistics, 1983: 0.006 to 0.025; from memory)."""
SLOW_1_S = 1e-3
"""Rate of strain of a hardness table unless it says otherwise: that of a tensile test (assumption)."""
FAST_1_S = 1.0
"""Rate of strain from which creep no longer softens the cold branch (assumption); between the rate of
the table and this one it gives way evenly, so that at its own rate the table holds."""
COLD_END = 0.4
"""Share of the melting point where the cold branch ends, above which slow load lets a metal creep."""
MODULUS_FALL = 0.5
"""Fall of the shear modulus from 300 K to melting over its value at 300 K: 0.38 to 0.9, mostly near 0.5
(Frost and Ashby, Deformation-Mechanism Maps, 1982, tables 4.1 and 5.1; from memory)."""
_HOMOLOGOUS = np.array([0.4, 0.6, 1.0])
_EXPONENTS = np.array([COLD_EXPONENT, 0.12, 0.18])


def estimated_exponent(homologous: npt.ArrayLike) -> FloatArray:
    """Exponent of the rate in hot flow stress at a share `homologous` of the melting point.

    0.01 up to 0.4, then rising to 0.12 at 0.6 and 0.18 at 1 (assumption). With the slow hardness of
    nickel and copper it meets their laws of creep within a third from 10 to 1000 1/s and 0.6 to 0.9 of
    melting, that of can steel within a factor of 1.5; other metals are off by factors of 0.3 to 2.5.
    """
    wanted = np.asarray(homologous, dtype=np.float64)
    return np.asarray(np.interp(wanted, _HOMOLOGOUS, _EXPONENTS), dtype=np.float64)


@dataclass(frozen=True)
class CreepLaw:
    """Power-law creep with breakdown at high stress.

    ``s/G = asinh[a (g/c)^(1/n)] / a`` with ``c = A D G b / (k T)``, ``D = D0 exp(-Q/RT)`` and
    ``G = G300 [1 - f (T - 300) / Tm]``; s and g are shear stress and rate. Diffusion along
    dislocation cores is left out: it softens below half the melting point, where at the rates of a
    weld the cold branch rules (Frost and Ashby, Deformation-Mechanism Maps, 1982, eqs. 2.21, 2.26).

    Attributes
    ----------
    factor, exponent : float
        A and n.
    diffusivity_m2_s, activation_J_mol : float
        D0 and Q of diffusion through the lattice.
    modulus_Pa, modulus_fall, melting_K : float
        G300, f and Tm.
    burgers_m, breakdown : float
        b and a.
    """

    factor: float
    exponent: float
    diffusivity_m2_s: float
    activation_J_mol: float
    modulus_Pa: float
    modulus_fall: float
    melting_K: float
    burgers_m: float
    breakdown: float

    def stress_Pa(self, temperature_K: FloatArray, rate_1_s: FloatArray) -> FloatArray:
        """Uniaxial flow stress [Pa]."""
        modulus = self.modulus_Pa * (1.0 - self.modulus_fall * (temperature_K - 300.0) / self.melting_K)
        diffusivity = self.diffusivity_m2_s * np.exp(
            -self.activation_J_mol / (GAS_CONSTANT_J_MOL_K * temperature_K)
        )
        flow = self.factor * diffusivity * modulus * self.burgers_m / (BOLTZMANN_J_K * temperature_K)
        reach = self.breakdown * (SHEAR * rate_1_s / flow) ** (1.0 / self.exponent)
        return np.asarray(SHEAR * modulus * np.arcsinh(reach) / self.breakdown, dtype=np.float64)


@dataclass(frozen=True)
class SinhLaw:
    """Hot working law ``rate = A sinh(a s)^n exp(-Q/RT)`` (Sellars and McTegart, Acta Met. 14 (1966) 1136).

    Attributes
    ----------
    factor_1_s, exponent : float
        A [1/s] and n.
    activation_J_mol : float
        Q.
    inverse_stress_1_Pa : float
        a [1/Pa].
    """

    factor_1_s: float
    exponent: float
    activation_J_mol: float
    inverse_stress_1_Pa: float

    def stress_Pa(self, temperature_K: FloatArray, rate_1_s: FloatArray) -> FloatArray:
        """Uniaxial flow stress [Pa]."""
        ln_z = np.log(rate_1_s / self.factor_1_s) + self.activation_J_mol / (
            GAS_CONSTANT_J_MOL_K * temperature_K
        )
        return np.asarray(np.arcsinh(np.exp(ln_z / self.exponent)) / self.inverse_stress_1_Pa)


@dataclass(frozen=True)
class StressRows:
    """Measured flow stress at one or more rates.

    The logarithm of the stress is linear in temperature between rows and goes on past both ends
    with the slope there, never rising; it is linear in the logarithm of the rate. Outside the
    measured rates it follows `exponent`, or the slope of the two nearest rates.

    Attributes
    ----------
    rates_1_s : tuple of float
        Rates of strain [1/s], rising.
    stresses : tuple of Curve
        Flow stress [Pa] at each rate.
    exponent : Curve or None
        Exponent of the rate against temperature; None only with two rates or more.
    """

    rates_1_s: tuple[float, ...]
    stresses: tuple[Curve, ...]
    exponent: Curve | None

    def stress_Pa(self, temperature_K: FloatArray, rate_1_s: FloatArray) -> FloatArray:
        """Uniaxial flow stress [Pa]."""
        temperature, ln_rate = np.broadcast_arrays(temperature_K, np.log(rate_1_s))
        ln_rates = np.log(self.rates_1_s)
        ln_stress = np.array([_ln_along(curve, temperature) for curve in self.stresses])
        # A row that crosses another would make stress fall with the rate.
        ln_stress = np.maximum.accumulate(ln_stress, axis=0)
        slopes = np.diff(ln_stress, axis=0) / np.diff(ln_rates)[(...,) + (None,) * temperature.ndim]
        below, above = (slopes[0], slopes[-1]) if self.exponent is None else (self.exponent(temperature),) * 2
        found = ln_stress[0] + below * np.minimum(ln_rate - ln_rates[0], 0.0)
        for start, end, slope in zip(ln_rates[:-1], ln_rates[1:], slopes, strict=True):
            found = found + slope * np.clip(ln_rate - start, 0.0, end - start)
        return np.asarray(np.exp(found + above * np.maximum(ln_rate - ln_rates[-1], 0.0)))


HotLaw = CreepLaw | SinhLaw | StressRows
"""Flow stress of hot metal near 8 % strain. Shapes broadcast; it grows with the rate."""


@dataclass(frozen=True)
class Strength:
    """How hardness depends on the rate.

    Attributes
    ----------
    exponent : float
        Exponent of the rate in the cold branch.
    slow_rate_1_s : float
        Rate of strain at which the hardness table holds.
    hot : HotLaw or None
        Hot flow stress.
    estimated : bool
        Without hot flow stress: whether the slow table is raised by `estimated_exponent` instead. With
        neither, and a zero exponent, hardness is the table at every rate.
    """

    exponent: float = 0.0
    slow_rate_1_s: float = SLOW_1_S
    hot: HotLaw | None = None
    estimated: bool = False

    def hardness_Pa(
        self, slow: Curve, melting_K: float | None, temperature_K: npt.ArrayLike, rate_1_s: npt.ArrayLike
    ) -> FloatArray:
        """Indentation hardness [Pa] of solid at `temperature_K` [K] and `rate_1_s` [1/s].

        Parameters
        ----------
        slow : Curve
            Hardness under slow load [Pa].
        melting_K : float or None
            Melting point [K].
        temperature_K, rate_1_s : array_like
            Shapes broadcast.

        Returns
        -------
        ndarray
            Never falling with the rate.
        """
        T = np.asarray(temperature_K, dtype=np.float64)
        rate = np.asarray(rate_1_s, dtype=np.float64)
        table = slow(T)
        faster = (rate / self.slow_rate_1_s) ** self.exponent
        if melting_K is None or (self.hot is None and not self.estimated):
            return np.asarray(table * faster)
        # How far the pulse outruns the creep that the slow table holds.
        outrun = np.clip(np.log(rate / self.slow_rate_1_s) / np.log(FAST_1_S / self.slow_rate_1_s), 0.0, 1.0)
        cold = faster * table * (_without_creep(slow, melting_K, T) / table) ** outrun
        if self.hot is not None:
            hot = CONSTRAINT * self.hot.stress_Pa(T, rate)
        else:
            hot = table * (rate / self.slow_rate_1_s) ** estimated_exponent(T / melting_K)
        return np.asarray(np.maximum(np.minimum(cold, hot), table * np.minimum(faster, 1.0)))


def _without_creep(slow: Curve, melting_K: float, temperature_K: FloatArray) -> FloatArray:
    """Hardness [Pa] of the cold branch alone: the table up to 0.4 of the melting point, then as the
    shear modulus falls; at least the table."""
    end = COLD_END * melting_K

    def modulus(T: FloatArray | float) -> FloatArray | float:
        return 1.0 - MODULUS_FALL * (T - 300.0) / melting_K

    fall = modulus(np.maximum(temperature_K, end)) / modulus(end)
    return np.maximum(slow(np.minimum(temperature_K, end)) * fall, slow(temperature_K))


def _ln_along(curve: Curve, temperature_K: FloatArray) -> FloatArray:
    """Logarithm of a curve, linear between its rows and beyond them, but never rising beyond them."""
    T, ln = curve.temperature_K, np.log(curve.value)
    inside = np.interp(temperature_K, T, ln)
    if len(T) == 1:
        return np.asarray(inside)
    first, last = (min(0.0, (ln[i + 1] - ln[i]) / (T[i + 1] - T[i])) for i in (0, len(T) - 2))
    below, above = np.minimum(temperature_K - T[0], 0.0), np.maximum(temperature_K - T[-1], 0.0)
    return np.asarray(inside + first * below + last * above)
