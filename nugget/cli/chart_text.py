"""What ``nugget chart`` prints: the window of every column, and what to do where there is none."""

from __future__ import annotations

import textwrap

from nugget.cli.text_tables import WIDTH
from nugget.merit import amounts
from nugget.outcome.record import CAUTIONS
from nugget.study.charting.duration_chart import Chart, Column, Panel
from nugget.study.durations.window import Window


def print_chart(chart: Chart) -> None:
    """Print the windows of a chart to stdout."""
    print(chart.setup.title)
    if chart.axis.own is not None:
        print(f"Your setting: {amounts.time(chart.own_s)} at {chart.axis.text(chart.axis.own)}")
    for panel in chart.panels:
        print(f"\n{panel.strip}: window of pulse durations against {chart.axis.title}")
        for line in _table(chart, panel):
            print(line)
        for line in _advice(chart, panel):
            print(line)
    print()
    for caution in CAUTIONS:
        print(textwrap.fill(caution, WIDTH, subsequent_indent="  "))


def _table(chart: Chart, panel: Panel) -> list[str]:
    """One line for each column."""
    several = len(chart.factors) > 1
    head = ["", "from", "until", "ends with"]
    if several:
        head.append(f"over contact radius × {chart.factors[0]:g} to {chart.factors[-1]:g}")
    rows = [head]
    for column in panel.columns:
        rows.append(
            [chart.axis.text(column.value), *_cells(column), *([_span(column.sure)] if several else [])]
        )
    widths = [max(len(row[k]) for row in rows) for k in range(len(head))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    ]


def _cells(column: Column) -> list[str]:
    window = column.window
    if window.unknown and not window.open:
        return ["not known", "", window.why]
    if not window.open:
        return ["none", "", ""]
    ends = window.binding.title.lower() if window.binding is not None else window.why
    return [amounts.time(window.from_s), amounts.time(window.until_s), ends]


def _span(window: Window) -> str:
    if not window.open:
        return "not known" if window.unknown else "none"
    return f"{amounts.time(window.from_s)} to {amounts.time(window.until_s)}"


def _advice(chart: Chart, panel: Panel) -> list[str]:
    advice = panel.advice
    if advice is None:
        return []
    lines = [
        "",
        f"No window at {chart.axis.text(advice.value)}: {advice.crossing}.",
        "Changes tried, at the nominal contact radius:",
    ]
    for trial in advice.trials:
        lines.append(f"  {'a window:  ' if trial.window.open else 'no window: '} {trial.sentence}")
    return [part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent=" " * 14) or [""]]
