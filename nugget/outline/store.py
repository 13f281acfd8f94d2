"""Solved outlines that are kept: those of the presets ship with the package, the rest stay on disk.

A solution is two numbers; what costs is importing FiPy. One file for each outline, named by its
dimensions, so that two processes never wait for each other; a file that cannot be read or written
is left alone.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import json
import os
import tempfile
from dataclasses import astuple
from importlib.resources import files
from pathlib import Path

from nugget.outline.shape import Outline

REVISION = 1
"""To be raised with any change of the solver that changes its answers."""

Solved = tuple[float, float]


def key_of(outline: Outline) -> str:
    """Name under which the solution of an outline is kept."""
    said = json.dumps([REVISION, astuple(outline)], sort_keys=True)
    return hashlib.sha256(said.encode()).hexdigest()[:24]


def find(outline: Outline) -> Solved | None:
    """Return a kept solution; None when there is none."""
    key = key_of(outline)
    if key in shipped():
        return shipped()[key]
    with contextlib.suppress(OSError, ValueError, TypeError, KeyError, RuntimeError):
        drop, radius = json.loads(_path(key).read_text(encoding="ascii"))["solved"]
        return float(drop), float(radius)
    return None


def keep(outline: Outline, solved: Solved) -> None:
    """Keep a solution for later processes."""
    with contextlib.suppress(OSError, RuntimeError):
        path = _path(key_of(outline))
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(handle, "w", encoding="ascii") as stream:
            json.dump({"outline": repr(outline), "solved": solved}, stream)
        os.replace(name, path)


@functools.cache
def shipped() -> dict[str, Solved]:
    """Solutions that come with the package, by key; the tests solve them again."""
    text = (files("nugget.outline") / "solved.json").read_text(encoding="ascii")
    return {key: tuple(one["solved"]) for key, one in json.loads(text).items()}


def _path(key: str) -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("nugget") / "outlines" / f"{key}.json"
