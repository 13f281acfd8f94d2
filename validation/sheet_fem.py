"""Independent planar solve: two tip discs on a thin sheet of real outline, by finite elements.

Quadratic triangles (scikit-fem) on half of the sheet; the mid-plane between the tips is ground. The
model under test has no part in it: it knows sheets by closed planar factors only. Resistances are
in squares: multiply by resistivity over thickness. The disc is an inscribed polygon and the energy
of the solution gives the resistance, so both errors fall at least with the square of the spacing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray

BoolArray = npt.NDArray[np.bool_]
Region = Callable[[FloatArray, FloatArray], BoolArray]


@dataclass(frozen=True)
class Sheet:
    """Half of a sheet with one tip disc, all lengths in the same unit.

    Attributes
    ----------
    width, height : (float, float)
        Ranges of x and y that hold the half sheet.
    centre : (float, float)
        Of the tip disc.
    inside : callable
        Where there is metal; applied to centres of triangles and to points.
    ground : callable
        Which boundary edges, by their midpoints, lie on the mid-plane.
    clear : float
        Distance from the centre of the disc to the nearest edge of the sheet.
    rim : callable, optional
        Points of a curved outline, shape (2, n), for a spacing.
    """

    width: tuple[float, float]
    height: tuple[float, float]
    centre: tuple[float, float]
    inside: Region
    ground: Region
    clear: float
    rim: Callable[[float], FloatArray] | None = None


def _everywhere(x: FloatArray, y: FloatArray) -> BoolArray:
    return np.ones(np.shape(x), dtype=np.bool_)


def strip_along(spacing: float, width: float) -> Sheet:
    """Tips along a long strip: ground across it, half way between them."""
    clear = min(0.5 * spacing, 0.5 * width)
    return Sheet(
        (0.0, 0.5 * spacing + 5.0 * width),
        (-0.5 * width, 0.5 * width),
        (0.5 * spacing, 0.0),
        _everywhere,
        lambda x, y: x < 1e-9,
        clear,
    )


def strip_across(spacing: float, width: float, end: float | None = None) -> Sheet:
    """Tips across a strip: ground along its middle; `end` is the distance to the strip's end."""
    left = 4.0 * width if end is None else end
    clear = min(0.5 * spacing, 0.5 * (width - spacing), left)
    return Sheet(
        (-left, 4.0 * width),
        (0.0, 0.5 * width),
        (0.0, 0.5 * spacing),
        _everywhere,
        lambda x, y: y < 1e-9,
        clear,
    )


def slit_strip(spacing: float, width: float, slit: float, past: float, end: float) -> Sheet:
    """Tips on both sides of a slit that is open at the strip's end and runs `past` them."""
    half = 0.5 * slit
    clear = min(0.5 * spacing - half, 0.5 * (width - spacing), end)
    return Sheet(
        (-end, past + 4.0 * width),
        (0.0, 0.5 * width),
        (0.0, 0.5 * spacing),
        lambda x, y: (x > past - 1e-9) | (y > half - 1e-9),
        lambda x, y: (y < 1e-9) & (x > past),
        clear,
    )


def disc(spacing: float, radius: float) -> Sheet:
    """Tips on a round base: ground along a diameter."""

    def rim(h: float) -> FloatArray:
        angle = np.linspace(-0.5 * np.pi, 0.5 * np.pi, int(np.ceil(np.pi * radius / h)) + 1)
        return radius * np.array([np.cos(angle), np.sin(angle)])

    return Sheet(
        (0.0, radius),
        (-radius, radius),
        (0.5 * spacing, 0.0),
        lambda x, y: np.hypot(x, y) <= radius,
        lambda x, y: x < 1e-9,
        min(0.5 * spacing, radius - 0.5 * spacing),
        rim,
    )


