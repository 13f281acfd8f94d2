"""What a chart is kept as: a table of every number behind the picture, and one JSON object."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import Any

from nugget.constants import VERSION
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.study.charting.duration_chart import Advice, Chart, Column, Panel
from nugget.study.durations.window import Window, window_of


def chart_csv(chart: Chart) -> str:
    """One row for each strip, value and contact radius; SI, the unit in each name."""
    first = chart.panels[0].columns[0].nominal
    field = chart.axis.field
    head = ["strip", f"{field.path} [{field.unit or '1'}]", "contact_radius_factor"]
    head += [f"{edge.key}_{'until' if edge.kind == 'limit' else 'from'}_s" for edge in first.edges]
    head += [
        "window_from_s",
        "window_until_s",
        "window_ends_with",
        "largest_fused_m",
        "target_m",
        "searched_s",
    ]
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(head)
    for panel in chart.panels:
        for column in panel.columns:
            for factor, growth in zip(chart.factors, column.growths, strict=True):
                known = {edge.key: edge for edge in growth.edges}
                window = window_of(growth)
                row: list[Any] = [panel.strip, column.value, factor]
                row += [_blank(known[e.key].duration_s) if e.key in known else "" for e in first.edges]
                row += _window_cells(window)
                row += [max(growth.fused_m, default=0.0), growth.edge("target").threshold, growth.searched_s]
                table.writerow(row)
    return out.getvalue()


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
        "contact_radius_factors": list(chart.factors),
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
        "no_window": None if panel.advice is None else _advice(panel.advice),
    }


def _column(column: Column) -> dict[str, Any]:
    return {
        "value": column.value,
        "window": _window(column.window),
        "window_at_all_contact_radii": _window(column.sure),
        "growths": [asdict(growth) for growth in column.growths],
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
