"""Independent transient of a whole cell: trilinear finite elements in space (scikit-fem).

A quarter of the cell, as two spots that lie opposite each other are mirror images in both planes
through the axis. Steps of the trapezoidal rule after a few of backward Euler. Nothing is taken from
the package but the description of the parts.
"""

from __future__ import annotations

import itertools

import numpy as np

from nugget.arrays import FloatArray
from nugget.whole_cell import WholeCell


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
    from scipy import sparse
    from scipy.sparse.linalg import splu
    from skfem import Basis, BilinearForm, ElementHex1, MeshHex
    from skfem.helpers import dot, grad

    z_levels = _levels(cell)
    wall = cell.wall
    r_levels = np.concatenate([[1e-6], np.linspace(0.0, wall.outer_m, cells[0] + 1)[1:]])
    outer = sorted({p.outer_m for p in cell.parts} | {p.inner_m for p in cell.parts if p.inner_m > 0.0})
    r_levels = np.unique(np.round(np.concatenate([r_levels, outer]), 9))
    angles = np.linspace(0.0, 0.5 * np.pi, cells[1] + 1)
    mesh = MeshHex.init_tensor(r_levels, angles, z_levels)
    r, angle, z = mesh.p
    mid_r, _, mid_z = mesh.p[:, mesh.t].mean(axis=1)
    part = np.full(mid_r.size, -1)
    for index, p in enumerate(cell.parts):
        inside = (mid_r > p.inner_m) & (mid_r < p.outer_m) & (mid_z > p.bottom_m) & (mid_z < p.top_m)
        part[inside] = index
    mesh = mesh.restrict(np.flatnonzero(part >= 0))
    part = part[part >= 0]
    r, angle, z = mesh.p
    polar = mesh
    mesh = MeshHex(np.array([r * np.cos(angle), r * np.sin(angle), z]), mesh.t)
    basis = Basis(mesh, ElementHex1())
    storage, k_r, k_z = (
        np.array([getattr(p, name) for p in cell.parts])[part][:, None]
        for name in ("storage_J_m3K", "k_r", "k_z")
    )

    @BilinearForm
    def mass(u, v, w):  # type: ignore[no-untyped-def]
        return w.c * u * v

    @BilinearForm
    def stiffness(u, v, w):  # type: ignore[no-untyped-def]
        du, dv = grad(u), grad(v)
        return w.kr * dot(du, dv) + (w.kz - w.kr) * du[2] * dv[2]

    quadrature = np.ones_like(basis.dx)
    M = mass.assemble(basis, c=storage * quadrature)
    K = stiffness.assemble(basis, kr=k_r * quadrature, kz=k_z * quadrature)
    away = np.hypot(mesh.p[0] - radius_m, mesh.p[1])
    patch = np.where(mesh.p[2] > wall.bottom_m - 1e-9, np.exp(-((away / patch_m) ** 2)), 0.0)
    # Half of one spot lies in the quarter; its heat enters the wall alone, as a load.
    only = mass.assemble(basis, c=np.where(part == cell.parts.index(wall), 1.0, 0.0)[:, None] * quadrature)
    load = only @ patch
    load *= 0.5 / load.sum()
    factor_of = lambda dt, share: splu(sparse.csc_matrix(M / dt + share * K))  # noqa: E731
    spot = _nearest(polar.p, radius_m, wall.top_m)
    inside = next(p for p in cell.parts if p.name == face)
    below = _nearest(polar.p, radius_m, inside.top_m)
    state, now = np.zeros(len(load)), 0.0
    found: dict[str, list[float]] = {"wall": [], face: []}
    first = True
    for end in times_s:
        steps = 40
        dt = (end - now) / steps
        early, late = factor_of(dt, 1.0), factor_of(dt, 0.5)
        for k in range(steps):
            if first:
                state = early.solve(load / dt)
                first = False
            elif k < 4:
                state = early.solve(M @ state / dt)
            else:
                state = late.solve(M @ state / dt - 0.5 * (K @ state))
        now = end
        found["wall"].append(float(state[spot]))
        found[face].append(float(state[below]))
    return {name: np.array(values) for name, values in found.items()}


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
