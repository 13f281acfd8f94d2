"""The finished joint in service: its resistance, its heat at a pack current, the spots needed.

Current comes along the strip from far away, enters every spot and leaves through the rim of the
can's base. Around each spot the field is solved on an axisymmetric grid of strip and can alone,
joined by the bonded area only, from a ring in the strip to a ring in the can; the mere contact
around the spot counts for nothing. Between and beyond the rings the sheets are planar: the strip
by images between its edges, the can's base as a disc with its rim at one potential. The spots
share the current as these resistances make them.

The resistance is counted from the strip's potential, taken on as if it were plain up to the
first spot: it holds what the joint adds to the strip. The equations: manual, theory-interior.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.edge_correction import resolved_radius
from nugget.contact.laws import FLOOR_OHM_M2, MetallicContact
from nugget.contact.spot import coverage
from nugget.errors import InputError, NuggetError
from nugget.field.electric import ElectricalContact, ElectricField
from nugget.followup.places import places
from nugget.grading import graded_faces
from nugget.grid.layout import LayerRows
from nugget.grid.stack import Grid, Ground, Interface
from nugget.setup import Setup
from nugget.setup.description import Layer

CELLS_PER_RADIUS = 14.0
FEED_M = 1e-5
CONDUCTS_S_M = 1e14
"""Of the ring that feeds the strip: everything on it is at one potential."""
MOST_WELDS = 12
FIELD_EVENS_OUT, LEAST_ROOM = 3.0, 0.5
"""The field around a spot is planar this many thicknesses beyond it; and the least, where an edge is
nearer: what is left out then is a few per cent of the spot's own resistance."""
USUAL_HEAT_W = 0.1
"""Heat of a joint that a pack bears: assumption, a tenth of what makes a strip end warm."""


class NoJoint(NuggetError):
    """The weld has left nothing whose resistance could be worked out."""


@dataclass(frozen=True)
class Joint:
    """The joint of some welds in service.

    Attributes
    ----------
    welds, spots : int
    resistance_ohm : float
        Of all spots together.
    local_ohm : float
        Of one spot between its rings.
    shares : tuple of float
        Of the current in each spot.
    strip_ohm_m : float
        Of the plain strip, per length.
    """

    welds: int
    spots: int
    resistance_ohm: float
    local_ohm: float
    shares: tuple[float, ...]
    strip_ohm_m: float

    @property
    def as_strip_m(self) -> float:
        """Length of plain strip with the same resistance [m]."""
        return self.resistance_ohm / self.strip_ohm_m

    def heat_W(self, current_A: float) -> float:
        """Heat at a current through the whole joint [W]."""
        return self.resistance_ohm * current_A**2


@dataclass(frozen=True)
class Service:
    """A joint at a pack current.

    Attributes
    ----------
    joint : Joint
        Of one weld.
    current_A : float
    allowed_W : float
    needed : Joint or None
        Fewest welds whose heat is allowed; None when more than fit would be.
    fits : int
        Welds that fit on the cell's end.
    """

    joint: Joint
    current_A: float
    allowed_W: float
    needed: Joint | None
    fits: int


def serve(
    setup: Setup, figures: Mapping[str, Any], current_A: float, allowed_W: float = USUAL_HEAT_W
) -> Service:
    """Work out the joint that a weld has left.

    Parameters
    ----------
    setup : Setup
    figures : mapping
        Of the weld; its fused zone is what is bonded.
    current_A : float
        Pack current through this joint.
    allowed_W : float
        Heat that the joint may make.

    Raises
    ------
    InputError
        When the numbers cannot be.
    NoJoint
        When nothing fused, or a spot does not fit.
    """
    for name, value in (("service", current_A), ("service heat", allowed_W)):
        if not 0.0 < value < math.inf:
            raise InputError(name, value, "more than zero")
    outer_m = 0.5 * float(figures["nugget_outer_diameter_m"])
    if outer_m <= 0.0:
        raise NoJoint("nothing fused, so there is no joint to carry a current")
    bonded = 0.5 * float(figures["nugget_inner_diameter_m"]), outer_m
    local, ring_m = local_resistance(setup, bonded, reach_m=_room(setup))
    joints = []
    for welds in range(1, MOST_WELDS + 1):
        places = _places(setup, welds, ring_m)
        if places is None:
            break
        joints.append(_joint(setup, places, welds, local, ring_m))
    if not joints:
        room, least = 1e3 * _room(setup), 1e3 * outer_m
        raise NoJoint(
            f"around a spot of {2.0 * least:.2f} mm there are only {room:.2f} mm to the edge of the cell's"
            " end, of the strip or to the other tip: other tip spacing, or a smaller spot"
        )
    needed = next((joint for joint in joints if joint.heat_W(current_A) <= allowed_W), None)
    return Service(joints[0], current_A, allowed_W, needed, len(joints))


