"""Scope traces: current and tip voltage of one weld against time.

The first line names the columns: one of ``time_s``, ``time_ms``, ``time_us``, and with it
``current_A`` or ``current_kA``, ``voltage_V`` or ``voltage_mV``, or both. Time zero is the instant
of switching on; samples before it are left out. The voltage is that between the two electrodes
where the model holds them, at the upper ends of their shanks. Lines starting with ``#`` are
comments.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import InputError

_TIME = {"time_s": 1.0, "time_ms": 1e-3, "time_us": 1e-6}
_CURRENT = {"current_A": 1.0, "current_kA": 1e3}
_VOLTAGE = {"voltage_V": 1.0, "voltage_mV": 1e-3}
MOST_SAMPLES = 1_000_000
KEPT = 24
"""Samples that are compared. Errors of a model are alike from one sample to the next, so more of
them would only feign certainty."""
RISE_SHARE = 0.8


@dataclass(frozen=True)
class Scope:
    """A trace, thinned to at most `KEPT` samples.

    Attributes
    ----------
    name : str
    time_s : tuple of float
        Since switching on.
    current_A, voltage_V : tuple of float
        Empty where the file has no such column.
    """

    name: str
    time_s: tuple[float, ...]
    current_A: tuple[float, ...] = ()
    voltage_V: tuple[float, ...] = ()


def read_scope(path: Path, duration_s: float) -> Scope:
    """Read the trace at `path` of a pulse that lasted `duration_s`.

    Raises
    ------
    InputError
        Naming the file and the line.
    """
    columns, rows = _rows(path)
    time_s = rows[:, columns["time"][0]] * columns["time"][1]
    if not np.all(np.diff(time_s) > 0.0):
        line = int(np.flatnonzero(np.diff(time_s) <= 0.0)[0]) + 3
        raise InputError(f"{path.name}: line {line}", "a time that goes back", "times that rise")
    on = (time_s >= 0.0) & (time_s <= duration_s * (1.0 + 1e-9))
    if on.sum() < 4:
        given = f"{int(on.sum())} samples within the pulse of {duration_s * 1e3:.4g} ms"
        raise InputError(path.name, given, "at least 4; time zero is the instant of switching on")
    signals = {
        name: rows[on, columns[name][0]] * columns[name][1]
        for name in ("current", "voltage")
        if name in columns
    }
    for name, signal in signals.items():
        if not np.abs(signal).max() > 0.0:
            raise InputError(path.name, f"a {name} of zero throughout", f"a {name} that was measured")
    kept = _kept(time_s[on], np.abs(next(iter(signals.values()))))

    def at(signal: FloatArray | None) -> tuple[float, ...]:
        return () if signal is None else tuple(float(v) for v in signal[kept])

    return Scope(path.name, at(time_s[on]), at(signals.get("current")), at(signals.get("voltage")))


def _kept(time_s: FloatArray, signal: FloatArray) -> npt.NDArray[np.intp]:
    """Samples to keep: evenly over the pulse, and over the rise of the signal, which is short.

    Whole samples, never between two: a rise may be shorter than their distance.
    """
    first, last = float(time_s[0]), float(time_s[-1])
    risen = float(time_s[int(np.argmax(signal >= RISE_SHARE * signal.max()))])
    even = np.linspace(first, last, KEPT - KEPT // 4)
    rise = np.linspace(first, min(2.0 * risen, last), KEPT // 4 + 2)[1:-1]
    wanted = np.concatenate([even, rise])
    after = np.clip(np.searchsorted(time_s, wanted), 1, len(time_s) - 1)
    nearer = wanted - time_s[after - 1] < time_s[after] - wanted
    return np.unique(after - nearer)


def _rows(path: Path) -> tuple[dict[str, tuple[int, float]], FloatArray]:
    """Column and factor of each signal, and all numbers of the file."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as failure:
        reason = failure.strerror or str(failure)
        raise InputError(str(path), reason, "a readable CSV file of a scope trace") from failure
    except UnicodeDecodeError as failure:
        raise InputError(path.name, "a file that is not UTF-8 text", "a CSV file") from failure
    lines = [
        (number, [cell.strip() for cell in line.split(",")])
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not lines:
        raise InputError(path.name, "an empty file", "columns such as 'time_ms,current_A,voltage_V'")
    head = lines[0][1]
    columns: dict[str, tuple[int, float]] = {}
    for name, known in (("time", _TIME), ("current", _CURRENT), ("voltage", _VOLTAGE)):
        found = [cell for cell in head if cell in known]
        if len(found) > 1 or (name == "time" and not found):
            expected = f"{'one' if name == 'time' else 'at most one'} column out of {', '.join(known)}"
            raise InputError(f"{path.name}: header", ",".join(head), expected)
        if found:
            columns[name] = head.index(found[0]), known[found[0]]
    if len(columns) < 2:
        expected = f"a column out of {', '.join((*_CURRENT, *_VOLTAGE))}"
        raise InputError(f"{path.name}: header", ",".join(head), expected)
    if len(lines) - 1 > MOST_SAMPLES:
        raise InputError(path.name, f"{len(lines) - 1} samples", f"at most {MOST_SAMPLES}")
    used = sorted(column for column, _ in columns.values())
    rows = np.full((len(lines) - 1, len(head)), math.nan)
    for row, (number, cells) in zip(rows, lines[1:], strict=True):
        if len(cells) != len(head):
            expected = f"{len(head)}, as in the header"
            raise InputError(f"{path.name}: line {number}", f"{len(cells)} columns", expected)
        for column in used:
            row[column] = _number(f"{path.name}: line {number}", cells[column], head[column])
    return columns, rows


def _number(where: str, cell: str, column: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError(where, cell, f"a finite number in column {column}")
    return value
