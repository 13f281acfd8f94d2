"""The potential: div(sigma grad phi) = 0 for one ampere through the electrode top.

The problem is linear in the current, so it is solved once per set of conductivities with one
volt on the electrode top and scaled to one ampere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.field.banded import BandedOperator
from nugget.field.faces import Faces
from nugget.grid.stack import Grid


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

    def __init__(self, grid: Grid) -> None:
        self.grid = grid
        member = _members(grid)
        rows_used = np.flatnonzero(member.any(axis=1))
        self.rows = slice(int(rows_used[0]), grid.shape[0])
        self.columns = slice(0, int(np.flatnonzero(member.any(axis=0))[-1]) + 1)
        self.inside = member[self.rows, self.columns]
        self.faces = Faces.of(grid, member, self.rows, self.columns)
        self.solver = BandedOperator(*self.inside.shape)
        offset, faces = self.rows.start, self.faces
        self.per_r, self.per_z = _inverse(faces.area_r), _inverse(faces.area_z)
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
        """Solve for one ampere.

        Parameters
        ----------
        conductivity : ndarray, shape (nz, nr)
            Electrical conductivity [S/m]; only conducting cells are read.
        electrical_contacts : sequence of ElectricalContact
            One for each interface of the grid.
        """
        sigma = np.where(self.inside, conductivity[self.rows, self.columns], 1.0)
        faces, nr = self.faces, self.inside.shape[1]
        across = faces.half_r / sigma
        along = faces.half_z / sigma
        g_r = faces.area_r / (across[:, 1:] + across[:, :-1])
        g_z = faces.area_z / (along[1:] + along[:-1])
        mirror = None
        for interface, electrical_contact in zip(self.grid.interfaces, electrical_contacts, strict=True):
            above, below = interface.above - self.rows.start, interface.below - self.rows.start
            r_c, covered = electrical_contact.resistance[:nr], electrical_contact.contact_fraction[:nr]
            if interface.mirrored:
                mirror = faces.plane * covered * self.inside[above] / (along[above] + 0.5 * r_c)
            else:
                g_z[below] = faces.area_z[below] * covered / (along[above] + r_c + along[below])
        g_top = self.top / along[-1]
        ground_cell = self.ground_cell / sigma[self.ground_rows, self.ground_columns]
        ground_behind = self.ground_behind / sigma[self.ground_rows, self.ground_columns]
        g_ground = 1.0 / (ground_cell + ground_behind)

        diagonal = np.where(self.inside, 0.0, 1.0)
        diagonal[:, 1:] += g_r
        diagonal[:, :-1] += g_r
        diagonal[1:] += g_z
        diagonal[:-1] += g_z
        diagonal[-1] += g_top
        diagonal[self.ground_rows, self.ground_columns] += g_ground
        g_bottom = mirror
        if self.bottom is not None:
            g_bottom = self.bottom / along[0]
        if g_bottom is not None:
            diagonal[0] += g_bottom
        rhs = np.zeros_like(diagonal)
        rhs[-1] = g_top
        self.solver.factor(diagonal, g_r, g_z)
        phi = self.solver.solve(rhs)

        i_top = g_top * (1.0 - phi[-1])
        scale = 1.0 / float(i_top.sum())
        phi *= scale
        i_top *= scale
        i_r = g_r * (phi[:, :-1] - phi[:, 1:])
        i_z = g_z * (phi[1:] - phi[:-1])
        heat = np.zeros_like(phi)
        j_r = i_r * self.per_r
        heat[:, :-1] += i_r * j_r * across[:, :-1]
        heat[:, 1:] += i_r * j_r * across[:, 1:]
        j_z = i_z * self.per_z
        interface_heat = []
        for interface, electrical_contact in zip(self.grid.interfaces, electrical_contacts, strict=True):
            above, below = interface.above - self.rows.start, interface.below - self.rows.start
            covered = np.maximum(electrical_contact.contact_fraction[:nr], 1e-12)
            if interface.mirrored:
                assert mirror is not None
                i = mirror * phi[above]
                j = i / (faces.plane * covered)
                heat[above] += i * j * along[above]
            else:
                # The current crowds into the covered share, and so does its heat.
                j_z[below] /= covered
                j = j_z[below]
            full = np.zeros(self.grid.shape[1])
            full[:nr] = electrical_contact.resistance[:nr] * j**2
            interface_heat.append(full)
        heat[1:] += i_z * j_z * along[1:]
        heat[:-1] += i_z * j_z * along[:-1]
        heat[-1] += i_top**2 * _inverse(self.top) * along[-1]
        if self.bottom is not None:
            heat[0] += (g_bottom * phi[0]) ** 2 * _inverse(self.bottom) * along[0]
        i_ground = g_ground * phi[self.ground_rows, self.ground_columns]
        heat[self.ground_rows, self.ground_columns] += i_ground**2 * ground_cell
        return ElectricSolution(
            resistance_ohm=scale,
            heat=self._full(heat),
            interface_heat=tuple(interface_heat),
            outside_heat=float((i_ground**2 * ground_behind).sum()),
            potential=self._full(phi),
        )

    def _full(self, block: FloatArray) -> FloatArray:
        full = np.zeros(self.grid.shape)
        full[self.rows, self.columns] = block
        return full


def _inverse(area: FloatArray) -> FloatArray:
    """One over the area, 0 where there is none."""
    return np.divide(1.0, area, out=np.zeros_like(area), where=area > 0.0)


def _members(grid: Grid) -> npt.NDArray[np.bool_]:
    """Cells that carry current: conductors, up to the ground of their row."""
    conducts = np.array([m.resistivity is not None for m in grid.materials])
    member: npt.NDArray[np.bool_] = grid.active & conducts[grid.material]
    for ground in grid.grounds:
        member[ground.row, ground.column + 1 :] = False
    return member
