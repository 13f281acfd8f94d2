"""From layers to faces: how fine the grid of one weld is, and where.

Fine around the contacts, coarse where little happens. ``z = 0`` is the faying surface.

The equations: manual, theory-geometry.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.dome import cone, first_radius
from nugget.grading import graded_faces
from nugget.materials.material import Material
from nugget.outline import planar
from nugget.setup.description import Description, Layer
from nugget.setup.layer_kinds import LOWER, kind_of

CELLS_PER_FIRST_RADIUS = 8.0
"""Cells in the first contact radius: within the tabulated range of `nugget.contact.edge_correction`."""
FIXED_CONTACT_CELLS = 24.0
"""Cells in the radius of a contact that never moves, and the coarsest inside any contact."""
FIXED_EDGE_CELLS, FIXED_EDGE_GROWTH = 100.0, 0.15
"""Radial cells at the edge of a contact that never moves: the singular edge lies in the sheet,
beside tip cells that end there, and an even grid overstates the load by 3 %."""
GROWTH_TO_CAP = math.log(1.05)
"""Neighbours differ by 5 % where a growing contact may come to lie: its edge meets cells of like width."""
GROWTH_BEYOND = 0.4
"""Cell width gained per distance outside all contacts, where fields fall off as powers of the radius."""
ROWS_OVER_COLUMNS, ROWS_IN_STRIP = 0.8, 12.0
"""Height of the rows at a contact over the width of its columns, and rows a strip has at least. Under a
hot contact temperature bends along z, not along r: eight square cells over 0.1 mm of strip made its ring
of melt a tenth too wide. Flatter rows that grow faster cost as many cells and a tenth more iterations."""
GROWTH_AXIAL = 0.05
"""Cell height gained per distance from a contact, in sheets. At 0.13 four welds of four benches melted 0.02
to 0.09 of their limit less of the wall than at a third of the spacing; at 0.05 it is 0.01 to 0.03, with an
eighth more cells, and at 0.02 no less."""
GROWTH_TIP = 0.25
"""The same in the electrode, which melts nowhere."""
TIP_COARSENS_RADII = 4.0
"""Growth in the tip doubles over this distance from the contact, in face radii: little happens far up."""
CONE_PIECES = 3
"""Cylinders that stand for the cone behind a rounded face."""
NECK_CELLS, NECK_GROWTH = 4.0, 0.4
"""Rows at the neck, per face radius, under fixed contacts: thick tips with wide shanks take a good part
of the load of a thin sheet, and two rows where the current spreads overstated the load by 3 %."""
GROWTH_INTERIOR = 0.6
"""Cell height gained per distance from the top of an interior layer: the winding's peak is then within 1 %
of its rise of what half the spacing gives; 0.8 is 2.7 % off, and 0.4 with first cells of 20 um 0.7 % with a
fifth more cells."""
ROLL_FIRST_M = 30e-6
"""Height of the first cell of an interior layer: heat crosses it in about 5 ms (1e-7 m2/s), an eighth of
the time to a peak there."""
FEWEST_INSIDE = 6.0
"""Rows of a thin interior layer. Behind a disc of 0.16 mm the winding's rise is 0.2 % and the disc's molten
share 2 % off what rows of 3 um give; with four rows it was 1 % and 5 %."""
COARSEST_INSIDE = 1.0
"""Thin layers of the interior keep their rows on a coarser grid: with three instead of four in a disc its
molten share came out 0.06 of the limit low (six welds through 0.1 mm strip at a refinement of 0.7)."""


@dataclass(frozen=True)
class LayerRows:
    """A run of rows that belong to one layer: name, role, first row, end row, outer radius [m].

    An annular part also has an inner radius [m], and what fills its hole, if anything.
    """

    name: str
    role: str
    start: int
    end: int
    radius_m: float
    material: Material
    conductance_below_W_m2K: float | None = None
    inner_radius_m: float = 0.0
    hole: Material | None = None


class ElectrodePiece(Layer):
    """A cylinder of an electrode, of any size: ranges hold for the electrode that it is cut from."""

    def __post_init__(self) -> None:
        pass


def stack_layers(setup: Description, mirrored: bool) -> list[Layer]:
    """Bottom to top: base, strip; the electrodes are added with the axial grid."""
    base = [] if mirrored else list(reversed(setup.base))
    return base + list(reversed(setup.strip))


def contact_radii(setup: Description) -> tuple[tuple[float, float], float, float]:
    """First radii at the tip and at the faying surface and the two caps [m]."""
    contact = setup.contact
    tip_cap = setup.face_radius_m
    faying_cap = tip_cap + contact.faying_radius_allowance_m
    tip_pair = (setup.electrode.material, setup.strip[0].material)
    faying_pair = (setup.strip[-1].material, setup.base[0].material)
    tip = _first_radius(setup, tip_pair, tip_cap) if contact.tip.grows else tip_cap
    faying = _first_radius(setup, faying_pair, faying_cap) if contact.faying.grows else faying_cap
    return (tip, faying), tip_cap, faying_cap


def _first_radius(setup: Description, pair: tuple[Material, Material], cap_m: float) -> float:
    """Radius [m] under the dome with the softer side at ambient temperature, at most the cap.

    The strip is thinner than the contact is wide and bends with the dome, so both interfaces start
    alike.
    """
    hardness = [float(m.hardness(setup.ambient_K)) for m in pair if m.hardness is not None]
    H = min(hardness) * setup.contact.hardness
    tip = setup.electrode
    return min(cap_m, first_radius(setup.force_N, H, tip.dome_radius_m, tip.worn_flat_m))


def electrode_pieces(setup: Description) -> list[Layer]:
    """The upper electrode from its face to the holder, as cylinders.

    The dome itself is not drawn: up to the edge of the face it rises by a sixteenth of the face.
    """
    electrode, face = setup.electrode, setup.face_radius_m
    shank = max(0.5 * electrode.shank_diameter_m, face)
    if electrode.tip_shape == "rounded":
        *tips, (rest, _) = cone(face, shank, electrode.tip_length_m, CONE_PIECES)
    else:
        tips, rest = [(electrode.tip_length_m, face)], 0.0
    if not tips:
        tips, rest = [(electrode.tip_length_m, face)], 0.0
    pieces = [ElectrodePiece("tip", electrode.material, height, radius) for height, radius in tips]
    return [*pieces, ElectrodePiece("shank", electrode.material, electrode.shank_length_m + rest, shank)]


def _fine_spacing(setup: Description, first: tuple[float, float], cap_m: float) -> float:
    moving = [a for a in first if a < cap_m * (1.0 - 1e-9)]
    fixed = cap_m / FIXED_CONTACT_CELLS
    return min([a / CELLS_PER_FIRST_RADIUS for a in moving] + [fixed])


def radial_faces(
    setup: Description, layers: list[Layer], first: tuple[float, float], caps: tuple[float, float]
) -> FloatArray:
    """Faces along r [m]: at every radius of the stack, fine from the axis to the contacts' caps.

    `first` and `caps` are the first radii and the largest ones at tip and faying surface [m].
    """
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

    marks = {0.0, setup.face_radius_m, *caps, *(piece.radius_m for piece in electrode_pieces(setup))}
    marks |= {layer.radius_m for layer in layers} | {layer.inner_radius_m for layer in layers}
    if setup.arrangement != "opposed":
        marks |= {planar.ground_radius(setup.spacing_m, layer.radius_m) for layer in layers}
    ordered = sorted(marks)
    kept = [ordered[0]] + [b for a, b in pairwise(ordered) if b - a > 1e-9]
    return graded_faces(kept, spacing, setup.numerics.refinement)


def axial_faces(
    setup: Description, layers: list[Layer], first: tuple[float, float], mirrored: bool
) -> tuple[FloatArray, tuple[LayerRows, ...]]:
    """Faces along z [m] and the rows of each layer, electrodes included, bottom to top.

    `layers` are sheets and interior as `stack_layers` gives them, `first` the first radii at tip and faying
    surface [m]; a mirrored stack is its upper half.
    """
    electrode, n = setup.electrode, setup.numerics.refinement
    strip_m = sum(layer.thickness_m for layer in setup.strip)
    columns = _fine_spacing(setup, first, setup.face_radius_m)
    fine = min(ROWS_OVER_COLUMNS * columns, strip_m / ROWS_IN_STRIP)
    face = setup.face_radius_m
    contacts = [0.0, strip_m]
    necks = [] if setup.contact.tip.grows else [strip_m + electrode.tip_length_m]
    tips = electrode_pieces(setup)
    parts = layers + tips
    base_m = 0.0 if mirrored else sum(layer.thickness_m for layer in setup.base)
    if setup.arrangement == "opposed" and not mirrored:
        parts = [replace(t, role=LOWER + t.role) for t in reversed(tips)] + parts
        contacts.append(-base_m)
        necks += [-base_m - electrode.tip_length_m] if necks else []
        base_m += electrode.tip_length_m + electrode.shank_length_m
    faces, layer_rows, z = [np.array([-base_m])], [], -base_m
    for layer in parts:
        top = z + layer.thickness_m
        if layer.role == "strip":
            top = min(top, strip_m) if abs(top - strip_m) > 1e-12 else strip_m
        elif abs(top) < 1e-12:
            top = 0.0
        fineness = max(n, COARSEST_INSIDE) if kind_of(layer.role).spacing == "own top" else n
        part = graded_faces([z, top], _axial_spacing(layer, contacts, necks, (fine, face), top), fineness)[1:]
        start = sum(len(f) for f in faces) - 1
        layer_rows.append(
            LayerRows(
                layer.material.title,
                layer.role,
                start,
                start + len(part),
                layer.radius_m,
                layer.material,
                layer.conductance_below_W_m2K,
                layer.inner_radius_m,
                layer.hole,
            )
        )
        faces.append(part)
        z = top
    return np.concatenate(faces), tuple(layer_rows)


def _axial_spacing(
    layer: Layer, contacts: list[float], necks: list[float], sizes: tuple[float, float], top: float
) -> Callable[[FloatArray], FloatArray]:
    """Wanted cell height in one layer: grows with the distance to the nearest contact, and to a neck.

    `sizes` are the height at a contact and the face radius [m].
    Interior layers also start fine at their own top: heat enters them slowly and steeply.
    """
    fine, face = sizes
    kind = kind_of(layer.role)
    sheet = kind.spacing == "contacts"
    growth = GROWTH_AXIAL if sheet else GROWTH_TIP
    coarsening = 0.0 if sheet else growth / (TIP_COARSENS_RADII * face)

    def near_contacts(z: FloatArray) -> FloatArray:
        distance = _nearest(z, contacts)
        wanted = fine + (growth + coarsening * distance) * distance
        if necks and not sheet:
            wanted = np.minimum(wanted, face / NECK_CELLS + NECK_GROWTH * _nearest(z, necks))
        return np.asarray(wanted, dtype=np.float64)

    def interior(z: FloatArray) -> FloatArray:
        own = min(ROLL_FIRST_M, layer.thickness_m / FEWEST_INSIDE) + GROWTH_INTERIOR * (top - z)
        return np.asarray(
            np.minimum(own, max(layer.thickness_m / FEWEST_INSIDE, ROLL_FIRST_M)), dtype=np.float64
        )

    def deep(z: FloatArray) -> FloatArray:
        return np.asarray(ROLL_FIRST_M + GROWTH_INTERIOR * (top - z), dtype=np.float64)

    return {"own top": interior, "deep": deep}.get(kind.spacing, near_contacts)


def _nearest(z: FloatArray, places: list[float]) -> FloatArray:
    """Distance to the nearest of the places [m]."""
    return np.asarray(np.abs(z - np.array(places)[:, None]).min(axis=0), dtype=np.float64)
