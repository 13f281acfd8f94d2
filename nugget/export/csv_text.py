"""A weld as tables of comma-separated values, the SI unit of each column in its name."""

from __future__ import annotations

import csv
import io
from typing import Any

from nugget.merit.figure import FIGURES
from nugget.outcome.weld import Weld


def histories_csv(weld: Weld) -> str:
    """One row a step: the time in the first column, then every column of the history."""
    names = ["time_s", *(name for name in weld.history if name != "time_s")]
    rows = zip(*(weld.history[name].tolist() for name in names), strict=True)
    return _written([name.replace(" ", "_") for name in names], rows)


def figures_csv(weld: Weld) -> str:
    """One row a figure of merit: key, title, value, SI unit and what it counts; tables are left out."""
    rows = []
    for key, one in FIGURES.items():
        if one.unit != "table" and key in weld.figures:
            value = weld.figures[key]
            rows.append([key, one.title, "" if value is None else value, one.si_unit, one.per])
    return _written(["figure", "title", "value", "unit", "per"], rows)


def _written(head: list[str], rows: Any) -> str:
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(head)
    table.writerows(rows)
    return out.getvalue()
