"""Recorded traces: a CSV file of current or voltage against time.

The first line names the columns, each with its unit: one of `TIME` and, by the quantity that the
setup states, one of `CURRENT` or `VOLTAGE`. Other columns are left alone. Lines starting with ``#``
are comments.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import numpy as np

from nugget.csv_table import read_csv
from nugget.errors import InputError

TIME = {"time_s": 1.0, "time_ms": 1e-3, "time_us": 1e-6}
CURRENT = {"current_A": 1.0, "current_kA": 1e3}
VOLTAGE = {"voltage_V": 1.0, "voltage_mV": 1e-3}
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
    known = CURRENT if quantity == "current" else VOLTAGE
    table = read_csv(path, "the trace", f"time_ms,{next(iter(known))}")
    columns = [table.needed_column(TIME), table.needed_column(known)]
    if not 2 <= len(table.rows) <= MOST_SAMPLES:
        raise InputError(table.name, len(table.rows), f"2 to {MOST_SAMPLES} samples")
    time_s, sample = table.numbers(columns).T
    back = np.flatnonzero(np.diff(time_s) <= 0.0)
    if len(back):
        line, cells = table.rows[int(back[0]) + 1]
        raise InputError(table.where(line), cells[columns[0][0]], "a later time than on the line before")
    return tuple((time_s - time_s[0]).tolist()), tuple(sample.tolist())
