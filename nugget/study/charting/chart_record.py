"""What a chart is kept as: a table of every number behind the picture, and one JSON object."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from nugget.constants import VERSION
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.study.charting.column_chances import QUANTILES
from nugget.study.charting.duration_chart import Advice, Chart, Column, Panel
from nugget.study.durations.window import Window


def chart_csv(chart: Chart) -> str:
    """One row for each strip and value; SI, the unit in each name.

    Edges and window of the weld as set up, the window at the stated confidence, then for each edge the
    durations at which 5, 50 and 95 % of the welds have passed it.
    """
    first = chart.panels[0].columns[0].nominal
    field = chart.axis.field
    head = ["strip", f"{field.path} [{field.unit or '1'}]"]
    head += [f"{edge.key}_{'until' if edge.kind == 'limit' else 'from'}_s" for edge in first.edges]
    head += [
        "window_from_s",
        "window_until_s",
        "window_ends_with",
        "largest_fused_m",
        "minimum_diameter_m",
        "searched_s",
    ]
    bands = [edge.key for edge in first.edges if edge.kind != "bond"] if chart.spread else []
    bands += ["joint", "any limit"] if chart.spread else []
    head += ["in_window_from_s", "in_window_until_s"] if chart.spread else []
    head += [f"{key.replace(' ', '_')}_in_{100.0 * q:.0f}_percent_s" for key in bands for q in QUANTILES]
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(head)
    for panel in chart.panels:
        for column in panel.columns:
            growth, known = column.nominal, {edge.key: edge for edge in column.nominal.edges}
            row: list[Any] = [panel.strip, column.value]
            row += [_blank(known[e.key].duration_s) if e.key in known else "" for e in first.edges]
            row += _window_cells(column.window)
            row += [
                max(growth.fused_m, default=0.0),
                growth.edge("minimum_diameter").threshold,
                growth.searched_s,
            ]
            row += _known_cells(column, bands) if chart.spread else []
            table.writerow(row)
    return out.getvalue()


def _known_cells(column: Column, bands: Sequence[str]) -> Sequence[float | str]:
    if column.known is None:
        return [""] * (2 + len(QUANTILES) * len(bands))
    ends = [column.known.from_s, column.known.until_s]
    found = [column.known.band(key) for key in bands]
    return [
        _blank(v) for v in (*ends, *(t for one in found for t in (one.early_s, one.middle_s, one.late_s)))
    ]


def _blank(value: float | None) -> float | str:
    return "" if value is None else value


def _window_cells(window: Window) -> list[float | str]:
    if not window.open:
        return ["", "", f"unknown: {window.why}" if window.unknown else "no window"]
    assert window.from_s is not None
    return [window.from_s, window.until_s, window.binding.key if window.binding else window.why]


def chart_record(chart: Chart) -> dict[str, Any]:
    """Everything about a chart, JSON-ready."""
    axis = chart.axis
    return {
        "vary": {
            "field": axis.field.path,
            "unit": axis.field.unit,
            "values": list(axis.values),
            "own": axis.own,
        },
        "own_duration_s": chart.own_s,
        "longest_s": chart.longest_s,
        "inputs_varied": chart.spread,
        "panels": [_panel(panel) for panel in chart.panels],
        "setup": chart.setup.document(whole=True),
        "data_sources": _sources(chart),
        "cautions": list(CAUTIONS),
        "version": VERSION,
    }


def _panel(panel: Panel) -> dict[str, Any]:
    return {
        "strip": panel.strip,
        "columns": [_column(column) for column in panel.columns],
        "statement": None if panel.said is None else panel.said.record(),
        "no_window": None if panel.advice is None else _advice(panel.advice),
    }


def _column(column: Column) -> dict[str, Any]:
    return {
        "value": column.value,
        "window": _window(column.window),
        "known": None if column.known is None else column.known.record(),
        "growth": asdict(column.nominal),
    }


def _window(window: Window) -> dict[str, Any]:
    return {
        "open": window.open,
        "unknown": window.unknown,
        "from_s": window.from_s,
        "until_s": window.until_s,
        "ends_with": window.binding.key if window.binding is not None else None,
        "why": window.why,
    }


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "value": advice.value,
        "crossing": advice.crossing,
        "tried": [
            {
                "change": trial.change.what,
                "values": trial.change.values,
                "opens": trial.window.open,
                "sentence": trial.sentence,
                "window": _window(trial.window),
            }
            for trial in advice.trials
        ],
    }


def _sources(chart: Chart) -> list[dict[str, str]]:
    """Citations of all panels, each once."""
    found = {tuple(sorted(s.items())): s for panel in chart.panels for s in data_sources(panel.setup)}
    return list(found.values())
