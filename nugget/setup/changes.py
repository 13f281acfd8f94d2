"""Changes of a setup from Python: by path, in text, SI numbers, pint quantities or objects."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from nugget.errors import InputError
from nugget.materials.byvalue import same
from nugget.materials.layered import Layered
from nugget.materials.material import Material
from nugget.setup.description import Pulse
from nugget.setup.overlay import Tree, plant

Given = dict[str, Material | Layered]


def planted(changes: Mapping[str, Any]) -> tuple[Tree, Given]:
    """Return `changes` as one tree of plain data, and the materials in it by their key path.

    Raises
    ------
    InputError
        When a path is no path, or when two different materials of one name are given.
    """
    tree: Tree = {}
    given: Given = {}
    for path, value in changes.items():
        keys = path.split(".") if isinstance(path, str) else [""]
        if not all(keys):
            raise InputError("field", path, "a path such as 'electrode.force'")
        plant(tree, keys, _plain(value, path, given))
    known: Given = {}
    for path, material in given.items():
        if not same(known.setdefault(material.name, material), material):
            raise InputError(path, f"another material {material.name!r}", "a name for each")
    return tree, given


def _plain(value: Any, path: str, given: Given) -> Any:
    """Return `value` as a document could hold it, with SI numbers; note the materials in it."""
    if isinstance(value, Material | Layered):
        given[path] = value
        return value.name
    if isinstance(value, Pulse):
        return {
            "duration": float(value.duration_s),
            "output_fraction": float(value.output_fraction),
            "upslope": float(value.upslope_s),
            "downslope": float(value.downslope_s),
            "cool_time": float(value.cool_time_s),
        }
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {key: _plain(item, f"{path}.{key}", given) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item, f"{path}.{index}", given) for index, item in enumerate(value)]
    return value
