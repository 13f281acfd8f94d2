"""The equation of `nugget.field.heat`, face sums in machine code; imported where kernels serve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled import heating
from nugget.field.heat import Conduction, HeatField, HeatOperator, NewtonUpdate, ThermalContact
from nugget.field.linear import SolverKind
from nugget.grid.stack import Grid


@dataclass(frozen=True)
class CompiledConduction(Conduction):
    """Conductances [W/K]; `below` is `g_bottom` or zeros."""

    below: FloatArray

    @cached_property
    def coupling(self) -> FloatArray:
        """Sum of the conductances of each cell, shape (nz, nr)."""
        total = self.g_air.copy()
        heating.coupling(self.g_r, self.g_z, self.g_top, self.below, total)
        return total


class CompiledHeatField(HeatField):
    """See `HeatField`."""

    def __init__(
        self,
        grid: Grid,
        ambient_K: float,
        holder_K: float,
        heat_transfer_W_m2K: float,
        solver: SolverKind,
    ) -> None:
        super().__init__(grid, ambient_K, holder_K, heat_transfer_W_m2K, solver)
        self._to_air = np.where(self.active, self.g_air, 1.0)
        self._nothing = np.zeros(grid.shape[1])

    def conduction(
        self, k_r: FloatArray, k_z: FloatArray, thermal_contacts: Sequence[ThermalContact]
    ) -> CompiledConduction:
        """See `HeatField`."""
        faces = self.faces
        g_r, g_z = np.empty(faces.area_r.shape), np.empty(faces.area_z.shape)
        heating.conductances(
            k_r, k_z, faces.half_r, faces.half_z, faces.area_r, faces.area_z, self.extra_z, g_r, g_z
        )
        for interface, contact in zip(self.grid.interfaces, thermal_contacts, strict=True):
            if not interface.mirrored:
                heating.touch(
                    g_z,
                    interface.below,
                    faces.area_z,
                    faces.half_z,
                    k_z,
                    contact.contact_fraction,
                    contact.resistance,
                    contact.gap_W_m2K,
                )
        top = self.top / (faces.half_z[-1] / k_z[-1])
        bottom = None if self.bottom is None else self.bottom / (faces.half_z[0] / k_z[0])
        return CompiledConduction(
            g_r, g_z, top, bottom, self._to_air, self._nothing if bottom is None else bottom
        )

    def net(self, conduction: Conduction, temperature_K: FloatArray, heat_W: FloatArray) -> FloatArray:
        """See `HeatField`."""
        below = self._nothing if conduction.g_bottom is None else conduction.g_bottom
        gained = np.empty(temperature_K.shape)
        heating.net(
            conduction.g_r,
            conduction.g_z,
            conduction.g_top,
            below,
            self.g_air,
            temperature_K,
            heat_W,
            self.ambient_K,
            self.holder_K,
            gained,
        )
        return gained


@dataclass(frozen=True)
class CompiledHeatOperator(HeatOperator):
    """See `HeatOperator`."""

    def newton(
        self,
        conduction: Conduction,
        start: FloatArray,
        guess: tuple[FloatArray, FloatArray],
        heat_W: FloatArray,
    ) -> NewtonUpdate:
        """See `HeatOperator`."""
        (h, T), field, old = guess, self.field, self.conduction
        miss = field.volume * (start - h) / self.tau_s + field.net(conduction, T, heat_W)
        change = self.factors.solve(miss)
        holder = float((conduction.g_top * (T[-1] - field.holder_K) + old.g_top * change[-1]).sum())
        if conduction.g_bottom is not None and old.g_bottom is not None:
            outflow = conduction.g_bottom * (T[0] - field.holder_K) + old.g_bottom * change[0]
            holder += float(outflow.sum())
        temperature, enthalpy = np.empty(T.shape), np.empty(T.shape)
        air = heating.updated(
            T, change, h, self.capacity, field.g_air, field.ambient_K, temperature, enthalpy
        )
        return NewtonUpdate(temperature, enthalpy, holder, air)


CompiledHeatField.kind_of_operator = CompiledHeatOperator
