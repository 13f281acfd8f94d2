"""One interface, `nugget.weld.interface_model`, in machine code; imported where kernels serve."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled import growing
from nugget.contact.growth import HardnessRows
from nugget.materials.property_tables import COLDEST_K, RATES, ROWS, SPACING_K, IntArray
from nugget.weld.interface_model import (
    LEAST_CONDUCTIVITY_S_M,
    ContactModel,
    ContactState,
    Surfaces,
    Surroundings,
)


class CompiledSofterSide:
    """See `nugget.weld.interface_model.SofterSide`."""

    def __init__(
        self, table: FloatArray, base: IntArray, shares: FloatArray, gains: FloatArray, counted: FloatArray
    ) -> None:
        self._given = table, base, shares, gains, counted

    def __getitem__(self, rates: slice) -> FloatArray:
        """Rows of these rates, shape (n_rates, nr)."""
        first, end, _ = rates.indices(RATES)
        rows = np.empty((end - first, len(self._given[-1])))
        growing.hardness(*self._given, first, rows)
        return rows

    def free_radius_m(
        self,
        force_N: float,
        rates_1_s: FloatArray,
        r_faces_m: FloatArray,
        stage: tuple[float, float],
        likely_m: float,
    ) -> float:
        """See `nugget.contact.growth.RootFinding`."""
        return growing.radius(*self._given, rates_1_s, r_faces_m, force_N, *stage, likely_m)


class CompiledContactModel(ContactModel):
    """See `ContactModel`."""

    def _sides(self, around: Surroundings, heat_W_m2: FloatArray, latest: ContactState | None) -> Surfaces:
        i, cells = self.interface, self.sides
        found = np.empty((7, len(self._nothing)))
        growing.surfaces(
            around.temperature_K,
            around.k_z,
            i.above,
            i.below,
            self.half_above,
            self.half_below,
            self._nothing if latest is None else latest.thermal,
            heat_W_m2,
            cells.property_base,
            cells.tables.by_temperature,
            COLDEST_K,
            1.0 / SPACING_K,
            ROWS,
            LEAST_CONDUCTIVITY_S_M,
            found,
        )
        above_K, below_K, upper, lower, resistivity, *_ = found
        peltier = self.peltier_V(above_K, below_K, found[5:])
        return Surfaces(above_K, below_K, (upper, lower), resistivity, peltier, found[:2])

    def hardness(self, surfaces_K: FloatArray) -> HardnessRows:
        """See `ContactModel`."""
        cells = self.carrying
        base, shares = np.empty(surfaces_K.shape, dtype=np.intp), np.empty((2, *surfaces_K.shape))
        growing.place(
            surfaces_K,
            cells.strength_base,
            cells.strength_last,
            self.solidus_K,
            self.melting_K,
            COLDEST_K,
            1.0 / SPACING_K,
            RATES,
            base,
            shares,
        )
        return CompiledSofterSide(
            cells.tables.strength.reshape(-1), base, shares, self.melt_gains, self._counted
        )
