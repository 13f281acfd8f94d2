"""The stack of one weld on an axisymmetric tensor grid.

Row 0 is the bottom, column 0 the axis. ``z = 0`` is the faying surface, so the can lies below
zero and the strip above. Cells outside a layer's radius are air and inactive (material -1).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from nugget.contact.laws import ContactLaw
from nugget.grid import planar
from nugget.grid.axis import graded_faces
from nugget.materials.material import Material
from nugget.setup.description import Layer, Setup

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.intp]

CELLS_PER_FIRST_RADIUS = 8.0
FIXED_CONTACT_CELLS = 24.0
FIXED_EDGE_CELLS, FIXED_EDGE_GROWTH = 100.0, 0.15
"""Radial cells at the edge of a contact that never moves: the singular edge lies in the sheet,
beside tip cells that end there, and an even grid overstates the load by 3 %."""
GROWTH_TO_CAP = math.log(1.05)
GROWTH_BEYOND = 0.4
GROWTH_AXIAL = 0.1
GROWTH_TIP = 0.2
TIP_COARSENS_RADII = 4.0
"""Growth in the tip doubles over this distance from the contact, in face radii: little happens far up."""
NECK_CELLS, NECK_GROWTH = 4.0, 0.4
"""Rows at the neck, per face radius, under fixed contacts: thick tips with wide shanks take a good part
of the load of a thin sheet, and two rows where the current spreads overstated the load by 3 %."""
GROWTH_INTERIOR = 0.4
ROLL_FIRST_M = 20e-6


@dataclass(frozen=True)
class Band:
    """A run of rows that belong to one layer: name, role, first row, end row, outer radius [m]."""

    name: str
    role: str
    start: int
    end: int
    radius_m: float
    material: Material
    conductance_below_W_m2K: float | None = None


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
    bands : tuple of Band
        Bottom to top.
    interfaces : tuple of Interface
    grounds : tuple of Ground
    bottom : {"insulated", "free", "holder", "mirror"}
    """

    r_faces: FloatArray
    z_faces: FloatArray
    material: IntArray
    materials: tuple[Material, ...]
    bands: tuple[Band, ...]
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
        """Rows of all bands with this role (they are neighbours)."""
        found = [b for b in self.bands if b.role == role]
        return slice(min(b.start for b in found), max(b.end for b in found)) if found else slice(0, 0)


def build_grid(setup: Setup) -> Grid:
    """Lay the grid of `setup`: fine around the contacts, coarse where little happens."""
    mirrored = setup.arrangement == "opposed" and is_symmetric(setup)
    layers = _pile(setup, mirrored)
    first, tip_cap, faying_cap = _contact_radii(setup)
    r_faces = _radial_faces(setup, layers, first, (tip_cap, faying_cap))
    z_faces, bands = _axial_faces(setup, layers, first, mirrored)
    materials = tuple(dict.fromkeys(_Hashed(b.material) for b in bands))
    material = np.full((len(z_faces) - 1, len(r_faces) - 1), -1, dtype=np.intp)
    outer = r_faces[1:] * (1.0 - 1e-9)
    for band in bands:
        material[band.start : band.end, outer < band.radius_m] = materials.index(_Hashed(band.material))
    return Grid(
        r_faces=r_faces,
        z_faces=z_faces,
        material=material,
        materials=tuple(h.material for h in materials),
        bands=bands,
        interfaces=_interfaces(setup, bands, material, (first, tip_cap, faying_cap), mirrored),
        grounds=_grounds(setup, bands, r_faces),
        bottom=_bottom(setup, mirrored),
    )


def is_symmetric(setup: Setup) -> bool:
    """Whether the stack of an opposed weld is its own mirror image at the faying surface."""
    upper = [(s.material.name, s.thickness_m, s.radius_m) for s in setup.strip]
    lower = [(s.material.name, s.thickness_m, s.radius_m) for s in reversed(setup.base)]
    return upper == lower


class _Hashed:
    """A material that compares by identity of name and origin, for use as a dict key."""

    def __init__(self, material: Material) -> None:
        self.material = material
        self.key = (material.name, material.origin)

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Hashed) and self.key == other.key


def _pile(setup: Setup, mirrored: bool) -> list[Layer]:
    """Bottom to top: base, strip; the electrodes are added with the axial grid."""
    base = [] if mirrored else list(reversed(setup.base))
    return base + list(reversed(setup.strip))


