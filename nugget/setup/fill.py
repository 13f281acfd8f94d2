"""Fill in what follows from other choices: cell facts, contact laws, limit sources, traces."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path
from typing import Any

from nugget.errors import InputError
from nugget.setup.overlay import Tree
from nugget.setup.trace import read_trace

Where = Callable[[str], str]
"""Turns a key path into the text that an error shows: file or override, and key."""

STATED = "stated in the setup"


@functools.cache
def facts() -> Tree:
    """Return the data file of cell facts and contact defaults, as it stands."""
    return tomllib.loads((files("nugget.setup") / "data" / "cells.toml").read_text(encoding="utf-8"))


def sizes() -> list[str]:
    """Return the IEC size codes that have facts."""
    return list(facts()["size"])


def fill(tree: Tree, where: Where, folder: Path | None) -> Tree:
    """Return `tree` with every value filled in that follows from another one.

    What the wrong type holds is left alone: the check against the schema comes next.
    """
    filled = {key: dict(value) if isinstance(value, dict) else value for key, value in tree.items()}
    for name, one in (("cell", _cell), ("contact", _contact), ("limits", _limits), ("source", _source)):
        if isinstance(filled.get(name), dict):
            one(filled, where, folder)
    return filled


def _cell(tree: Tree, where: Where, folder: Path | None) -> None:
    cell = tree["cell"]
    known = facts()
    if cell.get("kind") == "coupon":
        for key in ("size", "end"):
            if key in cell:
                raise InputError(where(f"cell.{key}"), cell[key], "no such key for a coupon")
        wanted: Tree = {
            "wall": known["coupon"]["wall"]["value"],
            "radius": known["coupon"]["radius"]["value"],
            "interior": [],
        }
    else:
        size, end = str(cell.setdefault("size", "18650")), cell.setdefault("end", "negative")
        if size not in known["size"]:
            raise InputError(where("cell.size"), size, f"one of {', '.join(sizes())}")
        if end not in ("negative", "positive"):
            return
        of_size = {key: fact["value"] for key, fact in known["size"][size].items()}
        negative = end == "negative"
        wanted = {
            "wall": of_size["base" if negative else "cap"],
            "radius": of_size["can_radius" if negative else "cap_radius"],
            "interior": [_layer(layer, of_size) for layer in known["interior"][end]],
        }
        if cell.get("kind") == "empty can":
            wanted["interior"] = []
    for key, value in {"wall_material": known["wall"]["material"]["value"], **wanted}.items():
        cell.setdefault(key, value)
    if isinstance(cell["interior"], list):
        radius = of_size["inner_radius"] if cell.get("kind") != "coupon" else cell["radius"]
        cell["interior"] = [
            {"radius": radius, **layer} if isinstance(layer, dict) else layer for layer in cell["interior"]
        ]


def _layer(layer: Tree, of_size: Tree) -> Tree:
    return {
        "role": layer["role"],
        "material": layer.get("material", of_size["roll"]),
        "thickness": layer["thickness"]["value"],
        "radius": of_size["cap_radius" if layer["role"] == "gap" else "inner_radius"],
    }


def _contact(tree: Tree, where: Where, folder: Path | None) -> None:
    electrode = tree.get("electrode")
    form = electrode.get("form") if isinstance(electrode, dict) else None
    known = facts()
    law = known["form"].get(form, known["form"]["rounded"])["value"] if isinstance(form, str) else None
    for name in ("tip", "faying"):
        given = tree["contact"].get(name, {})
        if isinstance(given, dict):
            interface = {"law": law, **given}
            usual = known["contact"].get(interface["law"], {}) if isinstance(interface["law"], str) else {}
            tree["contact"][name] = {
                "law": interface["law"],
                **{key: fact["value"] for key, fact in usual.items()},
                **interface,
            }


def _limits(tree: Tree, where: Where, folder: Path | None) -> None:
    for key, given in tree["limits"].items():
        if isinstance(given, dict):
            tree["limits"][key] = {**given, "source": given.get("source", STATED)}
        elif isinstance(given, bool):
            tree["limits"][key] = {"allowed": given, "source": STATED}
        elif given != "none":
            tree["limits"][key] = {"value": given, "source": STATED}


def _source(tree: Tree, where: Where, folder: Path | None) -> None:
    source = tree["source"]
    name, quantity = source.get("file"), source.get("quantity")
    if source.get("kind") != "trace" or "time_s" in source or not isinstance(name, str):
        return
    if quantity not in ("current", "voltage"):
        given = quantity or "nothing"
        raise InputError(where("source.quantity"), given, "'current' or 'voltage', as recorded in the trace")
    source["time_s"], source["samples"] = read_trace((folder or Path()) / name, quantity)


def split_none(limits: Any) -> tuple[Any, list[str]]:
    """Return the limits that hold, and the keys of those that are switched off."""
    if not isinstance(limits, dict):
        return limits, []
    off = [key for key, value in limits.items() if value == "none"]
    return {key: value for key, value in limits.items() if key not in off}, off
