"""Finite volumes of the whole cell, assembled by FiPy, one operator for each harmonic of the angle.

The equations: manual, theory-interior.

With a temperature ``T_m(r, z, t) cos(m theta)`` heat conduction round an axis becomes

    c dT_m/dt = (1/r) d/dr (r k_r dT_m/dr) + d/dz (k_z dT_m/dz) - k_r m^2 / r^2 T_m

so a few harmonics of a plane problem give the field in space (Carslaw and Jaeger, Conduction of
Heat in Solids, 2nd ed. 1959, chapter 7, from memory). FiPy's cylindrical volumes and areas are
those of one radian.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import BoolArray, FloatArray
from nugget.grading import graded_faces
from nugget.imports import quiet_fipy
from nugget.whole_cell.cell_rings import WholeCell

SHORTEST_M, LONGEST_M = 0.05e-3, 3.0e-3
"""Heights of cells at a border of two parts, whose temperatures are read, and what they grow to."""
WIDTHS = 32
"""Columns across the welded wall."""
GROWTH = 0.3


@dataclass(frozen=True)
class CellGrid:
    """Cells of the whole cell.

    Attributes
    ----------
    r_faces, z_faces : ndarray
        [m]
    part : ndarray of int, shape (nz, nr)
        Index of the part that a cell belongs to; -1 in the air.
    """

    r_faces: FloatArray
    z_faces: FloatArray
    part: np.ndarray

    @property
    def r(self) -> FloatArray:
        """Centres along r [m]."""
        return np.asarray(0.5 * (self.r_faces[1:] + self.r_faces[:-1]))

    @property
    def z(self) -> FloatArray:
        """Centres along z [m]."""
        return np.asarray(0.5 * (self.z_faces[1:] + self.z_faces[:-1]))

    @property
    def active(self) -> BoolArray:
        """Which cells are not air, shape (nz, nr)."""
        return np.asarray(self.part >= 0)

    @property
    def volume(self) -> FloatArray:
        """Volume of each cell [m3], shape (nz, nr)."""
        rings = np.pi * np.diff(self.r_faces**2)
        return np.asarray(np.diff(self.z_faces)[:, None] * rings[None, :])


def build_grid(cell: WholeCell, refinement: float = 1.0) -> CellGrid:
    """Grid with faces at every edge of every part, finest in the welded wall."""
    wall = cell.wall
    r_marks = sorted({0.0, *(p.inner_m for p in cell.parts), *(p.outer_m for p in cell.parts)})
    z_marks = sorted({*(p.bottom_m for p in cell.parts), *(p.top_m for p in cell.parts)})

    def wide(r: FloatArray) -> FloatArray:
        return np.asarray(np.full_like(r, wall.outer_m / WIDTHS) + GROWTH * np.maximum(r - wall.outer_m, 0.0))

    def high(z: FloatArray) -> FloatArray:
        away = np.abs(z[:, None] - np.array(z_marks)[None, :]).min(axis=1)
        return np.asarray(np.minimum(SHORTEST_M + GROWTH * away, LONGEST_M))

    r_faces = graded_faces(_apart(r_marks), wide, refinement)
    z_faces = graded_faces(_apart(z_marks), high, refinement)
    r, z = 0.5 * (r_faces[1:] + r_faces[:-1]), 0.5 * (z_faces[1:] + z_faces[:-1])
    part = np.full((z.size, r.size), -1)
    for index, p in enumerate(cell.parts):
        inside = (r > p.inner_m) & (r < p.outer_m)
        part[np.ix_((z > p.bottom_m) & (z < p.top_m), inside)] = index
    return CellGrid(r_faces, z_faces, part)


def _apart(marks: list[float]) -> list[float]:
    """Marks without those that differ by rounding only."""
    kept = [marks[0]]
    for mark in marks[1:]:
        if mark - kept[-1] > 1e-9:
            kept.append(mark)
    return kept


@dataclass(frozen=True)
class Operator:
    """``storage dT/dt = -stiffness T`` over the active cells, whole circle.

    Attributes
    ----------
    storage : ndarray, shape (n,)
        Heat capacity of each cell [J/K].
    stiffness : sparse matrix, shape (n, n)
        [W/K]
    """

    storage: FloatArray
    stiffness: Any


def assemble(cell: WholeCell, grid: CellGrid, harmonic: int) -> Operator:
    """Assemble one harmonic by FiPy's own diffusion and source terms."""
    from scipy import sparse

    storage, k_r, k_z = (
        np.where(grid.active, np.array([getattr(p, name) for p in cell.parts])[grid.part], fill)
        for name, fill in (("storage_J_m3K", 1.0), ("k_r", 0.0), ("k_z", 0.0))
    )
    with quiet_fipy():
        from fipy import CellVariable, CylindricalGrid2D, DiffusionTerm, FaceVariable, ImplicitSourceTerm

        mesh = CylindricalGrid2D(dx=np.diff(grid.r_faces), dy=np.diff(grid.z_faces))
        coefficient = FaceVariable(mesh=mesh, value=_faces(cell, grid, k_r, k_z))
        turning = k_r * harmonic**2 / grid.r[None, :] ** 2
        sink = CellVariable(mesh=mesh, value=(turning + _to_air(cell, grid)).ravel())
        variable = CellVariable(mesh=mesh)
        equation = DiffusionTerm(coeff=coefficient) - ImplicitSourceTerm(coeff=sink)
        equation.cacheMatrix()
        equation.justResidualVector(var=variable)
        matrix = sparse.csr_matrix(equation.matrix.matrix)
    keep = np.flatnonzero(grid.active.ravel())
    # FiPy writes the negative operator of one radian.
    stiffness = (2.0 * np.pi) * matrix[keep][:, keep]
    sign = 1.0 if stiffness.diagonal().sum() > 0.0 else -1.0
    return Operator((storage * grid.volume).ravel()[keep], (sign * stiffness).tocsc())


