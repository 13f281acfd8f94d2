"""Look-ups of `nugget.materials.property_tables` in machine code; imported where kernels serve."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled import lookup
from nugget.materials.property_tables import (
    COLDEST_K,
    ENTHALPY_NODES,
    ROWS,
    SPACING_K,
    CellTables,
    IntArray,
)


@dataclass(frozen=True)
class CompiledCells(CellTables):
    """The tables bound to an array of cells."""

    @cached_property
    def _by_enthalpy(self) -> tuple[IntArray, FloatArray, FloatArray]:
        return self.enthalpy_base.ravel(), self.enthalpy_start.ravel(), self.enthalpy_scale.ravel()

    @cached_property
    def _by_temperature(self) -> IntArray:
        return self.property_base.ravel()

    def temperature(self, enthalpy_J_m3: FloatArray) -> tuple[FloatArray, FloatArray]:
        """See `CellTables`."""
        found, capacity = np.empty(enthalpy_J_m3.shape), np.empty(enthalpy_J_m3.shape)
        lookup.temperature(
            enthalpy_J_m3.ravel(),
            *self._by_enthalpy,
            self.tables.by_enthalpy,
            ENTHALPY_NODES,
            found.reshape(-1),
            capacity.reshape(-1),
        )
        return found, capacity

    def state(self, enthalpy_J_m3: FloatArray) -> tuple[FloatArray, ...]:
        """See `CellTables`."""
        found = np.empty((5, *enthalpy_J_m3.shape))
        lookup.state(
            enthalpy_J_m3.ravel(),
            *self._by_enthalpy,
            self.tables.by_enthalpy,
            ENTHALPY_NODES,
            self._by_temperature,
            self.tables.by_temperature,
            COLDEST_K,
            1.0 / SPACING_K,
            ROWS,
            found.reshape(5, -1),
        )
        return tuple(found)

    def _columns(self, temperature_K: FloatArray, first: int, end: int) -> tuple[FloatArray, ...]:
        found = np.empty((end - first, *temperature_K.shape))
        lookup.columns(
            temperature_K.ravel(),
            self._by_temperature,
            self.tables.by_temperature,
            COLDEST_K,
            1.0 / SPACING_K,
            ROWS,
            first,
            found.reshape(end - first, -1),
        )
        return tuple(found)
