"""Ratios and times of earlier runs of the benchmark, to hold a later one against.

`history.csv` beside this module: day, machine, piece, row, value, unit. Only ratios and counts mean anything
from one machine to another.
"""

from __future__ import annotations

import csv
import datetime
import platform
from collections.abc import Iterable
from pathlib import Path

from validation.case import Check

HISTORY = Path(__file__).with_name("history.csv")
COLUMNS = ("day", "machine", "piece", "row", "value", "unit")


def keep(path: Path, found: Iterable[tuple[str, Check]], day: datetime.date) -> None:
    """Append the rows of one run, each with its piece."""
    fresh = not path.exists()
    with path.open("a", newline="", encoding="utf-8") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        if fresh:
            writer.writerow(COLUMNS)
        for piece, check in found:
            number = f"{check.value:.4g}"
            writer.writerow((day.isoformat(), platform.machine(), piece, check.name, number, check.unit))


def latest(path: Path) -> dict[tuple[str, str], tuple[str, float]]:
    """Day and value of the last run that had a row, by piece and row; nothing without a file."""
    if not path.exists():
        return {}
    with path.open(newline="", encoding="utf-8") as stream:
        return {
            (row["piece"], row["row"]): (row["day"], float(row["value"])) for row in csv.DictReader(stream)
        }


def compared(path: Path, found: Iterable[tuple[str, Check]]) -> list[str]:
    """A line for each row that was measured before: now, then, and how many times as much."""
    before, lines = latest(path), []
    for piece, check in found:
        known = before.get((piece, check.name))
        if known is not None and known[1]:
            day, value = known
            factor = check.value / value
            lines.append(f"{piece}: {check.name}: {check.value:.4g}, {day} {value:.4g} (x{factor:.2f})")
    return lines