def _faces(cell: WholeCell, grid: CellGrid, k_r: FloatArray, k_z: FloatArray) -> FloatArray:
    """Conductivity of every face [W/(m K)], in FiPy's order: faces across z first, then across r."""
    nz, nr = grid.part.shape
    dr, dz = np.diff(grid.r_faces), np.diff(grid.z_faces)
    across_z, across_r = np.zeros((nz + 1, nr)), np.zeros((nz, nr + 1))
    half_z, half_r = 0.5 * dz[:, None], 0.5 * dr[None, :]
    with np.errstate(divide="ignore"):
        resist_z, resist_r = half_z / k_z, half_r / k_r
    contact = np.array([1.0 / (p.conductance_below_W_m2K or np.inf) for p in cell.parts])[grid.part]
    borders = grid.part[1:] != grid.part[:-1]
    extra = np.where(borders & grid.active[1:], contact[1:], 0.0)
    across_z[1:-1] = (half_z[1:] + half_z[:-1]) / (resist_z[1:] + resist_z[:-1] + extra)
    across_r[:, 1:-1] = (half_r[:, 1:] + half_r[:, :-1]) / (resist_r[:, 1:] + resist_r[:, :-1])
    return np.concatenate([across_z.ravel(), across_r.ravel()])


def _to_air(cell: WholeCell, grid: CellGrid) -> FloatArray:
    """Heat lost to the air per volume and kelvin [W/(m3 K)] at the outside, shape (nz, nr).

    Top, bottom and side of the whole; a hollow inside, and a shoulder below the top, lose nothing.
    """
    rings = np.pi * np.diff(grid.r_faces**2)
    rims = 2.0 * np.pi * grid.r_faces[-1] * np.diff(grid.z_faces)
    area = np.zeros(grid.part.shape)
    area[0] += rings
    area[-1] += rings
    area[:, -1] += rims
    return np.where(grid.active, cell.heat_transfer_W_m2K * area / grid.volume, 0.0)
