"""What a piece of evidence is, measurements against limits that were set beforehand, and a report of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from validation.case import Check, Outcome


@dataclass(frozen=True)
class Piece:
    """One piece of evidence.

    Attributes
    ----------
    name, title : str
    what : str
        What is measured, how, and where the limit comes from (Markdown).
    run : callable
        Takes the number of worker processes and returns an `Outcome`; a check made by
        `validation.case.at_most` is a limit, one made by `reported` is not judged.
    """

    name: str
    title: str
    what: str
    run: Callable[[int], Outcome]


@dataclass(frozen=True)
class Report:
    """A report made of pieces.

    Attributes
    ----------
    package : str
        Package of the pieces; each module of it has a `PIECE`.
    modules : tuple of str
    name, title, opening : str
        File name without its ending, headline and first words (Markdown).
    option, number : str, int
        The number that each piece is given: name of its option, and default.
    """

    package: str
    modules: tuple[str, ...]
    name: str
    title: str
    opening: str
    option: str
    number: int


def reported(name: str, value: float, unit: str = "", note: str = "") -> Check:
    """A number that is reported and not judged."""
    return Check(name, float(value), math.nan, 0.0, math.inf, unit, note, counts=False)
