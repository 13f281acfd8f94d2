"""Planar factor of an outline by FiPy: one diffusion equation on the sheet (manual, theory-planar).

The tips are point sources of +1 and -1 A. A cell that holds one reads the potential of a circle of
radius ``r0 = exp(-gamma) / 4 * sqrt(dx^2 + dy^2)`` (Peaceman, SPE J. 23 (1983) 531; gamma is Euler's
constant), so that the potential of a tip of radius `a` follows by ``ln(a / r0) / (2 pi)`` without
resolving the tip. That is the same reduction as in the closed forms: the field near a tip is taken as
even all round.
"""

from __future__ import annotations

import functools
import math
from itertools import pairwise

import numpy as np

from nugget.arrays import BoolArray, FloatArray
from nugget.grading import graded_faces
from nugget.imports import quiet_fipy
from nugget.outline.shape import Outline
from nugget.outline.store import find, keep

FINE = 100.0
"""Cells per width of the strip near tips and slots."""
RING = 3
"""Cells of one size on each side of a tip, as Peaceman's radius asks for even neighbours."""
FAR = 3.0
"""A strip whose end is not stated ends this many widths behind tips and slots: what is cut off
changes the potential by exp(-2 pi FAR), the slowest that fades along a strip."""
GROWTH = 0.15
COARSE = 6.0


def planar_factor(outline: Outline, tip_radius_m: float) -> float:
    """Planar factor L: half of the resistance between the tips is ``rho / (2 pi t) L``.

    Parameters
    ----------
    outline : Outline
    tip_radius_m : float
        Radius on which the tip's potential is taken [m].

    Returns
    -------
    float
        Infinite when the slots part the strip between the tips.

    Examples
    --------
    >>> from nugget.outline import Outline, planar_factor
    >>> round(planar_factor(Outline("along", 5e-3, 8e-3), 0.75e-3), 2)
    2.48
    """
    if outline.parts:
        return math.inf
    resistance, r0 = solved(outline)
    return math.pi * resistance - math.log(tip_radius_m / r0)


@functools.lru_cache(maxsize=256)
def solved(outline: Outline) -> tuple[float, float]:
    """Resistance between both source cells in squares and the radius that it holds for [m].

    Found among the kept solutions, or solved; the first one that a process solves is kept, as
    the setup at hand, while the thousand variations of a study are not.
    """
    found = find(outline)
    if found is None:
        found = solve(outline)
        if solved.cache_info().misses == 1:
            keep(outline, found)
    return found


def solve(outline: Outline) -> tuple[float, float]:
    """Resistance between both source cells in squares, and the radius that it holds for [m]."""
    (x, y), tips = _faces(outline)
    metal = _metal(outline, x, y)
    dx, dy = np.diff(x), np.diff(y)
    cells = [(int(np.searchsorted(x, tx)) - 1, int(np.searchsorted(y, ty)) - 1) for tx, ty in tips]
    with quiet_fipy():
        from fipy import CellVariable, DiffusionTerm, Grid2D, ImplicitSourceTerm
        from fipy.solvers.scipy import LinearLUSolver

        mesh = Grid2D(dx=dx, dy=dy)
        sigma = CellVariable(mesh=mesh, value=metal.ravel().astype(float))
        potential = CellVariable(mesh=mesh)
        source = np.zeros(metal.shape)
        anchor = np.where(metal, 0.0, 1.0)
        for (i, j), amps in zip(cells, (1.0, -1.0), strict=True):
            source[j, i] = amps / (dx[i] * dy[j])
        # The sheet floats: one cell far from both tips is held at a potential of its own.
        j, i = np.argwhere(metal)[-1]
        anchor[j, i] = 1e-6
        equation = (
            DiffusionTerm(coeff=sigma.harmonicFaceValue)
            - ImplicitSourceTerm(coeff=CellVariable(mesh=mesh, value=anchor.ravel()))
            + CellVariable(mesh=mesh, value=source.ravel())
        )
        equation.solve(var=potential, solver=LinearLUSolver(tolerance=1e-12, iterations=2))
    phi = np.asarray(potential.value).reshape(metal.shape)
    drop = float(phi[cells[0][1], cells[0][0]] - phi[cells[1][1], cells[1][0]])
    radii = [0.25 * math.exp(-np.euler_gamma) * math.hypot(dx[i], dy[j]) for i, j in cells]
    return drop, math.sqrt(radii[0] * radii[1])


