"""Materials by name. Nothing is read before it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path

from nugget.errors import InputError
from nugget.materials.discovery import BUILT_IN, Entry, catalogue
from nugget.materials.layered import Layered
from nugget.materials.material import Material

Paths = Sequence[str | Path]


def names(paths: Paths = ()) -> list[str]:
    """Return every name that `get` or `expand` knows, in alphabetical order.

    Parameters
    ----------
    paths : sequence of str or Path
        Material files or folders besides those that are always looked at.
    """
    return catalogue(paths).names()


def find(name: str, paths: Paths = ()) -> Material | Layered:
    """Return the material or layered product called `name`.

    Raises
    ------
    InputError
        When there is none or more than one, or when its file is broken.
    """
    entry = catalogue(paths).entry(name)
    return _built_in(entry) if entry.origin == BUILT_IN else _open(entry)


def get(name: str, paths: Paths = ()) -> Material:
    """Return the material called `name`.

    Raises
    ------
    InputError
        When there is none or more than one, when its file is broken, or when it is layered.
    """
    found = find(name, paths)
    if isinstance(found, Layered):
        layers = ", ".join(rule.material for rule in found.layers)
        raise InputError("material", name, f"a single material; {name} is layered ({layers})")
    return found


def expand(name: str, thickness_m: float, paths: Paths = ()) -> tuple[tuple[str, float], ...]:
    """Return the layers of a strip of `name`, top to bottom: material name and thickness [m].

    A plain material expands to itself.
    """
    found = find(name, paths)
    return found.split(thickness_m) if isinstance(found, Layered) else ((name, thickness_m),)


def _open(entry: Entry) -> Material | Layered:
    from nugget.materials.material_file import read  # pydantic: only when a file is read

    return read(entry.file, entry.origin)


_built_in = lru_cache(maxsize=128)(_open)
"""Built-in files do not change while a process runs; all others are read afresh."""
