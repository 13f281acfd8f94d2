"""A chart to explore: edges under the pointer, limits on and off, the growth curve of each column."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.pages.line_plot import LinePlot, Mark, Region, Scale, Series, linear, number
from nugget.pages.render import Origin, input_hash, render
from nugget.plot.chart_figure import own_answer, said_lines, sure_words
from nugget.plot.trial_marks import MARKERS
from nugget.study.charting.column_chances import QUANTILES, Band
from nugget.study.charting.duration_chart import Chart, Column, Panel
from nugget.study.charting.plotted_trials import PlottedTrial
from nugget.study.durations.branches import count_s
from nugget.study.durations.edges import Edge
from nugget.study.durations.window import Window

KIND = "Pulse chart"
MM = 1e3
LOOKS = ("b", "d", "e", "f", "a", "b short", "d short", "e short", "a short")
SURE, NOMINAL, BANDS, TRIALS = "sure", "nominal", "bands", "trials"
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
    """One strip: its chart, the growth curves, the windows and the statement in words."""

    strip: str
    answer: str
    said: tuple[str, ...]
    plot: LinePlot
    curves: tuple[Curve, ...]
    rows: tuple[tuple[str, ...], ...]
    advice: tuple[str, ...]


@dataclass(frozen=True)
class Clock:
    """What durations are counted in: milliseconds, or half cycles of an alternating source."""

    unit: str
    per_s: float

    def count(self, time_s: float) -> float:
        """A duration [s] in its unit."""
        return time_s * self.per_s

    def span(self, window: Window) -> str:
        """From when to when a window is open."""
        if not window.open or window.from_s is None:
            return "not known" if window.unknown else "none"
        return f"{self.count(window.from_s):.3g} to {self.count(window.until_s):.3g} {self.unit}"


def clock_of(chart: Chart) -> Clock:
    """The unit in which the pulses of a chart are set."""
    step_s = count_s(chart.setup)
    return (
        Clock("ms", 1e3) if step_s is None else Clock(f"half cycles of {1e3 * step_s:.3g} ms", 1.0 / step_s)
    )


def chart_page(
    chart: Chart,
    trials: tuple[PlottedTrial, ...] = (),
    origin: Origin | None = None,
    commands: Sequence[str] = (),
) -> str:
    """Return a chart as one page of HTML.

    Parameters
    ----------
    chart : Chart
    trials : tuple of PlottedTrial
        Welds of the user's own, laid over it.
    origin : Origin, optional
    commands : sequence of str
        This one and that of a calibration with all options in force, for what to do next.
    """
    pictures = tuple(_picture(chart, panel, trials, commands) for panel in chart.panels)
    keys = {one.group: one.name for picture in pictures for one in picture.plot.series if one.group}
    groups = [Group(NOMINAL, "window as set up")]
    if chart.spread:
        groups = [Group(SURE, f"in window: {sure_words(chart)}"), *groups]
    groups += [Group(key, title) for key, title in keys.items() if key != BANDS]
    if chart.spread:
        groups.append(Group(BANDS, "5, 50 and 95 % of the welds"))
    if trials:
        groups.append(Group(TRIALS, "trials"))
    return render(
        "chart.html",
        kind=KIND,
        title=chart.setup.title,
        pictures=pictures,
        groups=groups,
        sure=sure_words(chart) if chart.spread else "",
        axis=chart.axis.title,
        resolved=chart.setup.to_toml(),
        origin=origin or Origin(),
        hash=input_hash(chart.setup),
        number=number,
    )


def _picture(
    chart: Chart, panel: Panel, trials: tuple[PlottedTrial, ...], commands: Sequence[str]
) -> Picture:
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
                f"{'Gives a window' if trial.window.open else 'Gives none'}: {trial.sentence}."
                for trial in panel.advice.trials
            ),
        )
    said = tuple(f"{line}." for line in said_lines(chart, panel, *commands))
    return Picture(
        panel.strip,
        own_answer(chart, panel),
        said,
        _plot(chart, panel, trials),
        curves,
        rows,
        advice,
    )


def _plot(chart: Chart, panel: Panel, trials: tuple[PlottedTrial, ...]) -> LinePlot:
    clock = clock_of(chart)
    values = np.array([chart.axis.shown(column.value) for column in panel.columns])
    least = min(
        [e.duration_s for c in panel.columns for e in c.nominal.edges if e.duration_s] + [chart.own_s]
    )
    y = Scale("pulse duration", clock.unit, clock.count(0.8 * least), clock.count(chart.longest_s), log=True)
    unit = chart.axis.text(0.0).split()[-1] if chart.axis.unit else ""
    room = 0.5 if len(values) == 1 else 0.0
    x = Scale(chart.axis.title, unit, float(values[0]) - room, float(values[-1]) + room)
    series = [Series("minimum diameter reached", _starts(clock, panel), "c solid", "minimum_diameter")]
    limits = [edge for edge in panel.columns[0].nominal.edges if edge.kind == "limit"]
    for k, edge in enumerate(limits):
        found = _edges(clock, panel, edge.key)
        if np.isfinite(found).any():
            series.append(Series(edge.title.lower(), found, LOOKS[k % len(LOOKS)], edge.key))
    shortest = np.array([clock.count(c.nominal.shortest_s) or math.nan for c in panel.columns])
    if np.isfinite(shortest).any():
        series.append(Series("shortest that the relay makes", shortest, "f", "shortest"))
    regions = [_region(clock, "window as set up", panel, [_nominal(c) for c in panel.columns], NOMINAL, y)]
    if chart.spread:
        for key, look in (("joint", "c thin"), ("any limit", "b thin")):
            for share, found in zip(QUANTILES, _quantiles(clock, panel, key), strict=True):
                done = "minimum diameter reached" if key == "joint" else "a limit exceeded"
                series.append(Series(f"{done} in {100.0 * share:.0f} % of welds", found, look, BANDS))
        ends = [None if c.known is None else (c.known.from_s, c.known.until_s) for c in panel.columns]
        regions.append(_region(clock, "in window", panel, ends, SURE, y))
    alt = f"{chart.axis.title} against pulse duration for {panel.strip}. {own_answer(chart, panel)}"
    title = f"{panel.strip}: how long the pulse may be"
    marks = _marks(chart, panel, trials)
    return LinePlot(title, alt, x, y, values, series, (), (), regions, marks, HEIGHT)


def _edges(clock: Clock, panel: Panel, key: str) -> FloatArray:
    """Durations of an edge of the weld as set up, NaN where there is none."""

    def of(edges: tuple[Edge, ...]) -> float:
        found = next((edge.duration_s for edge in edges if edge.key == key), None)
        return math.nan if found is None else clock.count(found)

    return np.array([of(column.nominal.edges) for column in panel.columns])


def _starts(clock: Clock, panel: Panel) -> FloatArray:
    windows = [column.window for column in panel.columns]
    return np.array([math.nan if w.from_s is None else clock.count(w.from_s) for w in windows])


def _quantiles(clock: Clock, panel: Panel, key: str) -> list[FloatArray]:
    """Durations at which 5, 50 and 95 % of the welds have passed an edge; NaN beyond the longest."""
    bands = [Band(key, None, None, None) if c.known is None else c.known.band(key) for c in panel.columns]
    rows = [[b.early_s for b in bands], [b.middle_s for b in bands], [b.late_s for b in bands]]
    return [np.array([math.nan if t is None else clock.count(t) for t in row]) for row in rows]


Ends = tuple[float | None, float | None]


def _nominal(column: Column) -> Ends | None:
    window = column.window
    return (window.from_s, window.until_s) if window.open else None


def _region(
    clock: Clock, name: str, panel: Panel, ends: Sequence[Ends | None], look: str, y: Scale
) -> Region:
    low, high = [], []
    for one in ends:
        known = one is not None and one[0] is not None and one[1] is not None
        low.append(max(clock.count(one[0] or 0.0), y.low) if known and one is not None else math.nan)
        high.append(clock.count(one[1] or 0.0) if known and one is not None else math.nan)
    return Region(name, np.array(low), np.array(high), look, look)


def _marks(chart: Chart, panel: Panel, trials: tuple[PlottedTrial, ...]) -> list[Mark]:
    marks, clock = [], clock_of(chart)
    if chart.axis.own is not None:
        marks.append(
            Mark("your setting", chart.axis.shown(chart.axis.own), clock.count(chart.own_s), "*", True)
        )
    about = chart.setup.file.cell.kind
    for one in trials:
        if one.strip is None or one.strip == panel.strip:
            where = "" if one.cell in (None, about) else f" on {one.cell}"
            name = f"trial: {one.result}{where}"
            place = chart.axis.shown(one.value), clock.count(one.duration_s)
            marks.append(Mark(name, *place, *MARKERS[one.result], TRIALS))
    return marks


def _growth(chart: Chart, column: Column) -> LinePlot:
    """Diameters against the duration of the last pulse, of the weld as set up."""
    one, clock = column.nominal, clock_of(chart)
    time = np.array(one.time_s) * clock.per_s
    series = [
        Series("nugget", np.array(one.fused_m) * MM, "b solid"),
        Series("bonded, solid state", np.array(one.bonded_m) * MM, "c"),
    ]
    target = one.edge("minimum_diameter").threshold * MM
    y = linear("diameter", "mm", [target, *(float(v) for one in series for v in one.y)])
    x = linear("pulse duration", clock.unit, [*time.tolist(), clock.count(chart.longest_s) / 1.08])
    where = chart.axis.text(column.value)
    peak = max(one.fused_m, default=0.0) * MM
    alt = f"Growth curve at {where}: nugget up to {peak:.2f} mm, minimum {target:.2f} mm"
    levels = [(target, f"minimum {target:.2f} mm")]
    return LinePlot(f"Growth curve at {where}", alt, x, y, time, series, levels)


def _row(chart: Chart, column: Column) -> tuple[str, ...]:
    clock = clock_of(chart)
    cells = [chart.axis.text(column.value), clock.span(column.window), _why(column.window)]
    return (*cells, _sure(clock, column)) if chart.spread else tuple(cells)


def _sure(clock: Clock, column: Column) -> str:
    """From when to when the statement is *in window*, or how near it comes."""
    known = column.known
    if known is None:
        return "not known"
    if known.from_s is not None and known.until_s is not None:
        return f"{clock.count(known.from_s):.3g} to {clock.count(known.until_s):.3g} {clock.unit}"
    return known.nearest(lambda time_s: f"{clock.count(time_s):.3g} {clock.unit}")


def _why(window: Window) -> str:
    return window.binding.title.lower() if window.binding is not None else window.why
