"""What ``nugget chart`` prints: the window of every column, and what to do where there is none."""

from __future__ import annotations

import textwrap

from nugget.cli.text_tables import WIDTH, table
from nugget.merit import amounts
from nugget.outcome.record import CAUTIONS
from nugget.plot.chart_figure import said_lines, sure_words
from nugget.study.charting.duration_chart import Chart, Column, Panel
from nugget.study.durations.edges import worded


def print_chart(chart: Chart, commands: tuple[str, str] = ("nugget chart", "nugget calibrate")) -> None:
    """Print the windows of a chart to stdout; `commands` are those in force, for what to do next."""
    print(chart.setup.title)
    if chart.axis.own is not None:
        print(f"Your setting: {worded(chart.setup, chart.own_s)} at {chart.axis.text(chart.axis.own)}")
    if shortest_s := chart.setup.circuit.switch.shortest_s:
        print(f"The relay makes no pulse shorter than {amounts.time(shortest_s)}")
    for panel in chart.panels:
        print(f"\n{panel.strip}: window of pulse durations against {chart.axis.title}")
        if chart.spread:
            print(f"In window: {sure_words(chart)}, over everything that is not known exactly")
        for line in _table(chart, panel):
            print(line)
        for line in (*_said(chart, panel, commands), *_advice(chart, panel)):
            print(line)
    print()
    for caution in CAUTIONS:
        print(textwrap.fill(caution, WIDTH, subsequent_indent="  "))


def _table(chart: Chart, panel: Panel) -> list[str]:
    """One line for each column."""
    head = ["", "as set up, from", "until", "ends with"]
    if chart.spread:
        head.append("in window")
    rows = [head]
    for column in panel.columns:
        cells = [*_cells(chart, column), *([_sure(chart, column)] if chart.spread else [])]
        rows.append([chart.axis.text(column.value), *cells])
    return list(table(rows))


def _cells(chart: Chart, column: Column) -> list[str]:
    window = column.window
    if window.unknown and not window.open:
        return ["not known", "", window.why]
    if not window.open:
        return ["none", "", ""]
    ends = window.binding.title.lower() if window.binding is not None else window.why
    return [*(worded(chart.setup, one) for one in (window.from_s, window.until_s)), ends]


def _sure(chart: Chart, column: Column) -> str:
    """From when to when the statement is *in window*, or how near it comes."""
    known = column.known
    if known is None:
        return "not known"
    if known.open:
        return f"{worded(chart.setup, known.from_s)} to {worded(chart.setup, known.until_s)}"
    return known.nearest(lambda time_s: worded(chart.setup, time_s))


def _said(chart: Chart, panel: Panel, commands: tuple[str, str]) -> list[str]:
    """What is said of the user's own setting, and what would settle it."""
    lines = [f"{line}." for line in said_lines(chart, panel, *commands)]
    return [""] * bool(lines) + [
        part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent="  ")
    ]


def _advice(chart: Chart, panel: Panel) -> list[str]:
    advice = panel.advice
    if advice is None:
        return []
    lines = [
        "",
        f"No window at {chart.axis.text(advice.value)}: {advice.crossing}.",
        "Changes tried, with everything else as set up:",
    ]
    for trial in advice.trials:
        lines.append(f"  {'a window:  ' if trial.window.open else 'no window: '} {trial.sentence}")
    return [part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent=" " * 14) or [""]]
