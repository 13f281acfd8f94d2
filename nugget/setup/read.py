"""From a setup file, a preset or a plain dict to a `Setup`."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Mapping, Sequence
from importlib.resources import files
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from nugget.errors import InputError
from nugget.setup.build import build
from nugget.setup.consistency import check
from nugget.setup.description import Setup
from nugget.setup.fill import fill, split_none
from nugget.setup.limits import default_limits
from nugget.setup.overlay import Tree, lay, plant, read_overrides
from nugget.setup.presets import preset_tree
from nugget.setup.refusals import as_input_error
from nugget.setup.schema import SetupFile


def load_setup(path: str | Path, overrides: Sequence[str] = ()) -> Setup:
    """Return the setup that the TOML file at `path` describes.

    Parameters
    ----------
    path : str or Path
        What the file leaves out is taken from the default setup.
    overrides : sequence of str
        Such as ``"pulse.0.duration=12 ms"``; checked like the content of the file.

    Raises
    ------
    InputError
        One line that names the file and the key.
    """
    path = Path(path)
    try:
        with path.open("rb") as stream:
            tree = tomllib.load(stream)
    except OSError as error:
        reason = (error.strerror or "an unreadable file").lower()
        raise InputError(path.name or str(path), reason, "a readable setup file") from error
    except UnicodeDecodeError as error:
        raise InputError(path.name, "a file that is not UTF-8 text", "a TOML setup file") from error
    except tomllib.TOMLDecodeError as error:
        raise InputError(path.name, str(error), "TOML, as `nugget setup` prints it") from error
    return resolve(tree, path.name, read_overrides(overrides), path.parent)


def default_setup(overrides: Sequence[str] = ()) -> Setup:
    """Return the default setup, with `overrides` such as ``"strip.thickness=0.2 mm"``."""
    return resolve({}, "default setup", read_overrides(overrides))


def preset(name: str, overrides: Sequence[str] = ()) -> Setup:
    """Return the preset called `name`, one of `preset_names`, with `overrides`."""
    return resolve(preset_tree(name), f"preset {name}", read_overrides(overrides))


def setup_from_dict(data: Mapping[str, Any], where: str = "setup") -> Setup:
    """Return the setup that `data` describes, in the form of a setup file.

    ``setup_from_dict(setup.resolved)`` reproduces `setup`.
    """
    return resolve(data, where, {})


def with_overrides(setup: Setup, changes: Mapping[str, object]) -> Setup:
    """Return `setup` with the fields in `changes` replaced, such as ``{"electrode.force": "20 N"}``.

    Values are what a setup file would hold: text with a unit, or a bare number without one.
    """
    tree: Tree = {}
    for path, value in changes.items():
        plant(tree, path.split("."), value)
    return resolve(setup.resolved, "setup", tree)


def resolve(tree: Mapping[str, Any], name: str, overrides: Mapping[str, Any], folder: Path = Path()) -> Setup:
    """Lay `tree` over the default and `overrides` over both; fill in, check and build."""

    def where(path: str) -> str:
        return f"override {path}" if _touches(overrides, path) else f"{name}: {path}"

    whole = fill(lay(default_tree(), tree), where, folder)
    if overrides:
        whole = fill(lay(whole, overrides), where, folder)
    whole["limits"], off = split_none(whole.get("limits"))
    try:
        file = SetupFile.model_validate(whole)
    except ValidationError as error:
        raise as_input_error(error, SetupFile, where) from error
    check(file, where)
    resolved = file.model_dump(mode="json", exclude_none=True)
    resolved["limits"] |= dict.fromkeys(off, "none")
    return build(file, resolved, where)


@functools.cache
def default_tree() -> Tree:
    """Return the default setup file as it stands; not to be changed."""
    tree = tomllib.loads(default_text())
    tree["limits"] = default_limits()
    return tree


def default_text() -> str:
    """Return the commented file of the default setup; its limits stand in a file of their own."""
    return (files("nugget.setup") / "data" / "default.toml").read_text(encoding="utf-8")


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
