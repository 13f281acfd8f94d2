"""Power sources that plugins bring: whatever they do wrong while a weld marches is said in their name."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nugget.errors import InputError
from nugget.plugins import Cover, at_work
from nugget.supply.kinds import Source

NUMBERS = ("resistance_ohm", "inductance_H", "elastance_per_F", "alternating_Hz")


@dataclass(frozen=True)
class BroughtSource(Cover):
    """A source of a plugin whose answers are checked."""

    def __post_init__(self) -> None:
        _ = self.drive, self.turns_off_at_zero, self.fires_late, *map(self._number, NUMBERS)

    @property
    def drive(self) -> Literal["voltage", "current"]:
        with at_work(self.where, "drive"):
            found = self.made.drive
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
        return self.flag("turns_off_at_zero")

    @property
    def fires_late(self) -> bool:
        return self.flag("fires_late")

    def value(self, time_s: float) -> float:
        expected = f"value({time_s:g}), a finite number"
        with at_work(self.where, expected):
            found = float(self.made.value(time_s))
        if not math.isfinite(found):
            raise InputError(self.where, found, expected)
        return found

    def instants(self, duration_s: float) -> tuple[float, ...]:
        expected = f"instants({duration_s:g}), numbers above 0 and below {duration_s:g}"
        with at_work(self.where, expected):
            found = tuple(float(time_s) for time_s in self.made.instants(duration_s))
        wrong = [time_s for time_s in found if not 0.0 <= time_s <= duration_s]
        if wrong:
            raise InputError(self.where, wrong[0], expected)
        return found

    def _number(self, name: str) -> float:
        with at_work(self.where, f"{name}, a number"):
            found = float(getattr(self.made, name))
        if not (math.isfinite(found) and found >= 0.0):
            raise InputError(f"{self.where}: {name}", found, "a finite number from 0 up")
        return found


def brought(source: Source, where: str) -> Source:
    """Return `source` under a cover that checks it."""
    return BroughtSource(source, where)
