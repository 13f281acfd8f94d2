"""Properties read straight from the materials' curves, without the model's dense tables."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.materials.material import Curve, Material

REFERENCE_K = 298.15
COLDEST_K, HOTTEST_K = 200.0, 6600.0
FINE_K = 0.5
BOILING_J_M3_K = 5e10
"""Heat that a boiling cell takes up per kelvin [J/(m3 K)]: so much that its temperature stands still,
as it does at the boiling point (theory: fields)."""


class EnthalpyCurve:
    """Enthalpy per volume of one material on half a kelvin, up to its boiling point.

    Attributes
    ----------
    material : Material
    T, h : ndarray, shape (n,)
        Temperature [K] and enthalpy [J/m3], zero at 298.15 K.
    """

    def __init__(self, material: Material) -> None:
        self.material = material
        top = min(material.boiling_K or HOTTEST_K, HOTTEST_K)
        self.T = np.arange(COLDEST_K, top, FINE_K)
        c = np.interp(self.T, material.heat_capacity.temperature_K, material.heat_capacity.value)
        rise = np.concatenate([[0.0], np.cumsum(0.5 * (c[1:] + c[:-1]) * FINE_K)])
        sensible = rise - np.interp(REFERENCE_K, self.T, rise)
        self.h = material.density_kg_m3 * (sensible + material.heat_of_fusion_J_kg * self.liquid(self.T))
        self.slope = np.diff(self.h) / FINE_K

    def liquid(self, T: FloatArray) -> FloatArray:
        """Liquid fraction at temperatures [K]: even from solidus to liquidus."""
        low, high = self.material.solidus_K, self.material.liquidus_K
        if low is None or high is None:
            return np.zeros_like(T)
        return np.clip((T - low) / (high - low), 0.0, 1.0)

    def enthalpy(self, T: FloatArray) -> FloatArray:
        """Enthalpy [J/m3] at temperatures [K]."""
        found = np.interp(T, self.T, self.h)
        return np.asarray(found + BOILING_J_M3_K * np.maximum(T - self.T[-1], 0.0), dtype=np.float64)

    def temperature(self, h: FloatArray) -> FloatArray:
        """Temperature [K] at enthalpies [J/m3]."""
        found = np.interp(h, self.h, self.T)
        return np.asarray(found + np.maximum(h - self.h[-1], 0.0) / BOILING_J_M3_K, dtype=np.float64)

    def capacity(self, T: FloatArray) -> FloatArray:
        """dh/dT [J/(m3 K)] at temperatures [K]."""
        at = np.clip(((T - self.T[0]) / FINE_K).astype(int), 0, len(self.slope) - 1)
        return np.where(self.T[-1] < T, BOILING_J_M3_K, self.slope[at])


class CellProperties:
    """Properties of all cells (or nodes): `index` is the material of each, any shape."""

    def __init__(self, materials: Sequence[Material], index: npt.NDArray[np.intp], stirring: float) -> None:
        self.curves = [EnthalpyCurve(m) for m in materials]
        self.index, self.stirring = index, stirring
        self.where = [index == n for n in range(len(materials))]

    def each(self, T: FloatArray, read: Callable[[EnthalpyCurve, FloatArray], FloatArray]) -> FloatArray:
        """Read every cell from the curve of its own material."""
        found = np.zeros(T.shape)
        for curve, here in zip(self.curves, self.where, strict=True):
            found[here] = read(curve, T[here])
        return found

    def k_r(self, T: FloatArray) -> FloatArray:
        """Thermal conductivity along r [W/(m K)], that of liquid metal raised by stirring."""
        return self.each(T, lambda c, t: _read(c.material.conductivity_r, t) * self._stirred(c, t))

    def k_z(self, T: FloatArray) -> FloatArray:
        """Thermal conductivity along z [W/(m K)], that of liquid metal raised by stirring."""
        return self.each(T, lambda c, t: _read(c.material.conductivity_z, t) * self._stirred(c, t))

    def rho(self, T: FloatArray) -> FloatArray:
        """Electrical resistivity [ohm m], infinite in an insulator."""
        return self.each(T, lambda c, t: _read(c.material.resistivity, t))

    def enthalpy(self, T: FloatArray) -> FloatArray:
        """Enthalpy [J/m3]."""
        return self.each(T, EnthalpyCurve.enthalpy)

    def temperature(self, h: FloatArray) -> FloatArray:
        """Temperature [K] at enthalpies [J/m3]."""
        return self.each(h, EnthalpyCurve.temperature)

    def capacity(self, T: FloatArray) -> FloatArray:
        """dh/dT [J/(m3 K)]."""
        return self.each(T, EnthalpyCurve.capacity)

    def _stirred(self, curve: EnthalpyCurve, T: FloatArray) -> FloatArray:
        if curve.material.resistivity is None:
            return np.ones_like(T)
        return np.asarray(1.0 + (self.stirring - 1.0) * curve.liquid(T), dtype=np.float64)


def _read(curve: Curve | None, T: FloatArray) -> FloatArray:
    if curve is None:
        return np.full_like(T, np.inf)
    return np.asarray(np.interp(T, curve.temperature_K, curve.value), dtype=np.float64)
