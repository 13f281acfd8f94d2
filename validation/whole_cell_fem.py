"""Independent transient of a whole cell: trilinear finite elements in space (scikit-fem).

A quarter of the cell, as two spots that lie opposite each other are mirror images in both planes
through the axis. Steps of the trapezoidal rule after a few of backward Euler. Nothing is taken from
the package but the description of the parts.
"""

from __future__ import annotations

import itertools

import numpy as np
import numpy.typing as npt
from scipy import sparse
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementHex1, MeshHex
from skfem.helpers import dot, grad

from nugget.arrays import FloatArray
from nugget.whole_cell import WholeCell

IntArray = npt.NDArray[np.intp]
STEPS, EULER_STEPS = 40, 4
"""Steps to each instant that is read, and how many of them are of backward Euler."""


def pair(
    cell: WholeCell, radius_m: float, patch_m: float, times_s: FloatArray, face: str, cells: tuple[int, int]
) -> dict[str, FloatArray]:
    """Rise after one joule in each of two opposite spots [K/J], at the spot's middle.

    Parameters
    ----------
    cell : WholeCell
    radius_m, patch_m : float
        Distance of the spots from the axis, radius of the patch [m].
    times_s : ndarray
        When it is read; steps end there.
    face : str
        Part whose top face is read, besides the wall's outer face.
    cells : (int, int)
        Elements across the wall's radius and through a quarter of a turn.
    """
    polar, part = _quarter(cell, cells)
    r, angle, z = polar.p
    mesh = MeshHex(np.array([r * np.cos(angle), r * np.sin(angle), z]), polar.t)
    M, K, load = _assembled(cell, mesh, part, radius_m, patch_m)
    below = next(p for p in cell.parts if p.name == face)
    read = [_nearest(polar.p, radius_m, top_m) for top_m in (cell.wall.top_m, below.top_m)]
    wall, inside = _read(M, K, load, times_s, read)
    return {"wall": wall, face: inside}


def _quarter(cell: WholeCell, cells: tuple[int, int]) -> tuple[MeshHex, IntArray]:
    """Mesh of a quarter of the cell in radius, angle and height, and the part of each element."""
    radii = np.concatenate([[1e-6], np.linspace(0.0, cell.wall.outer_m, cells[0] + 1)[1:]])
    edges = sorted({p.outer_m for p in cell.parts} | {p.inner_m for p in cell.parts if p.inner_m > 0.0})
    radii = np.unique(np.round(np.concatenate([radii, edges]), 9))
    mesh = MeshHex.init_tensor(radii, np.linspace(0.0, 0.5 * np.pi, cells[1] + 1), _levels(cell))
    r, _, z = mesh.p[:, mesh.t].mean(axis=1)
    part = np.full(r.size, -1)
    for index, p in enumerate(cell.parts):
        part[(r > p.inner_m) & (r < p.outer_m) & (z > p.bottom_m) & (z < p.top_m)] = index
    return mesh.restrict(np.flatnonzero(part >= 0)), part[part >= 0]


@BilinearForm
def _mass(u, v, w):  # type: ignore[no-untyped-def]
    return w.c * u * v


@BilinearForm
def _stiffness(u, v, w):  # type: ignore[no-untyped-def]
    du, dv = grad(u), grad(v)
    return w.kr * dot(du, dv) + (w.kz - w.kr) * du[2] * dv[2]


def _assembled(
    cell: WholeCell, mesh: MeshHex, part: IntArray, radius_m: float, patch_m: float
) -> tuple[sparse.spmatrix, sparse.spmatrix, FloatArray]:
    """Matrices of storage [J/K] and conduction [W/K], and one joule in the spot."""
    basis = Basis(mesh, ElementHex1())
    one = np.ones_like(basis.dx)
    storage, k_r, k_z = (
        np.array([getattr(p, name) for p in cell.parts])[part][:, None] * one
        for name in ("storage_J_m3K", "k_r", "k_z")
    )
    away = np.hypot(mesh.p[0] - radius_m, mesh.p[1])
    patch = np.where(mesh.p[2] > cell.wall.bottom_m - 1e-9, np.exp(-((away / patch_m) ** 2)), 0.0)
    # Half of one spot lies in the quarter; its heat enters the wall alone, as a load.
    in_wall = np.where(part == cell.parts.index(cell.wall), 1.0, 0.0)[:, None]
    load = _mass.assemble(basis, c=in_wall * one) @ patch
    load *= 0.5 / load.sum()
    return _mass.assemble(basis, c=storage), _stiffness.assemble(basis, kr=k_r, kz=k_z), load


def _read(
    M: sparse.spmatrix, K: sparse.spmatrix, load: FloatArray, times_s: FloatArray, nodes: list[int]
) -> FloatArray:
    """Rise at `nodes` (rows) and times (columns) after the load."""
    state, now = np.zeros(len(load)), 0.0
    found = np.empty((len(nodes), len(times_s)))
    for column, end in enumerate(times_s):
        dt = (end - now) / STEPS
        early, late = (splu(sparse.csc_matrix(M / dt + share * K)) for share in (1.0, 0.5))
        for k in range(STEPS):
            if column == k == 0:
                state = early.solve(load / dt)
            elif k < EULER_STEPS:
                state = early.solve(M @ state / dt)
            else:
                state = late.solve(M @ state / dt - 0.5 * (K @ state))
        now = end
        found[:, column] = state[nodes]
    return found


def _nearest(points: FloatArray, r: float, z: float) -> int:
    return int(np.argmin((points[0] - r) ** 2 + (1e-3 * points[1]) ** 2 + (points[2] - z) ** 2))


def _levels(cell: WholeCell) -> FloatArray:
    """Heights of element layers: fine at every border, coarse in the depth of the roll."""
    marks = np.unique(np.round([e for p in cell.parts for e in (p.bottom_m, p.top_m)], 9))
    levels = [marks[0]]
    for low, high in itertools.pairwise(marks):
        count = 4 if high - low < 2e-3 else 12
        share = np.linspace(0.0, 1.0, count + 1)[1:]
        levels.extend(low + (high - low) * (share if count == 4 else 1.0 - (1.0 - share) ** 2.5))
    return np.array(levels)
