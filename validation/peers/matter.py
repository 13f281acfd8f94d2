"""Properties read straight from the materials' curves, without the model's tables."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.materials.material import Curve, Material

REFERENCE_K = 298.15
FINE_K = 0.5


class Matter:
    """Curves of one material on half a kelvin, and enthalpy per volume in both directions."""

    def __init__(self, material: Material) -> None:
        self.material = material
        top = min(material.boiling_K or 6000.0, 6000.0)
        self.T = np.arange(200.0, top, FINE_K)
        c = np.interp(self.T, material.heat_capacity.temperature_K, material.heat_capacity.value)
        rise = np.concatenate([[0.0], np.cumsum(0.5 * (c[1:] + c[:-1]) * FINE_K)])
        sensible = rise - np.interp(REFERENCE_K, self.T, rise)
        self.h = material.density_kg_m3 * (sensible + material.heat_of_fusion_J_kg * self.liquid(self.T))

    def liquid(self, T: FloatArray) -> FloatArray:
        low, high = self.material.solidus_K, self.material.liquidus_K
        if low is None or high is None:
            return np.zeros_like(T)
        return np.clip((T - low) / (high - low), 0.0, 1.0)

    def hardness(self, T: FloatArray) -> FloatArray:
        curve = self.material.hardness
        if curve is None:
            return np.zeros_like(T)
        return np.interp(T, curve.temperature_K, curve.value) * (1.0 - self.liquid(T))


class Stuff:
    """Properties of all cells (or nodes): `index` is the material of each, any shape."""

    def __init__(self, materials: Sequence[Material], index: npt.NDArray[np.intp], stirring: float) -> None:
        self.matters = [Matter(m) for m in materials]
        self.index, self.stirring = index, stirring
        self.where = [index == n for n in range(len(materials))]

    def _each(self, T: FloatArray, name: str) -> FloatArray:
        found = np.zeros(T.shape)
        for matter, here in zip(self.matters, self.where, strict=True):
            found[here] = getattr(self, name)(matter, T[here])
        return found

    @staticmethod
    def _read(curve: Curve | None, T: FloatArray) -> FloatArray:
        return np.full_like(T, np.inf) if curve is None else np.interp(T, curve.temperature_K, curve.value)

    def k_r(self, T: FloatArray) -> FloatArray:
        return self._each(T, "_k_r")

    def k_z(self, T: FloatArray) -> FloatArray:
        return self._each(T, "_k_z")

    def rho(self, T: FloatArray) -> FloatArray:
        return self._each(T, "_rho")

    def hardness(self, T: FloatArray) -> FloatArray:
        return self._each(T, "_hardness")

    def enthalpy(self, T: FloatArray) -> FloatArray:
        return self._each(T, "_enthalpy")

    def temperature(self, h: FloatArray) -> FloatArray:
        return self._each(h, "_temperature")

    def capacity(self, T: FloatArray) -> FloatArray:
        """dh/dT [J/(m3 K)]."""
        return self._each(T, "_capacity")

    def _k_r(self, m: Matter, T: FloatArray) -> FloatArray:
        return self._read(m.material.conductivity_r, T) * (1.0 + (self.stirring - 1.0) * m.liquid(T))

    def _k_z(self, m: Matter, T: FloatArray) -> FloatArray:
        return self._read(m.material.conductivity_z, T) * (1.0 + (self.stirring - 1.0) * m.liquid(T))

    def _rho(self, m: Matter, T: FloatArray) -> FloatArray:
        return self._read(m.material.resistivity, T)

    def _hardness(self, m: Matter, T: FloatArray) -> FloatArray:
        return m.hardness(T)

    def _enthalpy(self, m: Matter, T: FloatArray) -> FloatArray:
        return np.interp(T, m.T, m.h)

    def _temperature(self, m: Matter, h: FloatArray) -> FloatArray:
        return np.interp(h, m.h, m.T)

    def _capacity(self, m: Matter, T: FloatArray) -> FloatArray:
        at = np.clip(((T - m.T[0]) / FINE_K).astype(int), 0, len(m.T) - 2)
        return np.diff(m.h)[at] / FINE_K
