"""What a piece of evidence is: measurements against bars that were set beforehand."""

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
        What is measured, how, and where the bar comes from (Markdown).
    run : callable
        Takes the number of worker processes and returns an `Outcome`; a check made by
        `validation.case.at_most` is a bar, one made by `reported` is not judged.
    """

    name: str
    title: str
    what: str
    run: Callable[[int], Outcome]


def reported(name: str, value: float, unit: str = "", note: str = "") -> Check:
    """A number that is reported and not judged."""
    return Check(name, float(value), math.nan, 0.0, math.inf, unit, note, counts=False)
