"""Trial welds of the user's own, to be laid over a chart.

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

import csv
from dataclasses import dataclass
from pathlib import Path

from nugget.errors import InputError
from nugget.study.charting.variation import Axis
from nugget.units import to_si

RESULTS = {
    "loose": ("x", True),
    "stuck": ("v", False),
    "peeled": ("^", False),
    "held": ("o", False),
    "button": ("o", True),
    "splash": ("D", False),
    "pierced": ("D", True),
}
"""What a trial can show, with marker and whether it is filled: nothing joined; came off by hand;
gave way to a tool; held; tore a button; metal flew; the can is open."""

CELLS = ("coupon", "empty can", "cell")
"""What a trial can be made on."""


@dataclass(frozen=True)
class Trial:
    """One trial weld.

    Attributes
    ----------
    duration_s : float
    value : float
        Of the chart's field [SI].
    result : str
        A key of `RESULTS`.
    strip, cell : str or None
        Material, and one of `CELLS`; None where the file is silent, so as in the setup.
    """

    duration_s: float
    value: float
    result: str
    strip: str | None
    cell: str | None = None


def read_table(path: Path) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """Return header and numbered rows of a table of trials; comments and blank lines are left out.

    Raises
    ------
    InputError
        When it is no CSV table, or a row has more or fewer columns than the header.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
        lines = [
            (number, [cell.strip() for cell in next(csv.reader([line], skipinitialspace=True, strict=True))])
            for number, line in enumerate(text.splitlines(), 1)
            if line.strip() and not line.lstrip().startswith("#")
        ]
    except OSError as failure:
        reason = failure.strerror or str(failure)
        raise InputError(str(path), reason, "a readable CSV file of trials") from failure
    except (UnicodeDecodeError, csv.Error) as failure:
        raise InputError(path.name, str(failure), "a CSV file of trials in UTF-8") from failure
    if not lines:
        raise InputError(path.name, "an empty file", "a header such as 'duration,result'")
    (first, head), *rows = lines
    if len(head) == 1 and ";" in head[0]:
        raise InputError(f"{path.name}: row {first}", head[0], "commas between columns, not semicolons")
    for number, cells in rows:
        if len(cells) != len(head):
            where = f"{path.name}: row {number}"
            raise InputError(where, f"{len(cells)} columns", f"{len(head)}, as in the header")
    return head, rows


def read_trials(path: Path, axis: Axis) -> tuple[Trial, ...]:
    """Read the trials at `path` for a chart over `axis`.

    Raises
    ------
    InputError
        One line that names the file, the row and the column.
    """
    head, lines = read_table(path)
    name = next((n for n in head if n in (axis.field.path, axis.field.path.split(".")[-1])), None)
    for wanted in ("duration", "result", *([axis.field.path] if name is None and axis.own is None else [])):
        if wanted not in head:
            raise InputError(path.name, ", ".join(head), f"a column named {wanted}")
    rows = [(number, dict(zip(head, cells, strict=True))) for number, cells in lines]
    done = [(number, row) for number, row in rows if row["result"]]
    if not done:
        raise InputError(f"{path.name}: result", "no row with one", f"at least one of {', '.join(RESULTS)}")
    return tuple(_row(f"{path.name}: row {number}", row, axis, name) for number, row in done)


def _row(where: str, row: dict[str, str], axis: Axis, name: str | None) -> Trial:
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
        return Trial(duration_s, axis.own, result, strip, cell)
    try:
        value = axis.field.read(given)
    except ValueError as problem:
        raise InputError(f"{where}: {name}", given, str(problem)) from problem
    return Trial(duration_s, value, result, strip, cell)