def half_squares(sheet: Sheet, tip_radius: float, h: float) -> float:
    """Resistance from one tip disc to the mid-plane in squares, with mesh spacing `h`."""
    from skfem import Basis, ElementTriP2, condense, solve
    from skfem.models.poisson import laplace

    mesh = _mesh(sheet, tip_radius, h)
    x0, y0 = sheet.centre
    basis = Basis(mesh, ElementTriP2())
    tip = basis.get_dofs(lambda x: np.hypot(x[0] - x0, x[1] - y0) < tip_radius * (1.0 + 1e-9))
    ground = basis.get_dofs(lambda x: sheet.ground(x[0], x[1]))
    stiffness = laplace.assemble(basis)
    phi = np.zeros(basis.N)
    phi[tip.all()] = 1.0
    phi = solve(*condense(stiffness, x=phi, D=np.union1d(tip.all(), ground.all())))
    return 1.0 / float(phi @ (stiffness @ phi))


def converged(sheet: Sheet, tip_radius: float, h: float) -> tuple[float, list[float]]:
    """Extrapolate to no spacing, second order; also the values at 4 h, 2 h and h."""
    found = [half_squares(sheet, tip_radius, k * h) for k in (4.0, 2.0, 1.0)]
    return found[2] + (found[2] - found[1]) / 3.0, found


def _mesh(sheet: Sheet, tip_radius: float, h: float) -> object:
    """Triangles between rings around the disc and a square lattice beyond them."""
    from scipy.spatial import Delaunay
    from skfem import MeshTri

    points = _points(sheet, tip_radius, h)
    corners = Delaunay(points.T).simplices.T
    (x, y), (x0, y0) = points, sheet.centre
    mx, my = x[corners].mean(axis=0), y[corners].mean(axis=0)
    (ax, bx, cx), (ay, by, cy) = x[corners], y[corners]
    area = 0.5 * np.abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay))
    keep = (np.hypot(mx - x0, my - y0) > tip_radius * (1.0 - 1e-9)) & sheet.inside(mx, my)
    # The lattice ends on straight edges, where flat triangles of three points in line may arise;
    # a polygon inside the disc has its centroids further in than any triangle outside it.
    corners = corners[:, keep & (area > 1e-6 * h * h)]
    used, corners = np.unique(corners, return_inverse=True)
    return MeshTri(np.ascontiguousarray(points[:, used]), np.ascontiguousarray(corners.reshape(3, -1)))


def _points(sheet: Sheet, tip_radius: float, h: float) -> FloatArray:
    x0, y0 = sheet.centre
    fine = 0.5 * h
    around = int(np.ceil(2.0 * np.pi * tip_radius / fine))
    angle = 2.0 * np.pi * np.arange(around) / around
    radii, growth = [tip_radius], 1.0 + 2.0 * np.pi / around
    while (radii[-1] * (growth - 1.0) < h) and radii[-1] * growth < sheet.clear - 0.5 * h:
        radii.append(radii[-1] * growth)
    rings = [
        (x0 + r * np.cos(angle + 0.5 * k * angle[1]), y0 + r * np.sin(angle + 0.5 * k * angle[1]))
        for k, r in enumerate(radii)
    ]
    ways = [np.linspace(low, high, round((high - low) / h) + 1) for low, high in (sheet.width, sheet.height)]
    x, y = (grid.ravel() for grid in np.meshgrid(*ways))
    away = np.hypot(x - x0, y - y0) > radii[-1] + 0.6 * h
    outline = np.empty((2, 0))
    inside = sheet.inside(x, y)
    if sheet.rim is not None:
        outline = sheet.rim(h)
        inside &= np.hypot(x, y) < np.hypot(*outline[:, 0]) - 0.4 * h
        straight = np.arange(sheet.height[0] + h, sheet.height[1] - 0.5 * h, h)
        outline = np.hstack([outline, [np.zeros_like(straight), straight]])
        inside &= x > 0.5 * h
    lattice = np.array([x, y])[:, away & inside]
    return np.hstack([np.array([np.concatenate(c) for c in zip(*rings, strict=True)]), lattice, outline])