def _contact_radii(setup: Setup) -> tuple[tuple[float, float], float, float]:
    """First radii at the tip and at the faying surface and the two caps [m], factor included."""
    contact, factor = setup.contact, setup.contact.radius_factor
    tip_cap = setup.face_radius_m
    faying_cap = tip_cap + contact.spread_m * factor
    if contact.imprint_diameter_m is not None:
        tip_cap = min(tip_cap, 0.5 * contact.imprint_diameter_m * factor)
        faying_cap = 0.5 * contact.imprint_diameter_m * factor
        return (tip_cap, faying_cap), tip_cap, faying_cap
    tip_pair = (setup.electrode.material, setup.strip[0].material)
    faying_pair = (setup.strip[-1].material, setup.base[0].material)
    tip = _first_radius(setup, tip_pair, tip_cap) if contact.tip.grows else tip_cap
    faying = _first_radius(setup, faying_pair, faying_cap) if contact.faying.grows else faying_cap
    return (tip, faying), tip_cap, faying_cap


def _first_radius(setup: Setup, pair: tuple[Material, Material], cap_m: float) -> float:
    """a_c = sqrt(F / (pi H)) with the softer side at ambient temperature, at most the cap [m]."""
    hardness = [float(m.hardness(setup.ambient_K)) for m in pair if m.hardness is not None]
    H = min(hardness) * setup.contact.hardness_factor
    return min(cap_m, setup.contact.radius_factor * math.sqrt(setup.force_N / (math.pi * H)))


def _fine_spacing(setup: Setup, first: tuple[float, float], cap_m: float) -> float:
    moving = [a for a in first if a < cap_m * (1.0 - 1e-9)]
    fixed = cap_m / FIXED_CONTACT_CELLS
    return min([a / CELLS_PER_FIRST_RADIUS for a in moving] + [fixed])


def _radial_faces(
    setup: Setup, layers: list[Layer], first: tuple[float, float], caps: tuple[float, float]
) -> FloatArray:
    cap = max(caps)
    fine = _fine_spacing(setup, first, cap)
    moving = [a for a in first if a < cap * (1.0 - 1e-9)]
    flat = 1.5 * max(moving) if moving else cap

    def spacing(r: FloatArray) -> FloatArray:
        inside = fine + GROWTH_TO_CAP * np.clip(r - flat, 0.0, max(cap - flat, 0.0))
        if not moving:
            inside = np.minimum(inside, cap / FIXED_EDGE_CELLS + FIXED_EDGE_GROWTH * np.abs(r - cap))
        beyond = FIXED_EDGE_GROWTH if not moving else GROWTH_BEYOND
        return np.asarray(inside + beyond * np.maximum(r - cap, 0.0), dtype=np.float64)

    shank = 0.5 * setup.electrode.shank_diameter_m
    marks = {0.0, setup.face_radius_m, *caps, max(shank, setup.face_radius_m)}
    marks |= {layer.radius_m for layer in layers}
    if setup.arrangement != "opposed":
        marks |= {planar.ground_radius(setup.spacing_m, layer.radius_m) for layer in layers}
    ordered = sorted(marks)
    kept = [ordered[0]] + [b for a, b in pairwise(ordered) if b - a > 1e-9]
    return graded_faces(kept, spacing, setup.numerics.refinement)


def _axial_faces(
    setup: Setup, layers: list[Layer], first: tuple[float, float], mirrored: bool
) -> tuple[FloatArray, tuple[Band, ...]]:
    electrode, n = setup.electrode, setup.numerics.refinement
    strip_m = sum(layer.thickness_m for layer in setup.strip)
    fine = min(_fine_spacing(setup, first, setup.face_radius_m), strip_m / 8.0)
    face, shank = setup.face_radius_m, max(0.5 * electrode.shank_diameter_m, setup.face_radius_m)
    contacts = [0.0, strip_m]
    necks = [] if setup.contact.tip.grows else [strip_m + electrode.tip_length_m]
    tips = [
        Layer("tip", electrode.material, electrode.tip_length_m, face),
        Layer("shank", electrode.material, electrode.shank_length_m, shank),
    ]
    pile = layers + tips
    base_m = 0.0 if mirrored else sum(layer.thickness_m for layer in setup.base)
    if setup.arrangement == "opposed" and not mirrored:
        pile = [replace(t, role="lower " + t.role) for t in reversed(tips)] + pile  # type: ignore[arg-type]
        contacts.append(-base_m)
        necks += [-base_m - electrode.tip_length_m] if necks else []
        base_m += electrode.tip_length_m + electrode.shank_length_m
    faces, bands, z = [np.array([-base_m])], [], -base_m
    for layer in pile:
        top = z + layer.thickness_m
        if layer.role == "strip":
            top = min(top, strip_m) if abs(top - strip_m) > 1e-12 else strip_m
        elif abs(top) < 1e-12:
            top = 0.0
        part = graded_faces([z, top], _axial_spacing(layer, contacts, necks, (fine, face), top), n)[1:]
        start = sum(len(f) for f in faces) - 1
        bands.append(
            Band(
                layer.material.title,
                layer.role,
                start,
                start + len(part),
                layer.radius_m,
                layer.material,
                layer.conductance_below_W_m2K,
            )
        )
        faces.append(part)
        z = top
    return np.concatenate(faces), tuple(bands)