def local_resistance(
    setup: Setup, bonded_m: tuple[float, float], refinement: float = 1.0, reach_m: float = math.inf
) -> tuple[float, float]:
    """Resistance [ohm] of one spot between rings in strip and can, and the rings' radius [m].

    Parameters
    ----------
    setup : Setup
    bonded_m : (float, float)
        Inner and outer radius of the bonded ring; inner 0 for a full spot.
    refinement : float
        Divides the grid spacing.
    reach_m : float
        Largest radius of the rings; at least a tenth of a wall beyond the spot is kept.
    """
    wall = [layer for layer in setup.base if layer.role == "can"]
    thick_m = max(sum(w.thickness_m for w in wall), sum(s.thickness_m for s in setup.strip))
    ring_m = max(min(bonded_m[1] + FIELD_EVENS_OUT * thick_m, reach_m), bonded_m[1] + LEAST_ROOM * thick_m)
    grid = _grid(setup, wall, bonded_m, ring_m, refinement)
    sigma = np.array([_conductivity(m, setup.ambient_K) for m in grid.materials])[
        np.maximum(grid.material, 0)
    ]
    strip = grid.rows("strip")
    sigma[strip.start :, -1] = CONDUCTS_S_M
    interface = grid.interfaces[0]
    height_m = 0.5 * (grid.dz[interface.above] + grid.dz[interface.below])
    covered = coverage(resolved_radius(bonded_m[1], grid.r_faces, height_m), grid.r_faces)
    if bonded_m[0] > 0.0:
        covered = covered - coverage(bonded_m[0], grid.r_faces)
    electrical_contact = ElectricalContact(np.clip(covered, 0.0, 1.0), np.full(grid.shape[1], FLOOR_OHM_M2))
    return ElectricField(grid).solve(sigma, [electrical_contact]).resistance_ohm, ring_m


def _room(setup: Setup) -> float:
    """Radius [m] around the spots of one weld that is free of edges and of the other tip's half."""
    half = 0.5 * setup.spacing_m if setup.arrangement.startswith("series") else 0.0
    across = half if setup.arrangement == "series across" else 0.0
    room = min(setup.base[0].radius_m - half, 2.0 * (0.5 * setup.strip_width_m - across))
    return min(room, half) if half > 0.0 else room


def _conductivity(material: Any, temperature_K: float) -> float:
    return 1.0 / float(material.resistivity(temperature_K))


def _grid(
    setup: Setup, wall: Sequence[Layer], bonded_m: tuple[float, float], ring_m: float, refinement: float
) -> Grid:
    """Can and strip around one spot, with a thin feeding ring on the strip's outermost column."""
    inner_m, outer_m = bonded_m
    fine = (outer_m - inner_m) / CELLS_PER_RADIUS

    def along_r(r: FloatArray) -> FloatArray:
        edge = np.minimum(np.abs(r - outer_m), np.abs(r - inner_m) if inner_m > 0.0 else np.inf)
        return np.asarray(fine + 0.15 * edge, dtype=np.float64)

    marks = [0.0, *([inner_m] if inner_m > 0.0 else []), outer_m, ring_m, ring_m * 1.02]
    r_faces = graded_faces(marks, along_r, refinement)
    z_faces, layer_rows = _stacked(wall, setup.strip, ring_m, fine, refinement)
    rows, columns = len(z_faces) - 1, len(r_faces) - 1
    layer_rows.append(LayerRows("feed", "tip", rows, rows + 1, ring_m, setup.strip[0].material))
    materials = tuple({id(band.material): band.material for band in layer_rows}.values())
    names = [id(m) for m in materials]
    material = np.full((rows + 1, columns), -1, dtype=np.intp)
    for band in layer_rows:
        material[band.start : band.end] = names.index(id(band.material))
    material[rows, :-1] = -1
    first = next(band for band in layer_rows if band.role == "strip").start
    # In the can the outermost column would make its ring wider than the strip's: cut it off.
    ends = columns - _beyond(r_faces, ring_m)
    material[:first, ends:] = -1
    grounds = tuple(Ground(row, ends - 1, 0.0) for row in range(first))
    faying = Interface("faying", first, first - 1, columns, outer_m, outer_m, False, MetallicContact())
    all_faces = np.append(z_faces, z_faces[-1] + FEED_M)
    return Grid(r_faces, all_faces, material, materials, tuple(layer_rows), (faying,), grounds, "free")


