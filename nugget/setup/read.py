"""From a setup file, a preset or a plain dict to a `Setup`."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from nugget.errors import InputError
from nugget.files import read_toml
from nugget.setup.fill import fill
from nugget.setup.held import COMPLETE, ENCLOSED, read_enclosed
from nugget.setup.limits import check_off, default_limits
from nugget.setup.overlay import Tree, lay, read_overrides
from nugget.setup.presets import preset_tree
from nugget.setup.setup import Setup, validated

Overrides = str | Sequence[str] | Mapping[str, Any]
"""``"pulse.0.duration=12 ms"``, several of them, or a mapping as `Setup.with_` takes it."""


@dataclass(frozen=True)
class Over:
    """One thing that is laid over a setup, and what an error calls a key in it.

    Attributes
    ----------
    tree : dict
    names : callable
        Turns a key path into words.
    """

    tree: Tree
    names: Callable[[str], str]


@dataclass(frozen=True)
class Base:
    """What a setup starts from: a file, a preset or the default.

    Attributes
    ----------
    tree : mapping
    name : str
        What an error calls it.
    folder : Path
        Where the files that it names are looked for.
    """

    tree: Mapping[str, Any]
    name: str
    folder: Path = Path()


def load_setup(path: str | Path, overrides: Overrides = ()) -> Setup:
    """Return the setup that the TOML file at `path` describes.

    Parameters
    ----------
    path : str or Path
        What the file leaves out is taken from the default setup.
    overrides : str, sequence of str, or mapping
        Such as ``"pulse.0.duration=12 ms"`` or ``{"pulse.0.duration": 12e-3}``.

    Raises
    ------
    InputError
        One line that names the file and the key.
    """
    return _over(file_base(path), overrides)


def default_setup(overrides: Overrides = ()) -> Setup:
    """Return the default setup, with `overrides` such as ``"strip.thickness=0.2 mm"``."""
    return _over(preset_base(None), overrides)


def preset(name: str, overrides: Overrides = ()) -> Setup:
    """Return the preset called `name`, one of `preset_names`, with `overrides`."""
    return _over(preset_base(name), overrides)


def setup_from_dict(data: Mapping[str, Any], where: str = "setup") -> Setup:
    """Return the setup that `data` describes, in the form of a setup file.

    ``setup_from_dict(setup.document())`` reproduces `setup`.
    """
    return resolve(Base(data, where))


def file_base(path: str | Path) -> Base:
    """Read a setup file."""
    path = Path(path)
    name = path.name or str(path)
    tree = read_toml(path, name, "a readable setup file", "TOML, as `nugget setup` prints it")
    return Base(tree, name, path.parent)


def preset_base(name: str | None) -> Base:
    """Return what a preset starts from; None for the default."""
    return Base({}, "default setup") if name is None else Base(preset_tree(name), f"preset {name}")


def override_layer(texts: Sequence[str]) -> Over:
    """Return overrides such as ``pulse.0.duration=12 ms`` as one layer."""
    return Over(read_overrides(texts), lambda path: f"override {path}")


def resolve(base: Base, overs: Sequence[Over] = ()) -> Setup:
    """Lay `base` over the default and each of `overs` over that; fill in, check and build."""
    below: list[Over] = []

    def where(path: str) -> str:
        names = next((over.names for over in reversed(below) if _touches(over.tree, path)), None)
        return names(path) if names is not None else f"{base.name}: {path}"

    tree = dict(base.tree)
    held, told = read_enclosed(tree.pop(ENCLOSED, {}), where)
    complete = tree.pop(COMPLETE, False)
    if not isinstance(complete, bool):
        raise InputError(where(COMPLETE), complete, "true or false")
    check_off(tree, {}, where)
    whole = fill(tree if complete else lay(default_tree(), tree), where, base.folder)
    for over in overs:
        below.append(over)
        check_off(over.tree, whole, where)
        whole = fill(lay(whole, over.tree), where, base.folder)
    return Setup(validated(whole, where, si=False), held, where, told)


@functools.cache
def default_tree() -> Tree:
    """Return the default setup file as it stands; not to be changed."""
    tree = tomllib.loads(default_text())
    tree["limits"] = default_limits()
    return tree


def default_text() -> str:
    """Return the commented file of the default setup; its limits stand in a file of their own."""
    return (files("nugget.setup") / "data" / "default.toml").read_text(encoding="utf-8")


def _over(base: Base, overrides: Overrides) -> Setup:
    if isinstance(overrides, Mapping):
        return resolve(base).with_(overrides)
    texts = [overrides] if isinstance(overrides, str) else list(overrides)
    if not all(isinstance(text, str) for text in texts):
        raise InputError("override", texts, "text such as 'pulse.0.duration=12 ms', or a mapping")
    return resolve(base, [override_layer(texts)] if texts else [])


def _touches(overrides: Mapping[str, Any], path: str) -> bool:
    """Return whether the key at `path` was set by an override."""
    tree: object = overrides
    for key in path.split("."):
        if not isinstance(tree, Mapping):
            return True
        if key not in tree:
            return False
        tree = tree[key]
    return True
