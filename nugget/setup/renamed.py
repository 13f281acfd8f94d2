"""Keys of a setup file that bear another name now: said in one line, and rewritten in an old file."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from nugget.setup.toml import toml_text

RENAMED = {
    "ambient.film_coefficient": "heat_transfer_coefficient",
    "contact.gap": "stand_off",
    "contact.spread": "faying_radius_allowance",
    "contact.tip.spots": "contact_spot_density",
    "contact.faying.spots": "contact_spot_density",
    "electrode.form": "tip_shape",
    "joint.diameter": "minimum_diameter",
    "numerics.longest": "max_time",
    "numerics.stirring_factor": "melt_conductivity_factor",
    "pulse.*.gap": "cool_time",
    "pulse.*.level": "output_fraction",
}
"""What the last part of a path is called now; ``*`` stands for the number of a pulse."""

_HEADER = re.compile(r"\s*\[+\s*(?P<path>[^\]]+?)\s*\]+")
_KEY = re.compile(r"(?P<before>\s*(?:#\s*)?)(?P<key>[A-Za-z_][\w.-]*)(?=\s*=)")
_QUOTED = re.compile(r'"([a-z_]+(?:\.\w+)+)"')


def new_path(path: str) -> str | None:
    """Return the present path of a key that was renamed; None for any other."""
    parts = path.split(".")
    last = RENAMED.get(".".join("*" if part.isdecimal() else part for part in parts))
    return None if last is None else ".".join([*parts[:-1], last])


def converted(text: str) -> tuple[str, bool]:
    """Return the text of a setup file with its old keys renamed, and whether its comments are kept.

    Keys are rewritten in place. Where that does not give the same values (a table within a line), the
    file is written anew, without comments.

    Raises
    ------
    tomllib.TOMLDecodeError
        If `text` is no TOML.
    """
    wanted = _renamed(tomllib.loads(text))
    lines, table = [], ""
    for line in text.splitlines():
        if header := _HEADER.match(line):
            table = "pulse.0." if header["path"] == "pulse" else f"{header['path']}."
        elif found := _KEY.match(line):
            new = new_path(table + found["key"])
            if new is not None:
                line = found["before"] + new.removeprefix(table) + line[found.end() :]
        lines.append(_QUOTED.sub(lambda one: f'"{new_path(one[1]) or one[1]}"', line))
    written = "\n".join(lines) + "\n"
    try:
        kept = tomllib.loads(written) == wanted
    except tomllib.TOMLDecodeError:
        kept = False
    return (written, True) if kept else (toml_text(wanted), False)


def _renamed(value: Any, path: str = "") -> Any:
    """Return `value` of a document with every old key and every old path renamed."""
    if isinstance(value, dict):
        found = {}
        for key, item in value.items():
            new = new_path(path + key) or new_path(key)
            found[key if new is None else new.removeprefix(path)] = _renamed(item, f"{path}{key}.")
        return found
    if isinstance(value, list):
        return [_renamed(item, f"{path}0.") for item in value]
    return (new_path(value) or value) if isinstance(value, str) else value
