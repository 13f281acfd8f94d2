"""Answer of the whole cell to the heat of one spot, and to any row of spots by superposition.

Properties are those at room temperature, so the problem is linear and one spot's answer, shifted in
place and time, gives every row. The heat of a spot enters the welded wall at one instant, even
through its thickness and over a patch of the spot's size: what happens in the first tenth of a
second is the weld model's, not this one's.

The equations: manual, theory-interior.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.whole_cell.cell_rings import WholeCell
from nugget.whole_cell.operator import CellGrid, Operator, assemble, build_grid

FIRST_S, LONGEST_S = 0.05, 7200.0
"""First and last instant of an answer."""
PER_DOUBLING = 6
"""Steps before the step doubles: second order in time, half a per cent at this many."""
START = 24
"""Steps up to the first instant."""
FADED = 1e-3
"""Harmonics end when one is smaller everywhere than this share of the mean at the first instant."""
MOST_HARMONICS = 24
GONE = 1e-7
"""A harmonic below this share of its start is nought from there on."""
GAMMA = 1.0 - math.sqrt(0.5)


@dataclass(frozen=True)
class Spot:
    """One spot on the welded end.

    Attributes
    ----------
    x_m, y_m : float
        Place, from the axis of the cell [m].
    time_s : float
        When its heat enters.
    heat_J : float
        What it leaves in the cell.
    """

    x_m: float
    y_m: float
    time_s: float
    heat_J: float


@dataclass(frozen=True)
class Response:
    """Temperature after one joule at a distance from the axis, by harmonics of the angle.

    Attributes
    ----------
    radius_m : float
        Where the heat entered.
    times_s : ndarray, shape (n,)
    r_m : ndarray, shape (nr,)
    faces : dict of str to ndarray, shape (harmonics, n, nr)
        Of each watched face: ``wall`` (mean through its thickness) and the top faces of the parts
        asked for [K/J].
    """

    radius_m: float
    times_s: FloatArray
    r_m: FloatArray
    faces: dict[str, FloatArray]

    def rise(self, face: str, r_m: float, angle_rad: float, after_s: FloatArray) -> FloatArray:
        """Rise [K/J] at a place, `angle_rad` from the spot, at times after its heat entered."""
        return self.read(self.course(face, r_m, angle_rad), after_s)

    def course(self, face: str, r_m: float, angle_rad: float) -> FloatArray:
        """Rise [K/J] at a place at each of `times_s`."""
        values = self.faces[face]
        right = int(np.clip(np.searchsorted(self.r_m, r_m), 1, len(self.r_m) - 1))
        low, high = self.r_m[right - 1], self.r_m[right]
        share = min(max((r_m - low) / (high - low), 0.0), 1.0)
        here = (1.0 - share) * values[..., right - 1] + share * values[..., right]
        turns = np.arange(len(values))
        weights = np.where(turns == 0, 1.0, 2.0) * np.cos(turns * angle_rad)
        return np.asarray(weights @ here)

    def read(self, course_K_J: FloatArray, after_s: FloatArray) -> FloatArray:
        """Read a course at times after the heat entered; nought before, held past both ends."""
        after = np.asarray(after_s, dtype=np.float64)
        at = np.log(np.clip(after, self.times_s[0], self.times_s[-1]))
        return np.where(after > 0.0, np.interp(at, np.log(self.times_s), course_K_J), 0.0)

    def mean(self, face: str, r_end_m: float) -> FloatArray:
        """Mean over a disc of that radius, at `times_s` [K/J]: the first harmonic alone has one."""
        inside = self.r_m < r_end_m
        return np.asarray(np.average(self.faces[face][0][:, inside], axis=1, weights=self.r_m[inside]))


@functools.lru_cache(maxsize=64)
def respond(
    cell: WholeCell, radius_m: float, patch_m: float, watched: tuple[str, ...] = (), refinement: float = 1.0
) -> Response:
    """Answer to one joule in the welded wall at `radius_m` from the axis.

    Parameters
    ----------
    cell : WholeCell
    radius_m : float
        Of the spot's middle [m].
    patch_m : float
        Radius of the patch that the heat enters [m].
    watched : tuple of str
        Names of parts whose top face is watched besides the wall.
    """
    grid = build_grid(cell, refinement)
    views = {"wall": _mean_of(cell, grid, "wall")}
    views |= {name: _top_of(cell, grid, name) for name in watched}
    times: FloatArray = np.array([])
    faces: dict[str, list[FloatArray]] = {name: [] for name in views}
    for m in range(MOST_HARMONICS):
        operator = assemble(cell, grid, m)
        start = _entered(cell, grid, operator, radius_m, patch_m, m)
        times, history = _marched(operator, start)
        for name, view in views.items():
            faces[name].append(_read(grid, history, view))
        if radius_m == 0.0:
            break
        if m > 0 and np.abs(faces["wall"][m]).max() < FADED * np.abs(faces["wall"][0]).max():
            break
    return Response(radius_m, times, grid.r, {name: np.array(v) for name, v in faces.items()})


def _rows_of(cell: WholeCell, grid: CellGrid, name: str) -> np.ndarray:
    index = next(i for i, p in enumerate(cell.parts) if p.name == name)
    return np.flatnonzero((grid.part == index).any(axis=1))


def _mean_of(cell: WholeCell, grid: CellGrid, name: str) -> dict[int, FloatArray]:
    """Weights of the rows, each of shape (nr,), that make the mean through a part."""
    rows = _rows_of(cell, grid, name)
    heights = np.where(grid.part[rows] == grid.part[rows[0], 0], np.diff(grid.z_faces)[rows][:, None], 0.0)
    return dict(zip(rows.tolist(), heights / np.maximum(heights.sum(axis=0), 1e-300), strict=True))


def _top_of(cell: WholeCell, grid: CellGrid, name: str) -> dict[int, FloatArray]:
    """Weights of the rows on both sides of a part's top face that make its face temperature."""
    low = int(_rows_of(cell, grid, name)[-1])
    high = low + 1
    here = cell.parts[grid.part[low, 0]]
    own = np.where(grid.part[low] == grid.part[low, 0], 1.0, 0.0)  # the side may go on in the same row
    if high == len(grid.part) or grid.part[high, 0] < 0:
        return {low: own}
    above = cell.parts[grid.part[high, 0]]
    dz = np.diff(grid.z_faces)
    under = 0.5 * dz[low] / here.k_z
    over = 0.5 * dz[high] / above.k_z + 1.0 / (above.conductance_below_W_m2K or np.inf)
    share = np.where(grid.active[high] & grid.active[low], under / (under + over), 0.0)
    return {low: own * (1.0 - share), high: own * share}


