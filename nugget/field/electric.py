"""The potential: div(sigma grad phi) = 0 for one ampere through the electrode top (manual, theory-fields).

The problem is linear in the current, so it is solved once per set of conductivities with one
volt on the electrode top and scaled to one ampere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.faces import Faces
from nugget.field.linear import Factors, SolverKind
from nugget.grid.stack import Grid, Interface

LEAST_COVERED = 1e-12
"""Keeps current densities of columns outside a contact finite; no current flows there."""


@dataclass(frozen=True)
class ElectricalContact:
    """Electrical state of one interface.

    Attributes
    ----------
    contact_fraction : ndarray, shape (nr,)
        Share of each column's area that is in contact, 0 to 1.
    resistance : ndarray, shape (nr,)
        Resistance per area inside the contact [ohm m2].
    """

    contact_fraction: FloatArray
    resistance: FloatArray


@dataclass(frozen=True)
class ElectricSolution:
    """The field of one ampere.

    Attributes
    ----------
    resistance_ohm : float
        Electrode top to ground [ohm]; of the modelled half when the stack is mirrored.
    heat : ndarray, shape (nz, nr)
        Joule heat in each cell [W/A2], interfaces not included.
    interface_heat : tuple of ndarray, shape (nr,)
        Heat of each interface per contact area [W/(m2 A2)] (r_c j^2).
    outside_heat : float
        Heat in the sheet behind the grounds [W/A2].
    potential : ndarray, shape (nz, nr)
        Potential [V/A]; 0 outside the electric domain.
    """

    resistance_ohm: float
    heat: FloatArray
    interface_heat: tuple[FloatArray, ...]
    outside_heat: float
    potential: FloatArray


class ElectricField:
    """Electric operator of one grid: geometry is prepared once, conductivity comes and goes."""

    def __init__(self, grid: Grid, solver: SolverKind = CheckerboardSolver) -> None:
        self.grid = grid
        member = _members(grid)
        # A grid of insulators has a field of heat only; its top row stands for the block.
        rows_used, columns_used = (np.flatnonzero(member.any(axis=axis)) for axis in (1, 0))
        self.rows = slice(int(rows_used[0]) if rows_used.size else grid.shape[0] - 1, grid.shape[0])
        self.columns = slice(0, int(columns_used[-1]) + 1 if columns_used.size else grid.shape[1])
        self.inside = member[self.rows, self.columns]
        self.faces = Faces.of(grid, member, self.rows, self.columns)
        self.solver = solver(*self.inside.shape)
        offset, faces = self.rows.start, self.faces
        self.per_r, self.per_z = inverse(faces.area_r), inverse(faces.area_z)
        self.top = faces.plane * self.inside[-1]
        self.bottom = faces.plane * self.inside[0] if grid.bottom == "holder" else None
        self.ground_rows = np.array([g.row - offset for g in grid.grounds], dtype=np.intp)
        self.ground_columns = np.array([g.column for g in grid.grounds], dtype=np.intp)
        dz = 2.0 * faces.half_z[self.ground_rows, 0]
        r_g = grid.r_faces[self.ground_columns + 1]
        half = faces.half_r[0, self.ground_columns]
        self.ground_cell = half / (2.0 * np.pi * r_g * dz)
        self.ground_behind = np.array([g.planar_factor for g in grid.grounds]) / (2.0 * np.pi * dz)

    def solve(
        self, conductivity: FloatArray, electrical_contacts: Sequence[ElectricalContact]
    ) -> ElectricSolution:
        """Solve for one ampere; parameters as those of `operator`."""
        return self.operator(conductivity, electrical_contacts).one_ampere()

    def operator(
        self, conductivity: FloatArray, electrical_contacts: Sequence[ElectricalContact]
    ) -> ElectricOperator:
        """Factor the operator of a set of conductivities.

        Parameters
        ----------
        conductivity : ndarray, shape (nz, nr)
            Electrical conductivity [S/m]; only conducting cells are read.
        electrical_contacts : sequence of ElectricalContact
            One for each interface of the grid.

        Raises
        ------
        ArithmeticError
            If it is not positive definite.
        """
        sigma = np.where(self.inside, conductivity[self.rows, self.columns], 1.0)
        faces, nr = self.faces, self.inside.shape[1]
        across, along = faces.half_r / sigma, faces.half_z / sigma
        g_r = faces.area_r / (across[:, 1:] + across[:, :-1])
        g_z = faces.area_z / (along[1:] + along[:-1])
        g_bottom = None if self.bottom is None else self.bottom / along[0]
        for interface, contact in zip(self.grid.interfaces, electrical_contacts, strict=True):
            above, below = self.block_rows(interface)
            r_c, covered = contact.resistance[:nr], contact.contact_fraction[:nr]
            if interface.mirrored:
                g_bottom = faces.plane * covered * self.inside[above] / (along[above] + 0.5 * r_c)
            else:
                g_z[below] = faces.area_z[below] * covered / (along[above] + r_c + along[below])
        at = self.ground_rows, self.ground_columns
        ground_cell, ground_behind = self.ground_cell / sigma[at], self.ground_behind / sigma[at]
        g_top, g_ground = self.top / along[-1], 1.0 / (ground_cell + ground_behind)

        diagonal = np.where(self.inside, 0.0, 1.0)
        diagonal[:, 1:] += g_r
        diagonal[:, :-1] += g_r
        diagonal[1:] += g_z
        diagonal[:-1] += g_z
        diagonal[-1] += g_top
        diagonal[at] += g_ground
        if g_bottom is not None:
            diagonal[0] += g_bottom
        return ElectricOperator(
            field=self,
            contacts=tuple(electrical_contacts),
            across=across,
            along=along,
            g_r=g_r,
            g_z=g_z,
            g_top=g_top,
            g_bottom=g_bottom,
            g_ground=g_ground,
            ground_cell=ground_cell,
            ground_behind=ground_behind,
            factors=self.solver.factor(diagonal, g_r, g_z),
        )

    def block_rows(self, interface: Interface) -> tuple[int, int]:
        """Rows above and below an interface, counted from the lowest row that carries current."""
        return interface.above - self.rows.start, interface.below - self.rows.start

    def full(self, block: FloatArray) -> FloatArray:
        """Values of the cells that carry current on the whole grid, 0 elsewhere."""
        full = np.zeros(self.grid.shape)
        full[self.rows, self.columns] = block
        return full


@dataclass(frozen=True)
class ElectricOperator:
    """The operator of one set of conductivities, factored; arrays are cut to the conducting block.

    Attributes
    ----------
    field : ElectricField
    contacts : tuple of ElectricalContact
    across, along : ndarray, shape (nz, nr)
        Resistivity times half cell size along r and z [ohm m2].
    g_r, g_z, g_top, g_bottom, g_ground : ndarray
        Conductances [S] between neighbours, to the electrode top, to holder or mirror plane below
        (None where there is neither), and from the grounded cells to their grounds.
    ground_cell, ground_behind : ndarray
        Resistance of the outer half of each grounded cell, and of the sheet behind it [ohm].
    factors : Factors
    """

    field: ElectricField
    contacts: tuple[ElectricalContact, ...]
    across: FloatArray
    along: FloatArray
    g_r: FloatArray
    g_z: FloatArray
    g_top: FloatArray
    g_bottom: FloatArray | None
    g_ground: FloatArray
    ground_cell: FloatArray
    ground_behind: FloatArray
    factors: Factors

    def one_ampere(self) -> ElectricSolution:
        """The field that carries one ampere."""
        field = self.field
        rhs = np.zeros_like(self.along)
        rhs[-1] = self.g_top
        phi = self.factors.solve(rhs)
        i_top = self.g_top * (1.0 - phi[-1])
        total = float(i_top.sum())
        if total <= 0.0:
            raise ArithmeticError("no current can flow from the electrode to a ground")
        scale = 1.0 / total
        phi *= scale
        i_top *= scale
        i_ground = self.g_ground * phi[field.ground_rows, field.ground_columns]
        i_z = self.g_z * (phi[1:] - phi[:-1])
        j_z, interface_heat = self._through_contacts(phi, i_z)
        return ElectricSolution(
            resistance_ohm=scale,
            heat=field.full(self._heat(phi, (i_z, j_z), i_top, i_ground)),
            interface_heat=interface_heat,
            outside_heat=float((i_ground**2 * self.ground_behind).sum()),
            potential=field.full(phi),
        )

    def _through_contacts(
        self, phi: FloatArray, i_z: FloatArray
    ) -> tuple[FloatArray, tuple[FloatArray, ...]]:
        """Axial current densities, crowded at the contacts, and the heat of each interface [W/(m2 A2)]."""
        field, nr = self.field, phi.shape[1]
        j_z = i_z * field.per_z
        found = []
        for interface, contact in zip(field.grid.interfaces, self.contacts, strict=True):
            above, below = field.block_rows(interface)
            covered = np.maximum(contact.contact_fraction[:nr], LEAST_COVERED)
            if interface.mirrored:
                j = self.g_bottom * phi[above] / (field.faces.plane * covered)
            else:
                # The current crowds into the covered share, and so does its heat.
                j_z[below] /= covered
                j = j_z[below]
            full = np.zeros(field.grid.shape[1])
            full[:nr] = contact.resistance[:nr] * j**2
            found.append(full)
        return j_z, tuple(found)

    def _heat(
        self, phi: FloatArray, axial: tuple[FloatArray, FloatArray], i_top: FloatArray, i_ground: FloatArray
    ) -> FloatArray:
        """Joule heat of each cell [W/A2]: that of its half of every face, so that it adds up to R."""
        field, along = self.field, self.along
        heat = np.zeros_like(phi)
        i_r = self.g_r * (phi[:, :-1] - phi[:, 1:])
        j_r = i_r * field.per_r
        heat[:, :-1] += i_r * j_r * self.across[:, :-1]
        heat[:, 1:] += i_r * j_r * self.across[:, 1:]
        for interface, contact in zip(field.grid.interfaces, self.contacts, strict=True):
            if interface.mirrored:
                above, _ = field.block_rows(interface)
                covered = np.maximum(contact.contact_fraction[: phi.shape[1]], LEAST_COVERED)
                i = self.g_bottom * phi[above]
                heat[above] += i * (i / (field.faces.plane * covered)) * along[above]
        i_z, j_z = axial
        heat[1:] += i_z * j_z * along[1:]
        heat[:-1] += i_z * j_z * along[:-1]
        heat[-1] += i_top**2 * inverse(field.top) * along[-1]
        if field.bottom is not None:
            heat[0] += (self.g_bottom * phi[0]) ** 2 * inverse(field.bottom) * along[0]
        heat[field.ground_rows, field.ground_columns] += i_ground**2 * self.ground_cell
        return heat


def inverse(area: FloatArray) -> FloatArray:
    """One over the area, 0 where there is none."""
    return np.divide(1.0, area, out=np.zeros_like(area), where=area > 0.0)


def _members(grid: Grid) -> npt.NDArray[np.bool_]:
    """Cells that carry current: conductors that are joined to the electrode, up to the ground of their row.

    A conductor between insulators, such as a metal disc inside a cell, is fed by nothing: its potential
    is undetermined, and the matrix would be singular with it.
    """
    conducts = np.array([m.resistivity is not None for m in grid.materials])
    member: npt.NDArray[np.bool_] = grid.active & conducts[grid.material]
    for ground in grid.grounds:
        member[ground.row, ground.column + 1 :] = False
    fed = np.zeros_like(member)
    fed[-1] = member[-1]
    while True:
        grown = fed.copy()
        grown[:-1] |= fed[1:]
        grown[1:] |= fed[:-1]
        grown[:, 1:] |= fed[:, :-1]
        grown[:, :-1] |= fed[:, 1:]
        grown &= member
        if np.array_equal(grown, fed):
            return fed
        fed = grown
