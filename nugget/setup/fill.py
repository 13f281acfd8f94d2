"""Fill in what follows from other choices: cell facts, contact laws, limit sources, traces."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from nugget.errors import InputError
from nugget.setup.facts import cell_facts, facts, law_facts, law_of, sizes, switch_facts, values
from nugget.setup.limits import complete
from nugget.setup.overlay import MAINS_FED, Tree
from nugget.setup.trace import read_trace

Where = Callable[[str], str]
"""Turns a key path into the text that an error shows: file or override, and key."""


def fill(tree: Tree, where: Where, folder: Path) -> Tree:
    """Return `tree` with every value filled in that follows from another one.

    What the wrong type holds is left alone: the check against the schema comes next.
    `folder` is where the files that the setup names are looked for.
    """
    filled = dict(tree)
    if isinstance(filled.get("cell"), dict):
        filled["cell"] = _cell(filled["cell"], where)
    if isinstance(filled.get("contact"), dict):
        electrode = filled.get("electrode")
        filled["contact"] = _contact(filled["contact"], electrode if isinstance(electrode, dict) else {})
    if "switch" in filled or "source" in filled:
        filled["switch"] = _switch(filled.get("switch"), filled.get("source"))
    if isinstance(filled.get("limits"), dict):
        filled["limits"] = {key: complete(key, given, where) for key, given in filled["limits"].items()}
    if isinstance(filled.get("materials"), list):
        filled["materials"] = [
            str((folder / path).absolute()) if isinstance(path, str) else path for path in filled["materials"]
        ]
    if isinstance(filled.get("source"), dict):
        filled["source"] = _source(filled["source"], where, folder)
    return filled


def _cell(cell: Tree, where: Where) -> Tree:
    kind = cell.get("kind")
    if kind == "coupon":
        for key in ("size", "end"):
            if key in cell:
                raise InputError(where(f"cell.{key}"), cell[key], "no such key: a coupon has no size or end")
        size = end = ""
        inner = cell.get("radius", facts()["coupon"]["radius"]["value"])
    else:
        cell = {"size": "18650", "end": "negative", **cell}
        size, end = str(cell["size"]), cell["end"]
        if size not in sizes():
            raise InputError(where("cell.size"), cell["size"], f"one of {', '.join(sizes())}")
        if end not in ("negative", "positive"):
            return cell
        inner = facts()["size"][size]["inner_radius"]["value"]
    filled = {**values(cell_facts(kind, size, end)), **cell}
    if isinstance(filled["interior"], list):
        filled["interior"] = [
            {"radius": inner, **layer} if isinstance(layer, dict) else layer for layer in filled["interior"]
        ]
    return filled


def _contact(contact: Tree, electrode: Tree) -> Tree:
    filled = dict(contact)
    for name in ("tip", "faying"):
        given = contact.get(name, {})
        if isinstance(given, dict):
            law = given.get("law", law_of(electrode.get("tip_shape")))
            filled[name] = {"law": law, **values(law_facts(law)), **given}
    return filled


def _switch(switch: object, source: object) -> object:
    """The switch with what follows from its kind; one that is not told follows from the source."""
    if isinstance(switch, str):
        switch = {"kind": switch}
    if switch is not None and not isinstance(switch, dict):
        return switch
    of_source = source.get("kind") if isinstance(source, dict) else None
    told = {"kind": "transistors" if switch or of_source not in MAINS_FED else "none", **(switch or {})}
    return {**values(switch_facts(told["kind"])), **told}


def _source(source: Tree, where: Where, folder: Path) -> Tree:
    if source.get("kind") == "transformer":
        return {**values(facts()["transformer"]), **source}
    name, quantity = source.get("file"), source.get("quantity")
    if source.get("kind") != "trace" or "time_s" in source or not isinstance(name, str):
        return source
    if quantity not in ("current", "voltage"):
        raise InputError(where("source.quantity"), quantity or "nothing", "one of current, voltage")
    times, samples = read_trace(folder / name, quantity)
    return {**source, "time_s": times, "samples": samples}