def _entered(
    cell: WholeCell, grid: CellGrid, operator: Operator, radius_m: float, patch_m: float, harmonic: int
) -> FloatArray:
    """Temperature of one harmonic at the start [K/J]: a Gaussian patch of one joule.

    Its mean over the angle at distance r is ``exp(-(r - R)^2 / p^2) I_m(2 r R / p^2) e^-...``.
    """
    from scipy.special import ive

    r, R, p = grid.r, radius_m, patch_m
    ring = np.exp(-(((r - R) / p) ** 2)) * ive(harmonic, 2.0 * r * R / p**2)
    mean = np.exp(-(((r - R) / p) ** 2)) * ive(0, 2.0 * r * R / p**2)
    index = next(i for i, q in enumerate(cell.parts) if q.name == "wall")
    shape = np.where(grid.part == index, ring[None, :], 0.0)
    whole = np.where(grid.part == index, mean[None, :], 0.0).ravel()[grid.active.ravel()]
    start = shape.ravel()[grid.active.ravel()]
    return np.asarray(start / (operator.storage @ whole))


def _marched(operator: Operator, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """March one harmonic by SDIRK2 with steps that double; returns times [s] and states."""
    from scipy import sparse
    from scipy.sparse.linalg import splu

    mass = sparse.diags(operator.storage).tocsc()
    dt, time, state = FIRST_S / START, 0.0, start
    times, states, count = [], [], 0
    most = np.abs(start).max()
    factor = splu(mass + GAMMA * dt * operator.stiffness)
    while time < LONGEST_S:
        doubles = count > 0 and count % (START if time < 1.5 * FIRST_S else PER_DOUBLING) == 0
        dt *= 2.0 if doubles else 1.0
        if np.abs(state).max() > GONE * most:
            if doubles:
                factor = splu(mass + GAMMA * dt * operator.stiffness)
            first = factor.solve(operator.storage * state)
            between = state + ((1.0 - GAMMA) / GAMMA) * (first - state)
            state = factor.solve(operator.storage * between)
        else:
            state = np.zeros_like(state)
        time, count = time + dt, count + 1
        if time > FIRST_S * (1.0 - 1e-9):
            times.append(time)
            states.append(state)
    return np.array(times), np.array(states)


def _read(grid: CellGrid, history: FloatArray, view: dict[int, FloatArray]) -> FloatArray:
    """Weighted rows at each instant, shape (n, nr); past its rim a part goes on as at its rim."""
    nz, nr = grid.part.shape
    whole = np.zeros((len(history), nz * nr))
    whole[:, grid.active.ravel()] = history
    rows = whole.reshape(-1, nz, nr)
    total = np.zeros((len(history), nr))
    there = np.zeros(nr, dtype=bool)
    for row, weight in view.items():
        total += rows[:, row] * weight
        there |= grid.active[row] & (weight > 0.0)
    last = int(np.flatnonzero(there)[-1])
    total[:, last + 1 :] = total[:, last : last + 1]
    return total
