"""Materials by name. Nothing is read before it is asked for."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files
from importlib.resources.abc import Traversable

from nugget.errors import InputError
from nugget.materials.layered import Layered
from nugget.materials.material import Material


def _built_in() -> dict[str, Traversable]:
    """Return the built-in files by material name: a file is named after its material."""
    folder = files("nugget.materials") / "data"
    return {item.name.removesuffix(".toml"): item for item in folder.iterdir() if item.name.endswith(".toml")}


def names() -> list[str]:
    """Return every name that `get` or `expand` knows, in alphabetical order."""
    return sorted(_built_in())


@lru_cache(maxsize=128)
def find(name: str) -> Material | Layered:
    """Return the material or layered product called `name`.

    Raises
    ------
    InputError
        When there is none, or its file is broken.
    """
    from nugget.materials.reading import nearest, read  # pydantic: only when a file is read

    known = _built_in()
    if name not in known:
        raise InputError("material", name, nearest(name, known))
    return read(known[name], "built-in")


def get(name: str) -> Material:
    """Return the material called `name`.

    Raises
    ------
    InputError
        When there is none, when its file is broken, or when it is a layered product.
    """
    found = find(name)
    if isinstance(found, Layered):
        layers = ", ".join(rule.material for rule in found.layers)
        raise InputError("material", name, f"a single material; {name} is layered ({layers})")
    return found


def expand(name: str, thickness_m: float) -> tuple[tuple[str, float], ...]:
    """Return the layers of a strip of `name`, top to bottom: material name and thickness [m].

    A plain material expands to itself.
    """
    found = find(name)
    return found.split(thickness_m) if isinstance(found, Layered) else ((name, thickness_m),)