def _stacked(
    wall: Sequence[Layer], strip: Sequence[Layer], radius_m: float, fine_m: float, refinement: float
) -> tuple[FloatArray, list[LayerRows]]:
    """Faces from below, zero between wall and strip, and the rows of each layer."""
    z = -sum(layer.thickness_m for layer in wall)
    faces, layer_rows = [z], list[LayerRows]()
    for layer in (*reversed(wall), *reversed(strip)):
        top = z + layer.thickness_m
        part = graded_faces(
            [z, 0.0 if abs(top) < 1e-12 else top],
            lambda at: np.asarray(fine_m + 0.15 * np.abs(at), dtype=np.float64),
            refinement,
        )[1:]
        start = len(faces) - 1
        layer_rows.append(
            LayerRows(layer.material.title, layer.role, start, start + len(part), radius_m, layer.material)
        )
        faces += part.tolist()
        z = faces[-1]
    return np.array(faces), layer_rows


def _beyond(r_faces: FloatArray, ring_m: float) -> int:
    return int((r_faces[1:] > ring_m * (1.0 + 1e-9)).sum())


def _places(setup: Setup, welds: int, ring_m: float) -> FloatArray | None:
    """Places of all spots (x along the strip, y across from its middle), or None when they do not fit."""
    found = places(setup, welds, max(0.5 * setup.spacing_m, 2.0 * ring_m), ring_m)
    return None if found is None else found.reshape(-1, 2)


def _joint(setup: Setup, places: FloatArray, welds: int, local_ohm: float, ring_m: float) -> Joint:
    wall = [layer for layer in setup.base if layer.role == "can"]
    strip_sheet, can_sheet = (_sheet(layers, setup.ambient_K) for layers in (setup.strip, wall))
    slotted = setup.arrangement == "series across" and setup.slotted
    width = setup.strip_width_m
    x, y = places.T
    if slotted:
        # Each side of the slot is a strip of its own, of half the width, with its spots in its middle.
        leg, y, width = y > 0.0, np.full_like(y, 0.25 * width), 0.5 * width
    else:
        leg, y = np.zeros(len(x), dtype=bool), y + 0.5 * width
    same = leg[:, None] == leg[None, :]
    strip = strip_sheet / (2.0 * math.pi) * np.where(same, _strip_images(x, y, width, ring_m), 0.0)
    can = can_sheet / (2.0 * math.pi) * _disc_images(places, setup.base[0].radius_m, ring_m)
    # Potential of the strip over that of the can at each spot, for its share of one ampere.
    whole = strip + can + local_ohm * np.eye(len(x))
    # Unknown: the shares, and for each leg the level that its strip starts from. Legs end at one level.
    level = np.where(same, x[None, :] - x.min(), 0.0) * strip_sheet / width
    system = np.zeros((len(x) + 1, len(x) + 1))
    system[:-1, :-1] = whole + level
    system[:-1, -1] = -1.0
    system[-1, :-1] = 1.0
    rhs = np.zeros(len(x) + 1)
    rhs[-1] = 1.0
    solved = np.linalg.solve(system, rhs)
    plain = strip_sheet / setup.strip_width_m
    return Joint(welds, len(x), float(solved[-1]), local_ohm, tuple(float(v) for v in solved[:-1]), plain)


def _sheet(layers: Sequence[Layer], temperature_K: float) -> float:
    """Resistance per square [ohm] of layers side by side."""
    return 1.0 / sum(layer.thickness_m * _conductivity(layer.material, temperature_K) for layer in layers)


def _strip_images(x: FloatArray, y: FloatArray, width: float, ring_m: float) -> FloatArray:
    """Drop from far up the strip to spot i for a sink at spot j, in units of sheet / (2 pi).

    Sinks between insulated edges at 0 and `width`, fed from x = minus infinity only:
    ``-ln|2 sinh(pi (z - z_j) / 2w)| - ln|2 sinh(pi (z - conj z_j) / 2w)| + (pi / w)(x - x_j)``.
    """
    z = x + 1j * y
    scale = 0.5 * math.pi / width
    away = z[:, None] - z[None, :]
    mirrored = z[:, None] - np.conj(z)[None, :]
    near = np.abs(2.0 * np.sinh(scale * away))
    near[near == 0.0] = 2.0 * scale * ring_m  # the spot itself (and its like on the other leg, unused)
    flat = math.pi / width * (x[:, None] - x[None, :])
    return np.asarray(
        -np.log(near) - np.log(np.abs(2.0 * np.sinh(scale * mirrored))) + flat, dtype=np.float64
    )


def _disc_images(places: FloatArray, radius_m: float, ring_m: float) -> FloatArray:
    """Drop from spot i to the rim of the can's base for a source at spot j, in units of sheet / (2 pi)."""
    z = places[:, 0] + 1j * places[:, 1]
    away = np.abs(z[:, None] - z[None, :])
    np.fill_diagonal(away, ring_m)
    return np.asarray(
        np.log(np.abs(radius_m**2 - z[:, None] * np.conj(z)[None, :]) / (radius_m * away)), dtype=np.float64
    )
