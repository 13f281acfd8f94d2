"""From a setup to the parts of its whole cell."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from nugget.constants import REFERENCE_K
from nugget.errors import InputError
from nugget.materials.material import Material
from nugget.setup import Setup
from nugget.setup.description import Layer
from nugget.setup.facts import facts
from nugget.setup.layer_kinds import kind_of
from nugget.setup.quantity import Spec
from nugget.whole_cell import Part, WholeCell

LEAST_SIDE_M = 1e-4
LENGTH = Spec("length", 0, 1000, "mm")


def whole_cell(setup: Setup) -> WholeCell:
    """Parts of the cell that `setup` is about, its welded end on top.

    The wall's layers count as one; the roll reaches down to the other end, and the can's side beside
    it, joined to the wall at the negative end and apart from it at the positive one. Of the strip what
    lies on the wall takes up heat through the gas between them; that it carries heat away beyond the wall
    is left out, and so are the parts of the other end; a tab is as warm as the wall that it is welded to.

    Raises
    ------
    InputError
        When the setup is about a coupon or an empty can, which have no interior to keep cool.
    """
    cell = setup.file.cell
    if cell.kind != "cell":
        raise InputError("repeated welds", f"cell.kind {cell.kind}", "a cell, whose interior warms up")
    size = facts()["size"][cell.size]
    height, can_radius = (LENGTH.check(size[key]["value"]).si for key in ("height", "can_radius"))
    wall = [layer for layer in setup.base if layer.role == "can"]
    inner = _behind_the_wall(setup)
    parts = [_wall(wall, height)]
    parts += _inside(inner, parts[0].bottom_m)
    joined = cell.end == "negative"
    roll, top = parts[-1], parts[0].bottom_m if joined else parts[-1].top_m
    steel, outer = wall[0].material, wall[0].radius_m if joined else can_radius
    bore = min(roll.outer_m, outer - LEAST_SIDE_M)
    parts.append(Part("side", bore, outer, 0.0, top, *_properties(steel)))
    parts.append(_strip(setup, height, wall[0].radius_m))
    return WholeCell(tuple(parts), setup.heat_transfer_W_m2K)


def watched_part(setup: Setup, cell: WholeCell) -> str:
    """The part whose top face bears the limits of the interior: the first that belongs to the winding."""
    inner = _behind_the_wall(setup)
    index = next((i for i, one in enumerate(inner) if kind_of(one.role).winding), len(inner) - 1)
    return cell.parts[1 + index].name


def _behind_the_wall(setup: Setup) -> list[Layer]:
    """Layers below the wall, from the top down, without a tab: what lies beside it touches the wall too."""
    return [layer for layer in setup.base if layer.role not in ("can", "tab")]


def _wall(layers: Sequence[Layer], height_m: float) -> Part:
    thickness = sum(layer.thickness_m for layer in layers)
    shares = [layer.thickness_m / thickness for layer in layers]
    storage, k_r, k_z = zip(*(_properties(layer.material) for layer in layers), strict=True)
    return Part(
        "wall",
        0.0,
        layers[0].radius_m,
        height_m - thickness,
        height_m,
        sum(s * c for s, c in zip(shares, storage, strict=True)),
        sum(s * k for s, k in zip(shares, k_r, strict=True)),
        1.0 / sum(s / k for s, k in zip(shares, k_z, strict=True)),
    )


def _strip(setup: Setup, height_m: float, radius_m: float) -> Part:
    """The strip on the wall as a disc of the area that it covers."""
    radius = math.sqrt(min(setup.strip_width_m, 2.0 * radius_m) * 2.0 * radius_m / math.pi)
    thickness = sum(layer.thickness_m for layer in setup.strip)
    storage = sum(_properties(one.material)[0] * one.thickness_m for one in setup.strip) / thickness
    k = sum(_properties(one.material)[1] * one.thickness_m for one in setup.strip) / thickness
    gas = float(setup.contact.gas.conductivity_z(REFERENCE_K)) / setup.contact.stand_off_m
    top = height_m + thickness
    return Part("strip", 0.0, min(radius, radius_m), height_m, top, storage, k, k, gas)


def _inside(layers: Sequence[Layer], top_m: float) -> Iterator[Part]:
    """Parts below the wall, from the top down; contacts belong to the part above them."""
    names: set[str] = set()
    for layer in layers:
        last = layer is layers[-1]
        bottom = 0.0 if last else top_m - layer.thickness_m
        name = layer.role
        while name in names:
            name += " below"
        names.add(name)
        yield Part(
            name,
            0.0,
            layer.radius_m,
            bottom,
            top_m,
            *_properties(layer.material),
            layer.conductance_below_W_m2K,
        )
        top_m = bottom


def _properties(material: Material) -> tuple[float, float, float]:
    """Storage [J/(m3 K)] and conductivities along r and z [W/(m K)] at room temperature."""
    storage = material.density_kg_m3 * float(material.heat_capacity(REFERENCE_K))
    k_r, k_z = (float(k(REFERENCE_K)) for k in (material.conductivity_r, material.conductivity_z))
    return storage, k_r, k_z