def _faces(outline: Outline) -> tuple[tuple[FloatArray, FloatArray], list[tuple[float, float]]]:
    """Cell faces along x (along the strip) and y (across it), and the centres of both tips."""
    s, w, far = outline.spacing_m, outline.width_m, FAR * outline.width_m
    left = _left(outline)
    if outline.tips == "across":
        tips = [(left, 0.5 * (w - s)), (left, 0.5 * (w + s))]
        along = [e for slot in outline.slots for e in (slot.start_m, slot.start_m + slot.length_m)]
        across = [0.5 * (w + sign * slot.width_m) for slot in outline.slots for sign in (-1, 1)]
        reach = max(left, *along) if along else left
    else:
        tips = [(left, 0.5 * w), (left + s, 0.5 * w)]
        reach = left + s
        along = [left + 0.5 * (s + sign * slot.width_m) for slot in outline.slots for sign in (-1, 1)]
        across = [e for slot in outline.slots for e in (slot.start_m, slot.start_m + slot.length_m)]
    right = min(left + outline.length_m - outline.end_m, reach + far) if outline.ends else reach + far
    fine = w / FINE
    x = _axis(0.0, right, sorted({t[0] for t in tips}), along, fine)
    y = _axis(0.0, w, sorted({t[1] for t in tips}), across, fine)
    return (x, y), tips


def _left(outline: Outline) -> float:
    """Where the first tip lies along the strip [m]; slots of tips across it need the true end."""
    if outline.tips == "across" and outline.slots:
        return outline.end_m
    return min(outline.end_m, FAR * outline.width_m)


def _axis(low: float, high: float, tips: list[float], marks: list[float], fine: float) -> FloatArray:
    """Faces that hold every mark, with even cells around each tip and a tip in the middle of one."""
    edges = {low, high, *(m for m in marks if low < m < high)}
    for tip in tips:
        room = min(abs(tip - e) for e in edges)
        step = min(fine, room / (RING + 0.5))
        edges |= {tip + (k + 0.5) * step for k in range(-RING - 1, RING + 1)}
    found = sorted(edges)
    # Marks that coincide but for rounding would leave cells of no width.
    found = [a for a, b in pairwise([*found, math.inf]) if b - a > 1e-6 * fine]
    near = np.array(sorted({*tips, *marks}))

    def spacing(position: FloatArray) -> FloatArray:
        away: FloatArray = np.abs(position[:, None] - near[None, :]).min(axis=1)
        wanted: FloatArray = np.minimum(fine + GROWTH * np.maximum(away - 4.0 * fine, 0.0), COARSE * fine)
        return wanted

    return graded_faces(found, spacing)


def _metal(outline: Outline, x: FloatArray, y: FloatArray) -> BoolArray:
    """Which cells are metal, shape (ny, nx)."""
    cx, cy = 0.5 * (x[1:] + x[:-1])[None, :], 0.5 * (y[1:] + y[:-1])[:, None]
    metal = np.ones((cy.size, cx.size), dtype=bool)
    for slot in outline.slots:
        if outline.tips == "across":
            away, along = np.abs(cy - 0.5 * outline.width_m), cx
        else:
            middle = _left(outline) + 0.5 * outline.spacing_m
            away, along = np.abs(cx - middle), cy
        inside = (along > slot.start_m) & (along < slot.start_m + slot.length_m)
        metal &= ~((away < 0.5 * slot.width_m) & inside)
    return metal
