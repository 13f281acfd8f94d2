"""A chart to explore: edges under the pointer, limits on and off, the growth curve of each column."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.pages.line_plot import LinePlot, Mark, Region, Scale, Series, linear, number
from nugget.pages.render import Origin, input_hash, render
from nugget.plot.chart_figure import own_answer
from nugget.plot.trial_marks import MARKERS
from nugget.study.charting.duration_chart import Chart, Column, Panel
from nugget.study.charting.plotted_trials import PlottedTrial
from nugget.study.durations.edges import Edge
from nugget.study.durations.window import Window, window_of

KIND = "Pulse chart"
MS, MM = 1e3, 1e3
LOOKS = ("b", "d", "e", "f", "a", "b short", "d short", "e short", "a short")
SURE, NOMINAL, OTHER, TRIALS = "sure", "nominal", "other radii", "trials"
HEIGHT = 380


@dataclass(frozen=True)
class Group:
    """What a box of the page switches on and off."""

    key: str
    title: str


@dataclass(frozen=True)
class Curve:
    """The growth curve of one column, and whether it is the one that is shown at first."""

    plot: LinePlot
    first: bool


@dataclass(frozen=True)
class Picture:
    """One strip: its chart, the growth curves and the windows in words."""

    strip: str
    answer: str
    plot: LinePlot
    curves: tuple[Curve, ...]
    rows: tuple[tuple[str, ...], ...]
    advice: tuple[str, ...]


def chart_page(chart: Chart, trials: tuple[PlottedTrial, ...] = (), origin: Origin | None = None) -> str:
    """Return a chart as one page of HTML.

    Parameters
    ----------
    chart : Chart
    trials : tuple of PlottedTrial
        Welds of the user's own, laid over it.
    origin : Origin, optional
    """
    pictures = tuple(_picture(chart, panel, trials) for panel in chart.panels)
    keys = {one.group: one.name for picture in pictures for one in picture.plot.series if one.group}
    groups = [Group(SURE, "window at every contact radius"), Group(NOMINAL, "window at the nominal radius")]
    groups = groups if len(chart.factors) > 1 else groups[1:]
    groups += [Group(key, title) for key, title in keys.items() if key != OTHER]
    if OTHER in keys:
        groups.append(Group(OTHER, "target and first limit at the other contact radii"))
    if trials:
        groups.append(Group(TRIALS, "trials"))
    return render(
        "chart.html",
        kind=KIND,
        title=chart.setup.title,
        pictures=pictures,
        groups=groups,
        factors=chart.factors,
        axis=chart.axis.title,
        resolved=chart.setup.to_toml(),
        origin=origin or Origin(),
        hash=input_hash(chart.setup),
        number=number,
    )


def _picture(chart: Chart, panel: Panel, trials: tuple[PlottedTrial, ...]) -> Picture:
    own = chart.axis.own
    first = (
        0 if own is None else min(range(len(panel.columns)), key=lambda k: abs(panel.columns[k].value - own))
    )
    curves = tuple(Curve(_growth(chart, column), k == first) for k, column in enumerate(panel.columns))
    rows = tuple(_row(chart, column) for column in panel.columns)
    advice: tuple[str, ...] = ()
    if panel.advice is not None:
        advice = (
            f"No window at {chart.axis.text(panel.advice.value)}: {panel.advice.crossing}.",
            *(
                f"{'Opens one' if trial.window.open else 'Does not open one'}: {trial.sentence}."
                for trial in panel.advice.trials
            ),
        )
    return Picture(panel.strip, own_answer(chart, panel), _plot(chart, panel, trials), curves, rows, advice)


def _plot(chart: Chart, panel: Panel, trials: tuple[PlottedTrial, ...]) -> LinePlot:
    values = np.array([chart.axis.shown(column.value) for column in panel.columns])
    least = min(
        [e.duration_s for c in panel.columns for e in c.nominal.edges if e.duration_s] + [chart.own_s]
    )
    y = Scale("pulse duration", "ms", 0.8 * least * MS, chart.longest_s * MS, log=True)
    unit = chart.axis.text(0.0).split()[-1] if chart.axis.unit else ""
    room = 0.5 if len(values) == 1 else 0.0
    x = Scale(chart.axis.title, unit, float(values[0]) - room, float(values[-1]) + room)
    series = [Series("target reached", _starts(panel, len(chart.factors) // 2), "c solid", "target")]
    limits = [edge for edge in panel.columns[0].nominal.edges if edge.kind == "limit"]
    for k, edge in enumerate(limits):
        found = _edges(panel, edge.key)
        if np.isfinite(found).any():
            series.append(Series(edge.title.lower(), found, LOOKS[k % len(LOOKS)], edge.key))
    for k, factor in enumerate(chart.factors):
        if factor != 1.0:
            name = f"at contact radius x {factor:g}"
            series.append(Series(f"target {name}", _starts(panel, k), "c thin", OTHER))
            series.append(Series(f"first limit {name}", _ends(panel, k), "b thin", OTHER))
    regions = [_region("window at the nominal radius", panel, [c.window for c in panel.columns], NOMINAL, y)]
    if len(chart.factors) > 1:
        sure = [column.sure for column in panel.columns]
        regions.append(_region("window at every contact radius", panel, sure, SURE, y))
    alt = f"{chart.axis.title} against pulse duration for {panel.strip}. {own_answer(chart, panel)}"
    title = f"{panel.strip}: how long the pulse may be"
    marks = _marks(chart, panel, trials)
    return LinePlot(title, alt, x, y, values, series, (), (), regions, marks, HEIGHT)


def _edges(panel: Panel, key: str) -> FloatArray:
    """Durations [ms] of an edge at the nominal contact radius, NaN where there is none."""

    def of(edges: tuple[Edge, ...]) -> float:
        found = next((edge.duration_s for edge in edges if edge.key == key), None)
        return math.nan if found is None else found * MS

    return np.array([of(column.nominal.edges) for column in panel.columns])


def _starts(panel: Panel, k: int) -> FloatArray:
    windows = [window_of(column.growths[k]) for column in panel.columns]
    return np.array([math.nan if w.from_s is None else w.from_s * MS for w in windows])


def _ends(panel: Panel, k: int) -> FloatArray:
    windows = [window_of(column.growths[k]) for column in panel.columns]
    return np.array([math.nan if w.unknown else w.until_s * MS for w in windows])


def _region(name: str, panel: Panel, windows: list[Window], look: str, y: Scale) -> Region:
    low = [max((w.from_s or 0.0) * MS, y.low) if w.open else math.nan for w in windows]
    high = [w.until_s * MS if w.open else math.nan for w in windows]
    return Region(name, np.array(low), np.array(high), look, look)


def _marks(chart: Chart, panel: Panel, trials: tuple[PlottedTrial, ...]) -> list[Mark]:
    marks = []
    if chart.axis.own is not None:
        marks.append(Mark("your setting", chart.axis.shown(chart.axis.own), chart.own_s * MS, "*", True))
    about = chart.setup.file.cell.kind
    for one in trials:
        if one.strip is None or one.strip == panel.strip:
            where = "" if one.cell in (None, about) else f" on {one.cell}"
            name = f"trial: {one.result}{where}"
            place = chart.axis.shown(one.value), one.duration_s * MS
            marks.append(Mark(name, *place, *MARKERS[one.result], TRIALS))
    return marks


def _growth(chart: Chart, column: Column) -> LinePlot:
    """Diameters against the duration of the last pulse, at the nominal contact radius."""
    one = column.nominal
    time = np.array(one.time_s) * MS
    series = [
        Series("nugget", np.array(one.fused_m) * MM, "b solid"),
        Series("bonded, solid state", np.array(one.bonded_m) * MM, "c"),
    ]
    target = one.edge("target").threshold * MM
    y = linear("diameter", "mm", [target, *(float(v) for one in series for v in one.y)])
    x = linear("pulse duration", "ms", [*time.tolist(), chart.longest_s * MS / 1.08])
    where = chart.axis.text(column.value)
    peak = max(one.fused_m, default=0.0) * MM
    alt = f"Growth curve at {where}: nugget up to {peak:.2f} mm, target {target:.2f} mm"
    levels = [(target, f"target {target:.2f} mm")]
    return LinePlot(f"Growth curve at {where}", alt, x, y, time, series, levels)


def _row(chart: Chart, column: Column) -> tuple[str, ...]:
    cells = [chart.axis.text(column.value), _span(column.window), _why(column.window)]
    return (*cells, _span(column.sure)) if len(chart.factors) > 1 else tuple(cells)


def _span(window: Window) -> str:
    if not window.open or window.from_s is None:
        return "not known" if window.unknown else "none"
    return f"{window.from_s * MS:.3g} to {window.until_s * MS:.3g} ms"


def _why(window: Window) -> str:
    return window.binding.title.lower() if window.binding is not None else window.why
