"""Facts of cell ends and contacts from the data files, each with its source."""

from __future__ import annotations

import functools
import tomllib
from importlib.resources import files
from typing import Any

from nugget.setup.layer_kinds import kind_of
from nugget.setup.overlay import Tree


@functools.cache
def facts() -> Tree:
    """Return the data file as it stands: a fact is a table of ``value`` and ``source``."""
    return tomllib.loads((files("nugget.setup") / "data" / "cells.toml").read_text(encoding="utf-8"))


def sizes() -> list[str]:
    """Return the IEC size codes that have facts."""
    return list(facts()["size"])


def cell_facts(kind: object, size: str, end: str) -> Tree:
    """Return what the ``[cell]`` section holds besides kind, size and end, as facts.

    Parameters
    ----------
    kind : str
        ``cell``, ``empty can`` or ``coupon``; a coupon has neither `size` nor `end`.
    size, end : str
        One of `sizes`; ``negative`` or ``positive``.
    """
    known = facts()
    found: Tree = {"wall_material": known["wall"]["material"]}
    if kind == "coupon":
        return {**found, **known["coupon"], "interior": []}
    of_size = known["size"][size]
    wall, radius = ("base", "can_radius") if end == "negative" else ("cap", "cap_radius")
    interior = [
        {
            "role": layer["role"],
            "material": layer.get("material", of_size["roll"]),
            "thickness": layer["thickness"],
            "radius": of_size[kind_of(layer["role"]).radius_fact],
        }
        for layer in known["interior"][end]
        if kind != "empty can"
    ]
    return {**found, "wall": of_size[wall], "radius": of_size[radius], "interior": interior}


def law_facts(law: object) -> Tree:
    """Return what a contact law is given by default, as facts; empty for an unknown law."""
    found: Tree = facts()["contact"].get(law, {}) if isinstance(law, str) else {}
    return found


def law_of(shape: object) -> str | None:
    """Return the contact law that suits a shape of tip."""
    fact = facts()["tip_shape"].get(shape) if isinstance(shape, str) else None
    return str(fact["value"]) if fact is not None else None


def switch_facts(kind: object) -> Tree:
    """Return what a kind of switch is given by default, as facts; empty for an unknown one."""
    found: Tree = facts()["switch"].get(kind, {}) if isinstance(kind, str) else {}
    return found


def values(tree: Any) -> Any:
    """Return `tree` with each fact replaced by its value."""
    if isinstance(tree, dict):
        if tree.keys() == {"value", "source"}:
            return tree["value"]
        return {key: values(item) for key, item in tree.items()}
    return [values(item) for item in tree] if isinstance(tree, list) else tree
