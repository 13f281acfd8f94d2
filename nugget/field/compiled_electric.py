"""The field of `nugget.field.electric`, face sums in machine code; imported where kernels serve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled import conducting
from nugget.field.electric import (
    LEAST_COVERED,
    ElectricalContact,
    ElectricField,
    ElectricOperator,
    ElectricSolution,
    inverse,
)
from nugget.field.linear import SolverKind
from nugget.grid.stack import Grid


class CompiledElectricField(ElectricField):
    """See `ElectricField`."""

    def __init__(self, grid: Grid, solver: SolverKind) -> None:
        super().__init__(grid, solver)
        rows = [self.block_rows(interface) for interface in grid.interfaces]
        self.sides = np.array(rows, dtype=np.intp).reshape(len(rows), 2)
        self.below = np.zeros(self.inside.shape[1]) if self.bottom is None else self.bottom
        self.per_top, self.per_bottom = inverse(self.top), inverse(self.below)
        self._open = self.bottom is None and not any(i.mirrored for i in grid.interfaces)
        self._inside = np.ascontiguousarray(self.inside)

    def operator(
        self, conductivity: FloatArray, electrical_contacts: Sequence[ElectricalContact]
    ) -> ElectricOperator:
        """See `ElectricField`."""
        faces, shape = self.faces, (len(electrical_contacts), self.grid.shape[1])
        covered = np.array([c.contact_fraction for c in electrical_contacts]).reshape(shape)
        resistance = np.array([c.resistance for c in electrical_contacts]).reshape(shape)
        across, along, diagonal = np.empty((3, *self.inside.shape))
        g_r, g_z = np.empty(faces.area_r.shape), np.empty(faces.area_z.shape)
        g_bottom = np.empty(self.below.shape)
        conducting.conductances(
            conductivity,
            self._inside,
            self.rows.start,
            faces.half_r,
            faces.half_z,
            faces.area_r,
            faces.area_z,
            faces.plane,
            self.below,
            self.sides,
            covered,
            resistance,
            across,
            along,
            g_r,
            g_z,
            g_bottom,
            diagonal,
        )
        at = self.ground_rows, self.ground_columns
        sigma = conductivity[self.ground_rows + self.rows.start, self.ground_columns]
        ground_cell, ground_behind = self.ground_cell / sigma, self.ground_behind / sigma
        g_top, g_ground = self.top / along[-1], 1.0 / (ground_cell + ground_behind)
        diagonal[-1] += g_top
        diagonal[at] += g_ground
        return CompiledElectricOperator(
            field=self,
            contacts=tuple(electrical_contacts),
            across=across,
            along=along,
            g_r=g_r,
            g_z=g_z,
            g_top=g_top,
            g_bottom=None if self._open else g_bottom,
            g_ground=g_ground,
            ground_cell=ground_cell,
            ground_behind=ground_behind,
            factors=self.solver.factor(diagonal, g_r, g_z),
            below=g_bottom,
            covered=covered,
            resistance=resistance,
        )


@dataclass(frozen=True)
class CompiledElectricOperator(ElectricOperator):
    """See `ElectricOperator`; `below` is `g_bottom` or zeros, the others are those of all contacts."""

    field: CompiledElectricField
    below: FloatArray
    covered: FloatArray
    resistance: FloatArray

    def one_ampere(self) -> ElectricSolution:
        """See `ElectricOperator`."""
        field = self.field
        rhs = np.zeros_like(self.along)
        rhs[-1] = self.g_top
        phi = self.factors.solve(rhs)
        i_top = self.g_top * (1.0 - phi[-1])
        total = float(i_top.sum())
        if not total > 0.0:
            raise ArithmeticError("no current can flow from the electrode to a ground")
        scale = 1.0 / total
        phi *= scale
        i_top *= scale
        made, at_contacts = np.zeros(phi.shape), np.zeros(self.resistance.shape)
        conducting.heat(
            phi,
            self.across,
            self.along,
            self.g_r,
            self.g_z,
            self.below,
            i_top,
            field.per_r,
            field.per_z,
            field.per_top,
            field.per_bottom,
            field.faces.plane,
            field.sides,
            self.covered,
            self.resistance,
            LEAST_COVERED,
            made,
            at_contacts,
        )
        i_ground = self.g_ground * phi[field.ground_rows, field.ground_columns]
        made[field.ground_rows, field.ground_columns] += i_ground**2 * self.ground_cell
        return ElectricSolution(
            resistance_ohm=scale,
            heat=field.full(made),
            interface_heat=tuple(at_contacts),
            outside_heat=float((i_ground**2 * self.ground_behind).sum()),
            potential=field.full(phi),
        )
