"""Presets: the default, every cell end by its IEC size code, and trials without a live cell."""

from __future__ import annotations

import difflib
import functools
import tomllib
from dataclasses import dataclass
from importlib.resources import files

from nugget.errors import InputError
from nugget.setup.facts import sizes
from nugget.setup.overlay import Tree


@dataclass(frozen=True)
class Preset:
    """A named setup.

    Attributes
    ----------
    name, title, sentence : str
    tree : dict
        What it changes in the default setup.
    """

    name: str
    title: str
    sentence: str
    tree: Tree


@functools.cache
def presets() -> tuple[Preset, ...]:
    """Return every preset, the default first."""
    sentence = {
        "negative": "Both tips on a 0.12 mm strip over the can base, where the roll is near.",
        "positive": "Both tips on a 0.12 mm strip over the cap, with gas below it.",
    }
    found = [Preset("default", "River-level logger pack", "The built-in example: 18650-negative.", {})]
    for size in sizes():
        for end, words in sentence.items():
            title = f"Nickel strip to the {end} end of {'an' if size.startswith('18') else 'a'} {size} cell"
            tree = {"title": title, "cell": {"size": size, "end": end}}
            found.append(Preset(f"{size}-{end}", title, words, tree))
    text = (files("nugget.setup") / "data" / "presets.toml").read_text(encoding="utf-8")
    for name, entry in tomllib.loads(text).items():
        found.append(Preset(name, entry["setup"]["title"], entry["sentence"], entry["setup"]))
    return tuple(found)


def preset_names() -> list[str]:
    """Return the names of all presets, the default first."""
    return [one.name for one in presets()]


def preset_tree(name: str) -> Tree:
    """Return what the preset called `name` changes in the default setup."""
    for one in presets():
        if one.name == name:
            return one.tree
    close = difflib.get_close_matches(name, preset_names(), n=1, cutoff=0.3)
    hint = f"; the nearest is {close[0]}" if close else ""
    raise InputError("preset", name, f"one of {', '.join(preset_names())}{hint}")
