"""Recorded traces: a CSV file of current or voltage against time.

The first line names the columns, each with its unit: one of ``time_s``, ``time_ms``,
``time_us`` and, by the quantity that the setup states, one of ``current_A``, ``current_kA``,
``voltage_V``, ``voltage_mV``. Other columns are left alone. Lines starting with ``#`` are
comments.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Literal

from nugget.errors import InputError

_TIME = {"time_s": 1.0, "time_ms": 1e-3, "time_us": 1e-6}
_SAMPLE = {
    "current": {"current_A": 1.0, "current_kA": 1e3},
    "voltage": {"voltage_V": 1.0, "voltage_mV": 1e-3},
}
MOST_SAMPLES = 20_000
"""A longer trace is to be thinned first: every result carries the samples of its setup."""


def read_trace(
    path: Path, quantity: Literal["current", "voltage"]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return times [s], starting at zero, and samples [A] or [V] of the trace in `path`.

    Raises
    ------
    InputError
        Naming the file and the line.
    """
    name = path.name
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(name, _reason(error), "a readable CSV file of the trace") from error
    lines = [
        (number, [cell.strip() for cell in line.split(",")])
        for number, line in enumerate(text.splitlines(), start=1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise InputError(name, "an empty file", f"columns such as 'time_ms,{next(iter(_SAMPLE[quantity]))}'")
    header = lines[0][1]
    time_column, time_factor = _column(name, header, _TIME)
    sample_column, sample_factor = _column(name, header, _SAMPLE[quantity])
    times: list[float] = []
    samples: list[float] = []
    for number, cells in lines[1:]:
        where = f"{name}: line {number}"
        if len(cells) != len(header):
            raise InputError(where, f"{len(cells)} columns", f"{len(header)} as in the first line")
        time = _number(where, cells[time_column], header[time_column]) * time_factor
        if times and time <= times[-1]:
            raise InputError(where, cells[time_column], "a later time than on the line before")
        times.append(time)
        samples.append(_number(where, cells[sample_column], header[sample_column]) * sample_factor)
    if not 2 <= len(times) <= MOST_SAMPLES:
        raise InputError(name, len(times), f"2 to {MOST_SAMPLES} samples")
    return tuple(time - times[0] for time in times), tuple(samples)


def _column(name: str, header: list[str], known: dict[str, float]) -> tuple[int, float]:
    found = [column for column in header if column in known]
    if len(found) != 1 or header.count(found[0]) != 1:
        raise InputError(f"{name}: line 1", ",".join(header), f"one column out of {', '.join(known)}")
    return header.index(found[0]), known[found[0]]


def _number(where: str, cell: str, column: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(where, cell, f"a finite number in column {column}")
    return value


def _reason(error: OSError | UnicodeDecodeError) -> str:
    if isinstance(error, OSError):
        return (error.strerror or "an unreadable file").lower()
    return "a file that is not UTF-8 text"
