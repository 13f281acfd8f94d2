"""Material files to start from, as text: commented, ready to be edited."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from nugget.errors import InputError
from nugget.materials.checks import RANGES, SCALAR_RANGES
from nugget.materials.discovery import catalogue
from nugget.materials.estimate import Catalogue, document, elements
from nugget.materials.library import Paths
from nugget.materials.measures import UNITS, to_si
from nugget.materials.messages import nearest

HEADER = """\
# A material for nugget. Name the file after the material, with .toml behind it.
#
# One number is a [table] with value, unit, source and confidence. A property against temperature
# is a [[table]] with the units of both columns as your source prints them, and rows of
# [temperature, value] in order of temperature. It may come in several parts, one for each source.
# Between rows nugget interpolates; past both ends it holds the value and says so.
#
# heat_capacity leaves out the heat of fusion. Tables of a metal should run across melting, with a
# row at the solidus and one at the liquidus, up to the boiling point.
# A material that conducts differently along the axis of the cell has [[conductivity_r]] and
# [[conductivity_z]] instead of [[conductivity]]. Leave out [[resistivity]] for an insulator.
#
# hardness is that of a slow test. What a pulse meets is worked out from it: cold, with [rate_exponent];
# hot, from rows of [[flow_stress]] at one or more rates of strain, or from the constants of [creep] or
# [hot_working]; without them from an estimate, which is marked so. [[tempers]] lists hardness by temper.
# [composition] decides what a joint with another metal is. [[seebeck]] is the absolute coefficient.
# `nugget material template --from nickel-200` shows them all but [[flow_stress]], can-steel has that.
#
# confidence is one of
#   found      read in the source you name
#   library    printed by a general-purpose library
#   memory     recalled from the named work, not read again
#   estimated  supplied by the rule you name under source
#   unknown
#
# Units: UNITS
#
# Then: nugget material check FILE
"""

BOUNDS = RANGES | {
    "temperature": SCALAR_RANGES["solidus_K"],
    "tensile_strength": SCALAR_RANGES["tensile_strength_Pa"],
}
"""What a value from a catalogue may be [SI]: beyond it, a slip of the unit is likelier than such a metal."""
SI = {name: next(iter(UNITS[name])) for name in UNITS}
MOST_COEFFICIENT_1_K = 0.02
"""Of the resistivity; three times that of pure iron and nickel (from memory)."""


def from_material(name: str, new_name: str, paths: Paths = ()) -> str:
    """Return the file of the material called `name`, under a new name, with comments on top."""
    text = catalogue(paths).entry(name).file.read_text(encoding="utf-8")
    return header() + "\n" + re.sub(r"^name = .*$", f'name = "{new_name}"', text, count=1, flags=re.MULTILINE)


def from_catalogue(given: Catalogue, name: str, title: str) -> str:
    """Return a file estimated from catalogue values; what could not be estimated is named in comments."""
    content = document(given, name, title)
    needed = ("melting_range", "density", "resistivity", "conductivity", "heat_capacity")
    missing = [key for key in needed if key not in content]
    text = header() + "\n" + dumps(content)
    if missing:
        ask = ", ".join(missing)
        text += f"\n# STILL TO BE ADDED, as neither given nor estimated: {ask}.\n"
        text += "# Give --resistivity and --melting to have the rest estimated.\n"
    return text


def header() -> str:
    """Return the comments that explain the file."""
    lines = [
        f"{quantity}: {', '.join(units)}"
        for quantity, units in UNITS.items()
        if quantity not in ("thickness", "exponent")
    ]
    return HEADER.replace(
        "UNITS", 'a number may stand in front, as in "1e-8 ohm m"\n#   ' + "\n#   ".join(lines)
    )


def dumps(content: dict[str, Any]) -> str:
    """Return a material file's content as TOML: numbers and text, then tables, in the given order."""
    plain = {key: value for key, value in content.items() if not isinstance(value, dict | list)}
    blocks = ["\n".join(f"{key} = {_value(value)}" for key, value in plain.items())]
    for key, value in content.items():
        if isinstance(value, dict):
            blocks.append(f"[{key}]\n" + _lines(value))
        elif isinstance(value, list):
            blocks += [f"[[{key}]]\n" + _lines(part) for part in value]
    return "\n\n".join(blocks) + "\n"


