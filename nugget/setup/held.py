"""What a setup holds by value besides its document: materials, and what plugins made.

The document names materials and plugins; this is what those names meant when the setup was made.
It is saved with the setup, so that a weld read back is the weld that was simulated.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, is_dataclass
from pathlib import Path
from typing import Any

from nugget import plugins
from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.byvalue import decode, digest, encode, same
from nugget.materials.layered import Layered
from nugget.materials.material import Material
from nugget.setup.description import Kinetics, Limit
from nugget.setup.fill import Where
from nugget.setup.overlay import Tree

ENCLOSED = "enclosed"
"""Key of a document under which the values stand; a file written by hand has none."""

COMPLETE = "complete"
"""Key of a document that takes nothing from the default setup: what it leaves out is not there."""

_KINDS: dict[str, type] = {one.__name__: one for one in (Material, Layered, Limit, Kinetics)}


@dataclass(frozen=True)
class Held:
    """Values behind the names of a document.

    Attributes
    ----------
    materials : mapping of str to Material or Layered
    made : mapping of str to object
        What a plugin made, by the key path of its section: a law, a source, a limit, a kinetics.
    uses : tuple of (str, str)
        Name of a material and what uses it: a key path, or words.
    """

    materials: Mapping[str, Material | Layered] = field(default_factory=dict)
    made: Mapping[str, Any] = field(default_factory=dict)
    uses: tuple[tuple[str, str], ...] = ()


class Lookup:
    """Finds materials by name, first among those that are held, and keeps what was found."""

    def __init__(self, held: Mapping[str, Material | Layered], paths: tuple[str, ...], where: Where) -> None:
        self.held, self.where = held, where
        # What is held needs no file any more; a place of the user's that is gone is then passed over.
        self.paths = tuple(path for path in paths if Path(path).exists()) if held else paths
        self.used: dict[str, Material | Layered] = {}
        self.uses: list[tuple[str, str]] = []

    def find(self, name: str, path: str) -> Material | Layered:
        """Return the material or layered product that the key at `path` names."""
        self.uses.append((name, path))
        if name not in self.used:
            with self._naming(name, path):
                self.used[name] = self.held[name] if name in self.held else library.find(name, self.paths)
        return self.used[name]

    def single(self, name: str, path: str) -> Material:
        """Return the material that the key at `path` names; a layered product is refused."""
        found = self.find(name, path)
        if isinstance(found, Layered):
            layers = ", ".join(rule.material for rule in found.layers)
            raise InputError(self.where(path), name, f"a single material; {name} is layered ({layers})")
        return found

    def metal(self, name: str, path: str, melts: bool = True) -> Material:
        """Return a material that conducts, has a hardness and, where it `melts`, a melting range."""
        material = self.single(name, path)
        if (
            material.resistivity is None
            or material.hardness is None
            or (melts and material.melting_K is None)
        ):
            raise InputError(self.where(path), name, "a metal that conducts, with hardness and melting range")
        return material

    def layers(self, name: str, thickness_m: float, path: str) -> list[tuple[Material, float]]:
        """Return material and thickness [m] of each layer of a wall or strip, top to bottom."""
        found = self.find(name, path)
        if not isinstance(found, Layered):
            return [(self.metal(name, path), thickness_m)]
        with self._naming(name, path):
            parts = found.split(thickness_m)
        found_parts = [(self.metal(part, path), part_m) for part, part_m in parts]
        self.uses += [(part, f"{path}, a layer of {name}") for part, _ in parts]
        return found_parts

    def built_in(self, name: str) -> Material:
        """Return a material that no key names, from the built-in data unless it is held."""
        found = self.used.get(name) or self.held.get(name) or library.get(name)
        assert isinstance(found, Material)
        self.used[name] = found
        self.uses.append((name, "leads"))
        return found

    @contextmanager
    def _naming(self, name: str, path: str) -> Iterator[None]:
        """Let an error of the material library name the key of the setup file."""
        try:
            yield
        except InputError as error:
            where, known = self.where(path), library.names(self.paths)
            if name in known or name in self.held:  # its file is broken, there are two, it is too thin
                raise InputError(f"{where}: {error.where}", error.given, error.expected) from error
            close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
            if close and close[0] != name:  # shorter than the whole list
                raise InputError(where, name, f"a known material; the nearest is {close[0]}") from error
            raise InputError(where, error.given, error.expected) from error


def enclosed(held: Held, names: Mapping[str, str], whole: bool) -> Tree:
    """Return `held` as plain data.

    Parameters
    ----------
    held : Held
    names : mapping of str to str
        Plugin, with its distribution, behind each entry of ``held.made``.
    whole : bool
        Whether built-in materials are enclosed too; their names alone mean the same only as long
        as the data of this package stay as they are.
    """
    materials = {
        name: {"sha256": digest(one), "kind": type(one).__name__, "data": encode(one)}
        for name, one in sorted(held.materials.items())
        if whole or not _ours(name, one)
    }
    made = {path: _enclosed_made(one, names[path]) for path, one in sorted(held.made.items())}
    tree: Tree = {"materials": materials, "made": made}
    return {key: value for key, value in tree.items() if value}


def _ours(name: str, one: Material | Layered) -> bool:
    """Whether the built-in data hold the same under that name."""
    try:
        return same(one, library.find(name))
    except InputError:
        return False


def _enclosed_made(one: Any, plugin: str) -> Tree:
    """A limit or kinetics whole; of a law or source what can be told of its state."""
    try:
        data = encode(one) if is_dataclass(one) else None
    except TypeError:
        data = None
    found: Tree = {"plugin": plugin, "kind": type(one).__name__}
    return found if data is None else {**found, "sha256": digest(one), "data": data}


def read_enclosed(tree: Any, where: Where) -> tuple[Held, dict[str, Tree]]:
    """Return what `enclosed` wrote, and what it told of laws and sources, which are code.

    Raises
    ------
    InputError
        When it is damaged or was changed by hand.
    """
    found: dict[str, dict[str, Any]] = {"materials": {}, "made": {}}
    told: dict[str, Tree] = {}
    tree = tree if isinstance(tree, Mapping) else {"": tree}
    for part, entries in tree.items():
        if part not in found or not isinstance(entries, Mapping):
            raise InputError(where(f"{ENCLOSED}.{part}".rstrip(".")), entries, "what a saved setup encloses")
        for name, entry in entries.items():
            kind = entry.get("kind") if isinstance(entry, Mapping) else None
            if part == "made" and isinstance(entry, Mapping) and kind not in ("Limit", "Kinetics"):
                told[name] = dict(entry)
            else:
                found[part][name] = _read(entry, where(f"{ENCLOSED}.{part}.{name}"))
    return Held(found["materials"], found["made"]), told


def _read(entry: Any, where: str) -> Any:
    expected = "data as they were saved"
    try:
        value: Any = decode(_KINDS[entry["kind"]], entry["data"])
        intact = digest(value) == entry["sha256"]
    except (KeyError, TypeError, ValueError, AttributeError, IndexError) as error:
        raise InputError(where, f"{type(error).__name__}: {error}", expected) from error
    if not intact:
        raise InputError(where, "data that are not those of their hash", expected)
    return value


def check_told(path: str, made: Any, told: Mapping[str, Tree], where: Where) -> None:
    """Raise InputError when a law or source that is made again is not the one that was saved."""
    before = told.get(path)
    if before is None:
        return
    now = _enclosed_made(made, before.get("plugin", ""))
    if now != {**before, "plugin": now["plugin"]}:
        raise InputError(
            where(path),
            f"{type(made).__name__} of another state than was saved",
            f"the plugin as it was: {before.get('plugin', 'unknown')}",
        )


def plugin_words(group: str, name: str) -> str:
    """Return name and distribution of a plugin."""
    found = [plugin for plugin in plugins.known(group) if plugin.name == name]
    return f"{name} of {found[0].distribution}" if found else name


def check_given(given: Mapping[str, Material | Layered], old: Held, new: Held) -> None:
    """Raise InputError when a material that is given by value takes the name of another one.

    Parameters
    ----------
    given : mapping of str to Material or Layered
        By the key path at which it was given.
    old, new : Held
        Before and after the change.
    """
    for path, material in given.items():
        known = old.materials.get(material.name)
        others = [one for name, one in new.uses if name == material.name and one not in given]
        if known is not None and others and not same(known, new.materials[material.name]):
            raise InputError(
                path,
                f"a material {material.name!r} with other data than that of {others[0]}",
                "a name of its own",
            )
