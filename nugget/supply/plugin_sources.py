"""Power sources that plugins bring: whatever they do wrong while a weld marches is said in their name."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from nugget.errors import InputError
from nugget.plugins import at_work
from nugget.supply.kinds import Source

NUMBERS = ("resistance_ohm", "inductance_H", "elastance_per_F", "alternating_Hz")


@dataclass(frozen=True)
class BroughtSource:
    """A source of a plugin whose answers are checked.

    Attributes
    ----------
    source : Source
    where : str
        Words that name the plugin in an error.
    """

    source: Any
    where: str

    def __post_init__(self) -> None:
        _ = self.drive, self.turns_off_at_zero, self.fires_late, *map(self._number, NUMBERS)

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or "source" not in self.__dict__:
            raise AttributeError(name)
        return getattr(self.source, name)

    @property
    def drive(self) -> Literal["voltage", "current"]:
        with at_work(self.where, "drive"):
            found = self.source.drive
        if found not in ("voltage", "current"):
            raise InputError(f"{self.where}: drive", found, "one of voltage, current")
        return "voltage" if found == "voltage" else "current"

    @property
    def resistance_ohm(self) -> float:
        return self._number("resistance_ohm")

    @property
    def inductance_H(self) -> float:
        return self._number("inductance_H")

    @property
    def elastance_per_F(self) -> float:
        return self._number("elastance_per_F")

    @property
    def alternating_Hz(self) -> float:
        return self._number("alternating_Hz")

    @property
    def turns_off_at_zero(self) -> bool:
        return self._flag("turns_off_at_zero")

    @property
    def fires_late(self) -> bool:
        return self._flag("fires_late")

    def value(self, time_s: float) -> float:
        expected = f"value({time_s:g}), a finite number"
        with at_work(self.where, expected):
            found = float(self.source.value(time_s))
        if not math.isfinite(found):
            raise InputError(self.where, found, expected)
        return found

    def instants(self, duration_s: float) -> tuple[float, ...]:
        expected = f"instants({duration_s:g}), numbers above 0 and below {duration_s:g}"
        with at_work(self.where, expected):
            found = tuple(float(time_s) for time_s in self.source.instants(duration_s))
        wrong = [time_s for time_s in found if not 0.0 <= time_s <= duration_s]
        if wrong:
            raise InputError(self.where, wrong[0], expected)
        return found

    def _number(self, name: str) -> float:
        with at_work(self.where, f"{name}, a number"):
            found = float(getattr(self.source, name))
        if not (math.isfinite(found) and found >= 0.0):
            raise InputError(f"{self.where}: {name}", found, "a finite number from 0 up")
        return found

    def _flag(self, name: str) -> bool:
        with at_work(self.where, f"{name}, true or false"):
            return bool(getattr(self.source, name))


def brought(source: Source, where: str) -> Source:
    """Return `source` under a cover that checks it."""
    return BroughtSource(source, where)
