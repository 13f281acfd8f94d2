"""Scope traces: current and tip voltage of one weld against time.

The first line names the columns: one of ``time_s``, ``time_ms``, ``time_us``, and with it
``current_A`` or ``current_kA``, ``voltage_V`` or ``voltage_mV``, or both. Time zero is the instant
of switching on; samples before it are left out. The voltage is that between the two electrodes
where the model holds them, at the upper ends of their shanks. Lines starting with ``#`` are
comments.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.csv_table import read_csv
from nugget.errors import InputError
from nugget.setup.trace import CURRENT, TIME, VOLTAGE

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
    table = read_csv(path, "a scope trace", "time_ms,current_A,voltage_V")
    if len(table.rows) > MOST_SAMPLES:
        raise InputError(path.name, f"{len(table.rows)} samples", f"at most {MOST_SAMPLES}")
    columns = {"time": table.needed_column(TIME)}
    for name, known in (("current", CURRENT), ("voltage", VOLTAGE)):
        column = table.column(known)
        if column is not None:
            columns[name] = column
    if len(columns) < 2:
        expected = f"a column out of {', '.join((*CURRENT, *VOLTAGE))}"
        raise InputError(table.where(table.head_line), ",".join(table.head), expected)
    measured = dict(zip(columns, table.numbers(list(columns.values())).T, strict=True))
    time_s = measured.pop("time")
    back = np.flatnonzero(np.diff(time_s) <= 0.0)
    if len(back):
        line, _ = table.rows[int(back[0]) + 1]
        raise InputError(table.where(line), "a time that goes back", "times that rise")
    on = (time_s >= 0.0) & (time_s <= duration_s * (1.0 + 1e-9))
    if on.sum() < 4:
        given = f"{int(on.sum())} samples within the pulse of {duration_s * 1e3:.4g} ms"
        raise InputError(path.name, given, "at least 4; time zero is the instant of switching on")
    signals = {name: signal[on] for name, signal in measured.items()}
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
