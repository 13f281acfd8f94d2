"""PlottedTrial welds of the user's own, to be laid over a chart.

A CSV file with a header, the one that calibration reads: ``duration``, ``result``, and what was
different from the setup: the field along the other axis by its path or the end of it, ``strip``,
and ``cell``, what the strip was welded to.
Quantities carry their unit; other columns, rows without a result and lines that begin with ``#``
are passed over::

    duration,thickness,result
    5 ms,0.15 mm,held
    8 ms,0.15 mm,button
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nugget.csv_table import read_csv
from nugget.errors import InputError
from nugget.study.inputs.variation import Axis
from nugget.study.trial_words import CELLS, RESULTS
from nugget.units import to_si


@dataclass(frozen=True)
class PlottedTrial:
    """One trial weld.

    Attributes
    ----------
    duration_s : float
    value : float
        Of the chart's field [SI].
    result : str
        A key of `nugget.study.trial_words.RESULTS`.
    strip, cell : str or None
        Material, and one of `nugget.study.trial_words.CELLS`; None where the file is silent, so as
        in the setup.
    """

    duration_s: float
    value: float
    result: str
    strip: str | None
    cell: str | None = None


def read_trials(path: Path, axis: Axis) -> tuple[PlottedTrial, ...]:
    """Read the trials at `path` for a chart over `axis`.

    Raises
    ------
    InputError
        One line that names the file, the line and the column.
    """
    table = read_csv(path, "trials", "duration,result")
    head = table.head
    name = next((n for n in head if n in (axis.field.path, axis.field.path.split(".")[-1])), None)
    for wanted in ("duration", "result", *([axis.field.path] if name is None and axis.own is None else [])):
        if wanted not in head:
            raise InputError(path.name, ", ".join(head), f"a column named {wanted}")
    done = [(line, row) for line, row in table.records() if row["result"]]
    if not done:
        raise InputError(f"{path.name}: result", "no row with one", f"at least one of {', '.join(RESULTS)}")
    return tuple(_row(table.where(line), row, axis, name) for line, row in done)


def _row(where: str, row: dict[str, str], axis: Axis, name: str | None) -> PlottedTrial:
    result = row["result"].lower()
    if result not in RESULTS:
        raise InputError(f"{where}: result", row["result"], f"one of {', '.join(RESULTS)}")
    try:
        duration_s = to_si(row["duration"], "time")
    except ValueError as problem:
        raise InputError(f"{where}: duration", row["duration"], str(problem)) from problem
    if duration_s <= 0.0:
        raise InputError(f"{where}: duration", row["duration"], "more than nothing")
    cell = (row.get("cell") or row.get("cell.kind") or "").lower() or None
    if cell is not None and cell not in CELLS:
        raise InputError(f"{where}: cell", row.get("cell") or cell, f"one of {', '.join(CELLS)}")
    strip = row.get("strip") or row.get("strip.material") or None
    given = row.get(name, "") if name is not None else ""
    if not given and axis.own is not None:  # as in the setup
        return PlottedTrial(duration_s, axis.own, result, strip, cell)
    try:
        value = axis.field.read(given)
    except ValueError as problem:
        raise InputError(f"{where}: {name}", given, str(problem)) from problem
    return PlottedTrial(duration_s, value, result, strip, cell)
