"""What the end of a name says: the SI unit of a figure or of a column of a history."""

from __future__ import annotations

SUFFIXES = {
    "_W_m2K": "W/(m2 K)",
    "_A_m2": "A/m2",
    "_ohm": "ohm",
    "_1_s": "1/s",
    "_m": "m",
    "_s": "s",
    "_K": "K",
    "_A": "A",
    "_V": "V",
    "_J": "J",
    "_N": "N",
    "_W": "W",
    "_C": "C",
    "_A2s": "A2 s",
}
"""Unit by ending, longer endings before those that they end in."""


def unit_of(name: str) -> str:
    """Return the SI unit that `name` ends in, ``"1"`` where it names none.

    Examples
    --------
    >>> unit_of("nugget_diameter_m"), unit_of("can_penetration")
    ('m', '1')
    """
    return next((unit for ending, unit in SUFFIXES.items() if name.endswith(ending)), "1")


def title_of(name: str) -> str:
    """Return a name in words, without the unit at its end.

    Examples
    --------
    >>> title_of("nugget_diameter_m")
    'nugget diameter'
    """
    ending = next((ending for ending in SUFFIXES if name.endswith(ending)), "")
    return name.removesuffix(ending).replace("_", " ")
