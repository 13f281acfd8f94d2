"""Meshes of the finite element peer: one body per side of a contact, its own spacing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.grid.stack import Grid
from nugget.materials.material import Material
from nugget.outline import planar
from nugget.setup import Setup

FINE_CELLS = 36.0
FIRST_AXIAL_M = 12e-6


@dataclass(frozen=True)
class Slab:
    """One layer of a body: material, bottom and top [m], outer radius [m], planar ground or None."""

    material: Material
    low: float
    high: float
    radius_m: float
    ground: tuple[float, float] | None = None


@dataclass(frozen=True)
class Body:
    """A mesh with the slab of each element; `bottom` and `top` list its nodes there by radius."""

    mesh: Any
    slabs: tuple[Slab, ...]
    element_slab: npt.NDArray[np.intp]
    bottom: npt.NDArray[np.intp]
    top: npt.NDArray[np.intp]


def spread(low: float, high: float, size: Callable[[float], float]) -> list[float]:
    """Points from `low` to `high`, spaced by `size`, evenly stretched to end at `high`."""
    points = [low]
    while points[-1] < high:
        points.append(points[-1] + size(points[-1]))
    x = np.array(points)
    return list(low + (x - low) * (high - low) / (x[-1] - low))


def radial(given: Setup, slabs: Sequence[Slab], fineness: float) -> FloatArray:
    """Even spacing under the tip, growing outside; through every radius that matters."""
    cap = max(given.face_radius_m, given.face_radius_m + given.contact.faying_radius_allowance_m)
    fine = cap / FINE_CELLS
    marks = {0.0, given.face_radius_m, cap} | {s.radius_m for s in slabs}
    marks |= {s.ground[0] for s in slabs if s.ground}
    ordered = sorted(marks)
    r: list[float] = [0.0]
    for low, high in pairwise(ordered):
        if high - low > 1e-9:
            r += spread(low, high, lambda x: (fine + 0.22 * max(x - cap, 0.0)) / fineness)[1:]
    return np.array(r)


def axial(slab: Slab, contacts: Sequence[float], fineness: float) -> list[float]:
    """Fine towards contacts."""

    # Sheets fine throughout; tips and the interior coarser away from the contact.
    growth = 0.06 if slab.high - slab.low < 0.6e-3 else 0.25

    def size(z: float) -> float:
        return (FIRST_AXIAL_M + growth * min(abs(z - c) for c in contacts)) / fineness

    return spread(slab.low, slab.high, size)


def slabs_of(given: Setup, grid: Grid) -> list[list[Slab]]:
    """The bodies of a setup, bottom to top (geometry written anew; theory: geometry)."""
    mirrored = grid.bottom == "mirror"
    strip = sum(layer.thickness_m for layer in given.strip)
    bodies: list[list[Slab]] = []
    z = -sum(layer.thickness_m for layer in given.base)
    lower = []
    for layer in reversed(given.base):
        ground = None
        if given.arrangement.startswith("series") and layer.role == "can":
            ground = _ground(
                given, planar.disc(given.spacing_m, given.face_radius_m, layer.radius_m), layer.radius_m
            )
        lower.append(Slab(layer.material, z, z + layer.thickness_m, layer.radius_m, ground))
        z += layer.thickness_m
    if not mirrored:
        lower[-1] = Slab(lower[-1].material, lower[-1].low, 0.0, lower[-1].radius_m, lower[-1].ground)
        bodies.append(lower)
    middle, z = [], 0.0
    for layer in reversed(given.strip):
        ground = None
        if given.arrangement.startswith("series") and given.shunt_fraction > 0.0:
            rule = planar.strip_along if given.arrangement == "series along" else planar.strip_across
            factor = rule(given.spacing_m, given.face_radius_m, given.strip_width_m)
            ground = _ground(given, factor, layer.radius_m, given.shunt_fraction)
        middle.append(Slab(layer.material, z, z + layer.thickness_m, layer.radius_m, ground))
        z += layer.thickness_m
    bodies.append(middle)
    bodies.append(_electrode(given, strip))
    return bodies


def _electrode(given: Setup, z: float) -> list[Slab]:
    """From the height `z` of its face to the holder: one cylinder, or those that stand for a cone; shank.

    Behind a rounded face each of three steps to the shank's radius lies where the cone is half way up it.
    """
    tip, face = given.electrode, given.face_radius_m
    shank = max(0.5 * tip.shank_diameter_m, face)
    ends, radii = [z + tip.tip_length_m], [face]
    if tip.tip_shape == "rounded":
        ends = [z + tip.tip_length_m * share for share in (1 / 6, 1 / 2, 5 / 6)]
        radii = [face + (shank - face) * share for share in (0.0, 1 / 3, 2 / 3)]
    ends.append(z + tip.tip_length_m + tip.shank_length_m)
    radii.append(shank)
    return [
        Slab(tip.material, low, high, radius)
        for low, high, radius in zip([z, *ends[:-1]], ends, radii, strict=True)
    ]


def _ground(given: Setup, factor: float, radius_m: float, shunt: float = 1.0) -> tuple[float, float]:
    r_g = min(given.spacing_m, 0.9 * radius_m)
    return r_g, max(factor - np.log(r_g / given.face_radius_m), 0.0) + factor * (1.0 / shunt - 1.0)


def body(slabs: list[Slab], r: FloatArray, contacts: Sequence[float], fineness: float) -> Body:
    """Mesh one body; elements outside a slab's radius are left out."""
    import skfem

    z: list[float] = [slabs[0].low]
    for slab in slabs:
        z += axial(slab, contacts, fineness)[1:]
    zs = np.array(z)
    whole = skfem.MeshQuad.init_tensor(r, zs)
    middle = whole.p[:, whole.t].mean(axis=1)
    tops = np.array([s.high for s in slabs])
    index = np.minimum(np.searchsorted(tops, middle[1]), len(slabs) - 1)
    keep = middle[0] < np.array([s.radius_m for s in slabs])[index]
    mesh = whole.restrict(np.flatnonzero(keep))
    middle = mesh.p[:, mesh.t].mean(axis=1)
    index = np.minimum(np.searchsorted(tops, middle[1]), len(slabs) - 1)

    def row(at: float) -> npt.NDArray[np.intp]:
        nodes = np.flatnonzero(np.abs(mesh.p[1] - at) < 1e-10)
        return nodes[np.argsort(mesh.p[0, nodes])]

    return Body(mesh, tuple(slabs), index.astype(np.intp), row(slabs[0].low), row(slabs[-1].high))
