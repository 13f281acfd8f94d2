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
        Whether it is the last layer that is followed: no heat leaves the model below it.
    winding : bool
        Whether it belongs to the winding: the hottest top of those layers is the interior's.
    family : str
        Family of materials that it is made of; one of any other is judged as what it is. Empty: any.
    radius_fact : str
        Which fact of the cell's size its outer radius comes from unless it is given.
    """

    name: str
    part: Literal["strip", "wall", "interior", "electrode"]
    title: str
    word: str
    spacing: Literal["contacts", "electrode", "own top", "deep"]
    innermost: bool = False
    winding: bool = False
    family: str = ""
    radius_fact: Literal["inner_radius", "cap_radius"] = "inner_radius"


def _inside(name: str, title: str, family: str, cap: bool = False) -> LayerKind:
    fact: Literal["inner_radius", "cap_radius"] = "cap_radius" if cap else "inner_radius"
    return LayerKind(name, "interior", title, name, "own top", family=family, radius_fact=fact)


KINDS: dict[str, LayerKind] = {
    kind.name: kind
    for kind in (
        LayerKind("strip", "strip", "strip", "strip", "contacts"),
        LayerKind("can", "wall", "wall", "wall", "contacts"),
        LayerKind("tip", "electrode", "tip", "tip", "electrode"),
        LayerKind("shank", "electrode", "shank", "shank", "electrode"),
        _inside("gap", "gas gap", "gas", cap=True),
        _inside("disc", "insulating disc", "polymer"),
        LayerKind("separator", "interior", "separator", "separator", "own top", winding=True),
        _inside("tab", "tab", "metal"),
        _inside("film", "electrolyte film", "liquid"),
        _inside("gasket", "gasket", "polymer"),
        _inside("cap", "inner cap", "metal", cap=True),
        LayerKind("roll", "interior", "jelly roll", "roll", "deep", innermost=True, winding=True),
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


def judged_as(role: str, family: str, melts: bool) -> str:
    """The role by which a layer inside the wall is judged: its own where its material fits, else by that.

    So no layer escapes its limits by its name. A polymer whose melting is not known has no limit of its
    own as a disc or a gasket: it counts as winding, and so does what is none of gas, metal and liquid.

    Parameters
    ----------
    role : str
        What the setup calls it; empty for what fills a hole.
    family : str
        Of its material.
    melts : bool
        Whether that has a melting range.
    """
    known = melts or family != "polymer"
    if role and (KINDS[role].winding or (KINDS[role].family in ("", family) and known)):
        return role
    by_family = {"gas": "gap", "liquid": "film", "metal": "tab", "polymer": "disc"}
    return by_family.get(family, "separator") if known else "separator"
