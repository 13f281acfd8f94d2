"""Kinds of layers: one entry says all that any other module asks about a layer of that kind.

Where the grid is fine in it, whether its top is probed and counts as interior, what figures and tables
call it. A further kind is one more entry in `KINDS`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LOWER = "lower "
"""The electrode below an opposed weld has the upper one's kinds with this before them."""


@dataclass(frozen=True)
class LayerKind:
    """One kind of layer.

    Attributes
    ----------
    name : str
        The role that a setup gives it.
    part : {"strip", "wall", "interior", "electrode"}
        Strip and wall carry the weld; the interior is what must stay cool, and its tops are probed.
    title, word : str
        What tables call it, and the one word for it in a picture.
    spacing : {"contacts", "electrode", "own top", "deep"}
        Cells grow away from the contacts, slowly in a sheet and faster in an electrode; a thin layer
        starts fine at its own top, where heat enters it; a deep one goes on growing below that.
    innermost : bool
        Whether it is the last layer that is followed: its top bears the limits of the interior, and
        no heat leaves the model below it.
    radius_fact : str
        Which fact of the cell's size its outer radius comes from unless it is given.
    """

    name: str
    part: Literal["strip", "wall", "interior", "electrode"]
    title: str
    word: str
    spacing: Literal["contacts", "electrode", "own top", "deep"]
    innermost: bool = False
    radius_fact: Literal["inner_radius", "cap_radius"] = "inner_radius"


def _inside(name: str, title: str, word: str | None = None, cap: bool = False) -> LayerKind:
    fact: Literal["inner_radius", "cap_radius"] = "cap_radius" if cap else "inner_radius"
    return LayerKind(name, "interior", title, word or name, "own top", radius_fact=fact)


KINDS: dict[str, LayerKind] = {
    kind.name: kind
    for kind in (
        LayerKind("strip", "strip", "strip", "strip", "contacts"),
        LayerKind("can", "wall", "wall", "wall", "contacts"),
        LayerKind("tip", "electrode", "tip", "tip", "electrode"),
        LayerKind("shank", "electrode", "shank", "shank", "electrode"),
        _inside("gap", "gas gap", cap=True),
        _inside("disc", "insulating disc"),
        _inside("separator", "separator"),
        _inside("tab", "tab"),
        _inside("film", "electrolyte film"),
        _inside("gasket", "gasket"),
        _inside("cap", "inner cap", cap=True),
        LayerKind("roll", "interior", "jelly roll", "roll", "deep", innermost=True),
    )
}


def kind_of(role: str) -> LayerKind:
    """The kind of a layer, for the lower electrode that of the upper one.

    Raises
    ------
    KeyError
        If there is no such kind.
    """
    return KINDS[role.removeprefix(LOWER)]


def is_interior(role: str) -> bool:
    """Whether a role belongs to the interior; False for what is no role at all."""
    return role in KINDS and KINDS[role].part == "interior"


def is_electrode(role: str) -> bool:
    """Whether a layer is part of an electrode, the upper or the lower one."""
    return kind_of(role).part == "electrode"


def interior_names() -> tuple[str, ...]:
    """Roles that a cell's interior may be made of."""
    return tuple(name for name, kind in KINDS.items() if kind.part == "interior")
