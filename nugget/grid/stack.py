"""The stack of one weld on an axisymmetric tensor grid.

Row 0 is the bottom, column 0 the axis. ``z = 0`` is the faying surface, so the can lies below
zero and the strip above. Cells outside a layer's radius are air and inactive (material -1).

The equations: manual, theory-geometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.contact.laws import ContactLaw
from nugget.grid.layout import LayerRows, axial_faces, contact_radii, radial_faces, stack_layers
from nugget.materials.byvalue import same
from nugget.materials.material import Material
from nugget.outline import planar
from nugget.setup.description import Description
from nugget.setup.layer_kinds import kind_of

IntArray = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Interface:
    """A contact between two rows.

    Attributes
    ----------
    name : {"tip", "faying", "lower tip"}
    above, below : int
        The rows on its two sides; equal when the plane is a mirror.
    columns : int
        Number of columns in which both sides exist.
    first_m, cap_m : float
        Contact radius at the start and its cap [m].
    moves : bool
        Whether the force balance moves the radius.
    law : ContactLaw
    """

    name: str
    above: int
    below: int
    columns: int
    first_m: float
    cap_m: float
    moves: bool
    law: ContactLaw

    @property
    def mirrored(self) -> bool:
        """Whether the other side is the mirror image of this one."""
        return self.above == self.below

    @property
    def lifts(self) -> bool:
        """Whether it parts when the tip is lifted."""
        return "tip" in self.name


@dataclass(frozen=True)
class Ground:
    """Electrical ground of one row: the current leaves at the outer face of `column`.

    `planar_factor` is what lies behind it: resistance = rho / (2 pi dz) * planar_factor.
    """

    row: int
    column: int
    planar_factor: float


@dataclass(frozen=True)
class Grid:
    """Geometry of one weld.

    Attributes
    ----------
    r_faces : ndarray, shape (nr + 1,)
    z_faces : ndarray, shape (nz + 1,)
        Face positions [m].
    material : ndarray of int, shape (nz, nr)
        Index into `materials`, -1 where inactive.
    materials : tuple of Material
    layer_rows : tuple of LayerRows
        Bottom to top.
    interfaces : tuple of Interface
    grounds : tuple of Ground
    bottom : {"insulated", "free", "holder", "mirror"}
    """

    r_faces: FloatArray
    z_faces: FloatArray
    material: IntArray
    materials: tuple[Material, ...]
    layer_rows: tuple[LayerRows, ...]
    interfaces: tuple[Interface, ...]
    grounds: tuple[Ground, ...]
    bottom: str

    @property
    def shape(self) -> tuple[int, int]:
        """Rows, columns."""
        return self.material.shape[0], self.material.shape[1]

    @cached_property
    def dr(self) -> FloatArray:
        return np.diff(self.r_faces)

    @cached_property
    def dz(self) -> FloatArray:
        return np.diff(self.z_faces)

    @cached_property
    def r(self) -> FloatArray:
        """Cell centres [m]."""
        return 0.5 * (self.r_faces[1:] + self.r_faces[:-1])

    @cached_property
    def z(self) -> FloatArray:
        """Cell centres [m]."""
        return 0.5 * (self.z_faces[1:] + self.z_faces[:-1])

    @cached_property
    def area_z(self) -> FloatArray:
        """Horizontal cell areas [m2], shape (nr,)."""
        return np.pi * np.diff(self.r_faces**2)

    @cached_property
    def volume(self) -> FloatArray:
        """Cell volumes [m3], shape (nz, nr).

        The full ring; FiPy's cylindrical grid gives the same per radian (checked in validation).
        """
        return self.dz[:, None] * self.area_z[None, :]

    @cached_property
    def active(self) -> npt.NDArray[np.bool_]:
        return self.material >= 0

    def rows(self, role: str) -> slice:
        """Rows of all layers with this role (they are neighbours)."""
        found = [b for b in self.layer_rows if b.role == role]
        return slice(min(b.start for b in found), max(b.end for b in found)) if found else slice(0, 0)


def build_grid(setup: Description) -> Grid:
    """Lay the grid of `setup`: fine around the contacts, coarse where little happens."""
    mirrored = setup.arrangement == "opposed" and is_symmetric(setup)
    layers = stack_layers(setup, mirrored)
    first, tip_cap, faying_cap = contact_radii(setup)
    r_faces = radial_faces(setup, layers, first, (tip_cap, faying_cap))
    z_faces, layer_rows = axial_faces(setup, layers, first, mirrored)
    metals = [b.material for b in layer_rows] + [b.hole for b in layer_rows if b.hole is not None]
    materials = _distinct(metals)
    material = np.full((len(z_faces) - 1, len(r_faces) - 1), -1, dtype=np.intp)
    outer = r_faces[1:] * (1.0 - 1e-9)
    for band in layer_rows:
        rows, hole = slice(band.start, band.end), outer < band.inner_radius_m
        material[rows, (outer < band.radius_m) & ~hole] = _index(materials, band.material)
        if band.hole is not None:
            material[rows, hole] = _index(materials, band.hole)
    return Grid(
        r_faces=r_faces,
        z_faces=z_faces,
        material=material,
        materials=tuple(materials),
        layer_rows=layer_rows,
        interfaces=_interfaces(setup, layer_rows, material, (first, tip_cap, faying_cap), mirrored),
        grounds=_grounds(setup, layer_rows, r_faces),
        bottom=_bottom(setup, mirrored),
    )


def is_symmetric(setup: Description) -> bool:
    """Whether the stack of an opposed weld is its own mirror image at the faying surface."""
    return len(setup.strip) == len(setup.base) and all(
        (one.thickness_m, one.radius_m) == (other.thickness_m, other.radius_m)
        and _alike(one.material, other.material)
        for one, other in zip(setup.strip, reversed(setup.base), strict=True)
    )


def _distinct(materials: list[Material]) -> list[Material]:
    """Return each material once; two of one name are one only where they hold the same data."""
    found: list[Material] = []
    for material in materials:
        if not any(_alike(material, other) for other in found):
            found.append(material)
    return found


def _index(materials: list[Material], material: Material) -> int:
    return next(index for index, other in enumerate(materials) if _alike(material, other))


def _alike(one: Material, other: Material) -> bool:
    return one.name == other.name and same(one, other)


def _interfaces(
    setup: Description,
    layer_rows: tuple[LayerRows, ...],
    material: IntArray,
    radii: tuple[tuple[float, float], float, float],
    mirrored: bool,
) -> tuple[Interface, ...]:
    (first_tip, first_faying), tip_cap, faying_cap = radii
    contact = setup.contact

    def between(name: str, above: int, below: int, first: float, cap: float, law: ContactLaw) -> Interface:
        both = (material[above] >= 0) & (material[below] >= 0)
        return Interface(name, above, below, int(both.sum()), first, cap, law.grows, law)

    start = {role: next(b.start for b in layer_rows if b.role == role) for role in ("strip", "tip")}
    below_strip = start["strip"] if mirrored else start["strip"] - 1
    found = [
        between("tip", start["tip"], start["tip"] - 1, first_tip, tip_cap, contact.tip),
        between("faying", start["strip"], below_strip, first_faying, faying_cap, contact.faying),
    ]
    lower = next((b for b in reversed(layer_rows) if b.role == "lower tip"), None)
    if lower is not None:
        found.append(between("lower tip", lower.end, lower.end - 1, first_tip, tip_cap, contact.tip))
    return tuple(found)


def _grounds(
    setup: Description, layer_rows: tuple[LayerRows, ...], r_faces: FloatArray
) -> tuple[Ground, ...]:
    if setup.arrangement == "opposed":
        return ()
    s, a, found = setup.spacing_m, setup.face_radius_m, []
    for band in layer_rows:
        if band.role == "strip" and setup.arrangement != "indirect":
            rule = planar.strip_along if setup.arrangement == "series along" else planar.strip_across
            factor, shunt = rule(s, a, setup.strip_width_m), setup.shunt_fraction
        elif band.role == "can":
            factor, shunt = planar.disc(s, a, band.radius_m), 1.0
        else:
            continue
        r_g = planar.ground_radius(s, band.radius_m)
        left = planar.remainder(factor, r_g, a, shunt)
        if math.isfinite(left):
            column = int(np.argmin(np.abs(r_faces - r_g))) - 1
            found += [Ground(row, column, left) for row in range(band.start, band.end)]
    return tuple(found)


def _bottom(setup: Description, mirrored: bool) -> str:
    if setup.arrangement == "opposed":
        return "mirror" if mirrored else "holder"
    return "insulated" if any(kind_of(layer.role).innermost for layer in setup.base) else "free"
