"""Entries that lie far outside what the trade uses: a slip of unit more often than an intention."""

from __future__ import annotations

import functools
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from importlib.resources import files
from typing import Any

from nugget.setup.numeric_fields import stated_value, value_of
from nugget.setup.quantity import Quantity
from nugget.setup.setup import Setup
from nugget.setup.sources import CapacitorBankSection
from nugget.units import to_si

CAPACITOR_CELL_V = 3.0
"""Rated voltage of a double-layer capacitor: 2.5 to 3 V (common practice, no source)."""
SPREAD_SHARE = 0.15
"""Share of a pulse above which its spread is worth a remark: a pulse of half the time welds little
(assumption)."""


@dataclass(frozen=True)
class TradeRange:
    """What the trade uses for one field.

    Attributes
    ----------
    field : str
        Key path; ``*`` stands for any index.
    low, high : str
        Quantities; empty where the field means nothing.
    when : dict
        What the setup has to say at other paths for this range to count.
    source : str
    """

    field: str
    low: str = ""
    high: str = ""
    when: tuple[tuple[str, str], ...] = ()
    source: str = ""

    def counts(self, setup: Setup, path: str) -> bool:
        """Whether this is the range of the field at `path`."""
        return fnmatchcase(path, self.field) and all(_word(setup, at) == word for at, word in self.when)

    def holds(self, value: float, dimension: str) -> bool:
        """Whether a value [SI] lies in it."""
        return not self.low or to_si(self.low, dimension) <= value <= to_si(self.high, dimension)


@functools.cache
def trade_ranges() -> tuple[TradeRange, ...]:
    """The ranges of the data file, the more special ones first."""
    text = (files("nugget.setup") / "data" / "trade.toml").read_text(encoding="utf-8")
    tables = tomllib.loads(text)["range"]
    return tuple(TradeRange(**{**one, "when": tuple(one.get("when", {}).items())}) for one in tables)


def remarks(setup: Setup) -> tuple[str, ...]:
    """What in a setup is so unusual that it may be a slip, one sentence each."""
    return (*_outside(setup), *_capacitors(setup), *_timing(setup))


def _outside(setup: Setup) -> Iterator[str]:
    for path, field in setup.fields.items():
        one = next((one for one in trade_ranges() if one.counts(setup, path)), None)
        value = None if one is None else value_of(setup, path)
        if one is None or value is None or one.holds(value, field.dimension):
            continue
        yield (
            f"{path} is {_text(setup, path, value)}: the trade uses {one.low} to {one.high} ({one.source})"
        )


def _capacitors(setup: Setup) -> Iterator[str]:
    """Cells of a bank that would burst: only where the bank is described by its cells."""
    source = setup.file.source
    if isinstance(source, CapacitorBankSection) and source.by_cell:
        volts = source.start_voltage.si / (source.cells_in_series or 1)
        if volts > CAPACITOR_CELL_V:
            yield (
                f"source.start_voltage puts {volts:.3g} V across each capacitor: a double-layer one is rated"
                f" for 2.5 to {CAPACITOR_CELL_V:g} V (common practice, no source)"
            )


def _timing(setup: Setup) -> Iterator[str]:
    """Pulses that the switch does not keep."""
    spread = setup.pulse_spread_s
    for index, pulse in enumerate(setup.train):
        if spread > SPREAD_SHARE * pulse.duration_s:
            yield (
                f"pulse.{index}.duration is {1e3 * pulse.duration_s:.4g} ms, and the relay keeps it to"
                f" {1e3 * spread:.2g} ms (standard deviation): welds will differ"
            )


def _text(setup: Setup, path: str, value: float) -> str:
    """The value as the setup writes it, or as its field would."""
    if stated_value(setup, path) is not None:
        found = _at(setup, path)
        if isinstance(found, Quantity):
            return found.text
    return str(setup.fields[path].write(value))


def _word(setup: Setup, path: str) -> str:
    return str(_at(setup, path))


def _at(setup: Setup, path: str) -> Any:
    found: Any = setup.file
    for key in path.split("."):
        found = found[int(key)] if isinstance(found, tuple) else getattr(found, key, None)
    return found