def _axial_spacing(
    layer: Layer, contacts: list[float], necks: list[float], sizes: tuple[float, float], top: float
) -> Callable[[FloatArray], FloatArray]:
    """Wanted cell height in one layer: grows with the distance to the nearest contact, and to a neck.

    `sizes` are the height at a contact and the face radius [m].
    Interior layers also start fine at their own top: heat enters them slowly and steeply.
    """
    fine, face = sizes
    sheet = layer.role in ("strip", "can")
    growth = GROWTH_AXIAL if sheet else GROWTH_TIP
    coarsening = 0.0 if sheet else growth / (TIP_COARSENS_RADII * face)

    def near_contacts(z: FloatArray) -> FloatArray:
        distance = _nearest(z, contacts)
        wanted = fine + (growth + coarsening * distance) * distance
        if necks and not sheet:
            wanted = np.minimum(wanted, face / NECK_CELLS + NECK_GROWTH * _nearest(z, necks))
        return np.asarray(wanted, dtype=np.float64)

    def interior(z: FloatArray) -> FloatArray:
        own = min(ROLL_FIRST_M, layer.thickness_m / 6.0) + GROWTH_INTERIOR * (top - z)
        return np.asarray(np.minimum(own, max(layer.thickness_m / 6.0, ROLL_FIRST_M)), dtype=np.float64)

    def roll(z: FloatArray) -> FloatArray:
        return np.asarray(ROLL_FIRST_M + GROWTH_INTERIOR * (top - z), dtype=np.float64)

    if layer.role in ("gap", "disc"):
        return interior
    return roll if layer.role == "roll" else near_contacts


def _nearest(z: FloatArray, places: list[float]) -> FloatArray:
    """Distance to the nearest of the places [m]."""
    return np.asarray(np.abs(z[:, None] - np.array(places)[None, :]).min(axis=1), dtype=np.float64)


def _interfaces(
    setup: Setup,
    bands: tuple[Band, ...],
    material: IntArray,
    radii: tuple[tuple[float, float], float, float],
    mirrored: bool,
) -> tuple[Interface, ...]:
    (first_tip, first_faying), tip_cap, faying_cap = radii
    contact = setup.contact
    free = contact.imprint_diameter_m is None

    def between(name: str, above: int, below: int, first: float, cap: float, law: ContactLaw) -> Interface:
        both = (material[above] >= 0) & (material[below] >= 0)
        return Interface(name, above, below, int(both.sum()), first, cap, free and law.grows, law)

    start = {role: next(b.start for b in bands if b.role == role) for role in ("strip", "tip")}
    below_strip = start["strip"] if mirrored else start["strip"] - 1
    found = [
        between("tip", start["tip"], start["tip"] - 1, first_tip, tip_cap, contact.tip),
        between("faying", start["strip"], below_strip, first_faying, faying_cap, contact.faying),
    ]
    lower = next((b for b in bands if b.role == "lower tip"), None)
    if lower is not None:
        found.append(between("lower tip", lower.end, lower.end - 1, first_tip, tip_cap, contact.tip))
    return tuple(found)


def _grounds(setup: Setup, bands: tuple[Band, ...], r_faces: FloatArray) -> tuple[Ground, ...]:
    if setup.arrangement == "opposed":
        return ()
    s, a, found = setup.spacing_m, setup.face_radius_m, []
    for band in bands:
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


def _bottom(setup: Setup, mirrored: bool) -> str:
    if setup.arrangement == "opposed":
        return "mirror" if mirrored else "holder"
    return "insulated" if any(layer.role == "roll" for layer in setup.base) else "free"
