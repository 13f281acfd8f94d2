"""Limits: what a figure of merit may not exceed, fall short of, or ever be."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from nugget.errors import InputError
from nugget.merit.figure import FIGURES, Figure

Sense = Literal["at most", "at least", "never"]
Severity = Literal["harm", "damage", "hardware"]
SEVERITIES: dict[str, str] = {
    "harm": "harm to the cell",
    "damage": "damage to joint, strip or tip",
    "hardware": "hardware",
}
"""What a broken limit means, the gravest first."""


RESERVED = ("bonded", "minimum_diameter", "good", "enough", "unfinished")
"""Names of edges and chances that are no limits; no limit may be called so."""


@dataclass(frozen=True)
class Limit:
    """One limit that a weld is judged against.

    Attributes
    ----------
    id : str
        Its own name: several limits may refer to one figure, and all of them are judged.
    figure : str
        Key of the figure that it bounds.
    sense : {"at most", "at least", "never"}
        ``never`` is for figures that are true or false.
    value : float
        In the SI unit of the figure; without meaning for ``never``.
    source : str
        Where the limit comes from, for people.
    confidence : str
        How well it is known: a word such as ``memory``, ``assumption`` or ``stated``.
    severity : {"harm", "damage", "hardware"}
        Harm to the cell; damage to joint, strip or tip; more than the hardware may give.

    Raises
    ------
    InputError
        When there is no such figure, or the limit makes no sense for it.
    """

    id: str
    figure: str
    sense: Sense
    value: float = 0.0
    source: str = ""
    confidence: str = "stated"
    severity: Severity = "harm"

    def __post_init__(self) -> None:
        where = f"limit {self.id}"
        if not isinstance(self.id, str) or not self.id or self.id in RESERVED:
            raise InputError("limit", self.id, f"an id of its own, none of {', '.join(RESERVED)}")
        figure = _known(self.figure, where)
        for name, given, choices in (
            ("sense", self.sense, get_args(Sense)),
            ("severity", self.severity, get_args(Severity)),
        ):
            if given not in choices:
                raise InputError(f"{where}: {name}", given, f"one of {', '.join(choices)}")
        if not figure.can_be_limited:
            raise InputError(f"{where}: figure", self.figure, "a number, or a figure that is true or false")
        if (self.sense == "never") == figure.is_number:
            wanted = "at most or at least, for a number" if figure.is_number else "never, for a yes or no"
            raise InputError(f"{where}: sense", self.sense, wanted)
        if not isinstance(self.value, int | float) or not math.isfinite(self.value):
            raise InputError(f"{where}: value", self.value, "a finite number")
        if not self.source:
            raise InputError(f"{where}: source", "nothing", "where the limit comes from")

    @property
    def what(self) -> Figure:
        """The figure that it bounds."""
        return FIGURES[self.figure]

    @property
    def reaches(self) -> bool:
        """Whether a pulse must last long enough to keep it, as for a joint of at least some size."""
        return self.sense != "never" and (self.sense == "at least") != self.what.falls

    def value_in(self, figures: Mapping[str, Any]) -> float | None:
        """The figure that it bounds; a truth value is 0 or 1, None where the figure does not apply.

        Raises
        ------
        InputError
            When the figure was not read at all: a limit that cannot be judged is never kept.
        """
        if self.figure not in figures:
            where = f"limit {self.id}"
            raise InputError(where, f"no figure {self.figure} in the result", "a weld that was read for it")
        value = figures[self.figure]
        return None if value is None else float(value)

    def breaks(self, value: float | None) -> bool:
        """Whether a value breaks the limit; what is not a number does."""
        if value is None:
            return False
        return not (value >= self.value if self.sense == "at least" else value <= self.bound)

    @property
    def bound(self) -> float:
        """The value; 0 for ``never``."""
        return 0.0 if self.sense == "never" else self.value

    def margin(self, value: float | None) -> float | None:
        """Distance to the limit in the figure's unit; negative when broken, None where nothing applies."""
        if value is None:
            return None
        return value - self.value if self.sense == "at least" else self.bound - value


def _known(key: str, where: str) -> Figure:
    if isinstance(key, str) and key in FIGURES:
        return FIGURES[key]
    close = difflib.get_close_matches(str(key), list(FIGURES), n=1, cutoff=0.6)
    nearest = f"; the nearest is {close[0]}" if close else ""
    faults = "".join(f"; {problem}" for problem in FIGURES.problems)
    raise InputError(f"{where}: figure", key, f"a figure that `nugget figures` lists{nearest}{faults}")


def by_id(limits: Iterable[Limit]) -> dict[str, Limit]:
    """Return the limits by id.

    Raises
    ------
    InputError
        When two of them share one: then one would be judged and the other not.
    """
    found: dict[str, Limit] = {}
    for limit in limits:
        if limit.id in found:
            raise InputError("limits", f"two of the id {limit.id}", "an id of its own for each")
        found[limit.id] = limit
    return found


def titles(limits: Iterable[Limit]) -> dict[str, str]:
    """Return what each limit is called, by id: its figure, and its id where two share a figure."""
    found = list(limits)
    keys = [limit.figure for limit in found]
    return {
        limit.id: limit.what.title + (f" ({limit.id})" if keys.count(limit.figure) > 1 else "")
        for limit in found
    }