def _lines(table: dict[str, Any]) -> str:
    return "\n".join(f"{key} = {_value(value)}" for key, value in table.items())


def _value(value: Any) -> str:
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list):
        rows = [f"[{_value(t)}, {_value(v)}]" for t, v in value]
        return "[\n" + "".join(f"    {', '.join(rows[i : i + 5])},\n" for i in range(0, len(rows), 5)) + "]"
    return f"{value:g}" if isinstance(value, float) and float(f"{value:g}") == value else repr(value)


def quantity(text: str, name: str, where: str) -> float:
    """Return the SI value of a quantity such as ``"34 uohm cm"``, ``"28 % IACS"`` or ``"8.9 g/cm3"``."""
    if not re.match(r"^\s*[0-9.]", text):
        raise InputError(
            where, text, f"a number and a unit of {name.replace('_', ' ')}: {', '.join(UNITS[name])}"
        )
    with np.errstate(over="ignore", divide="ignore"):
        value = float(to_si(1.0, text, name, where))
    low, high = BOUNDS[name]
    if not low <= value <= high:
        raise InputError(where, text, f"{name.replace('_', ' ')} of a metal, {low:g} to {high:g} {SI[name]}")
    return value


def melting(text: str, where: str) -> tuple[float, float]:
    """Return solidus and liquidus [K] of ``"1170 to 1240 degC"``; one temperature is spread over 10 K."""
    match = re.match(r"^\s*([0-9.]+)\s*(?:to|-)\s*([0-9.]+)\s*(\S.*)$", text)
    if match is None:
        point = quantity(text, "temperature", where)
        return point - 5.0, point + 5.0
    solidus, liquidus = (
        quantity(f"{number} {match[3]}", "temperature", where) for number in match.groups()[:2]
    )
    if solidus >= liquidus:
        raise InputError(where, text, "the lower temperature first")
    return solidus, liquidus


def coefficient(text: str | None, where: str) -> float | None:
    """Return a temperature coefficient [1/K] of ``"2e-4 1/K"``, which may be negative; None for None."""
    if text is None:
        return None
    match = re.match(r"^\s*([-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?)\s*(1/K|/K|ppm/K)\s*$", text)
    if match is None:
        raise InputError(where, text, 'a number and 1/K or ppm/K, as in "2e-4 1/K"')
    value = float(match[1]) * (1e-6 if match[2] == "ppm/K" else 1.0)
    if not abs(value) <= MOST_COEFFICIENT_1_K:
        raise InputError(
            where, text, f"at most {MOST_COEFFICIENT_1_K:g} 1/K: pure iron and nickel have 0.007"
        )
    return value


def composition(text: str, where: str) -> dict[str, float]:
    """Return mass fractions that add up to 1 of ``"Cu 70, Ni 30"``."""
    known = [element for element in elements() if element != "source"]
    parts: dict[str, float] = {}
    for piece in filter(None, (piece.strip() for piece in text.split(","))):
        match = re.match(r"^([A-Z][a-z]?)\s*([0-9.]+)\s*%?$", piece)
        if match is None:
            raise InputError(where, piece, 'element and mass percent, as in "Cu 70, Ni 30"')
        if match[1] not in known:
            raise InputError(where, match[1], nearest(match[1], known))
        parts[match[1]] = parts.get(match[1], 0.0) + float(match[2])
    total = sum(parts.values())
    if not 90.0 <= total <= 110.0:
        raise InputError(where, f"{total:g} % in all", "mass percents that add up to 100")
    return {element: share / total for element, share in parts.items()}
