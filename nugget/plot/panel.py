"""One panel of a chart: window, edges with their names, bands, trials."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.merit.limit import by_id
from nugget.plot import style
from nugget.plot.frame import HALF_CYCLES, JUST, MS, TICKS_MS, Frame
from nugget.plot.labels import Namer
from nugget.plot.trial_marks import lay_over
from nugget.study.charting.column_chances import QUANTILES
from nugget.study.charting.plotted_trials import PlottedTrial
from nugget.study.durations.branches import count_s
from nugget.study.durations.window import FADED

OPEN, SURE, CLOSED = "#a9dccb", style.GREEN, "#b0b0b0"
DASHES: tuple[Any, ...] = (
    (0, (6, 2)),
    (0, (6, 2, 1, 2)),
    "solid",
    (0, (3, 1.5)),
    (0, (1, 1)),
    (0, (4, 1, 1, 1, 1, 1)),
    (0, (8, 3)),
    (0, (8, 3, 2, 3)),
)
"""Looks of the limits, in the order in which a setup has them."""
NAMES = {"minimum_diameter": "reaches the minimum weld diameter", "bonded": "bonding onset (solid-state)"}
THIN: dict[str, Any] = {"linewidth": 1.4, "marker": "o", "markersize": 3.5, "zorder": 4.0}
THICK: dict[str, Any] = {"marker": "o", "markersize": 5.0, "zorder": 5.0}


def draw_panel(frame: Frame, trials: tuple[PlottedTrial, ...], first: bool) -> None:
    """Draw everything into one panel; `first` is the one that names the shared axis."""
    _prepare(frame, first)
    target, until = frame.start(), frame.until()
    windows = [column.window for column in frame.panel.columns]
    if frame.chart.spread:
        frame.outline(target, until, edgecolor=SURE, linewidth=2.0, zorder=2.5)
        frame.fill(*frame.sure(), color=SURE, zorder=2.0)
        for key, color in (("joint", style.BLUE), ("any limit", style.RED)):
            early, middle, late = frame.band(key)
            frame.fill(early, late, color=color, alpha=0.13, zorder=1.0)
            for side in (early, late):
                frame.line(
                    frame.inside(side), color=color, linewidth=0.8, alpha=0.7, zorder=3.0, clip_on=True
                )
            how = {"color": color, "linewidth": 1.0, "linestyle": (0, (8, 4)), "zorder": 3.0}
            frame.line(frame.inside(middle), clip_on=True, **how)
    else:
        frame.fill(target, until, color=OPEN, zorder=1.5)
    frame.line(frame.edge("bonded"), color=style.BLUE, linestyle=(0, (2, 2)), **THIN)
    frame.line(target, color=style.BLUE, **THICK)
    for key in frame.targets if len(frame.targets) > 1 else ():
        frame.line(frame.edge(key), color=style.BLUE, **THIN)
    for number, key in enumerate(frame.limits):
        found = frame.edge(key)
        how = {"color": style.RED, "linestyle": DASHES[number % len(DASHES)]}
        frame.line(found, **THIN, **how)
        frame.line(np.where(found <= until * JUST, found, np.nan), **THICK, **how)
    frame.line(frame.faded(), color=style.GREY, linestyle=(0, (1, 2)), **THIN)
    frame.line(frame.inside(frame.shortest()), color=style.GREY, linewidth=1.6, zorder=3.5)
    namer = Namer(frame.axes)
    lay_over(frame, namer, trials)
    _name_lines(frame, namer)
    _hatch(frame, namer, np.array([w.closed for w in windows]), "///", "no window")
    _hatch(frame, namer, np.array([w.unknown and not w.open for w in windows]), "..", "not known")


def _prepare(frame: Frame, first: bool) -> None:
    """Scales, ticks and names of the axes."""
    axes, chart, value = frame.axes, frame.chart, frame.value
    (axes.set_xscale if frame.turned else axes.set_yscale)("log")
    x, y = frame.swap((value[0], value[-1]), frame.span_ms)
    axes.set_xlim(*x)
    axes.set_ylim(*y)
    step_s = count_s(chart.setup)
    _ticks(axes.xaxis if frame.turned else axes.yaxis, frame.span_ms, step_s)
    axes.grid(alpha=0.35, linewidth=0.6)
    unit = f", {chart.axis.text(0.0).split()[-1]}" if chart.axis.unit else ""
    duration = "weld time, " if frame.turned else "pulse duration, "
    duration += "ms" if step_s is None else f"half cycles of {step_s * MS:.3g} ms"
    names = frame.swap(f"{chart.axis.title}{unit}", duration)
    axes.set_xlabel(names[0])
    if first:
        axes.set_ylabel(names[1])
    if len(chart.panels) > 1:
        axes.set_title(frame.panel.strip, pad=22.0)
        axes.locator_params(axis="y" if frame.turned else "x", nbins=5)


def _ticks(axis: Any, span_ms: tuple[float, float], step_s: float | None) -> None:
    """Round durations, or whole half cycles where pulses are counted in them."""
    from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator

    step_ms = 1.0 if step_s is None else step_s * MS
    marks = TICKS_MS if step_s is None else tuple(n * step_ms for n in HALF_CYCLES)
    low, high = span_ms
    axis.set_major_locator(FixedLocator([t for t in marks if low <= t <= high * JUST]))
    axis.set_major_formatter(FuncFormatter(lambda t, _: f"{t / step_ms:.6g}"))
    axis.set_minor_locator(NullLocator())


def _hatch(frame: Frame, namer: Namer, where: npt.NDArray[np.bool_], hatch: str, word: str) -> None:
    """Hatch columns, half way to their neighbours: nobody has looked further."""
    value = frame.value
    span = frame.axes.axhspan if frame.turned else frame.axes.axvspan
    how: dict[str, Any] = {"facecolor": "none", "edgecolor": CLOSED, "linewidth": 0.0, "zorder": 0.5}
    changes = np.flatnonzero(np.diff(np.concatenate([[0], where.astype(int), [0]])))
    for first, last in zip(changes[::2], changes[1::2] - 1, strict=True):
        low = value[0] if first == 0 else 0.5 * (value[first - 1] + value[first])
        high = value[-1] if last == len(value) - 1 else 0.5 * (value[last] + value[last + 1])
        span(low, high, hatch=hatch, **how)
        if high - low > 0.2 * (value[-1] - value[0]):
            box = {"facecolor": "white", "edgecolor": "none", "pad": 4.0}
            across = np.full(9, 0.5 * (low + high)), np.geomspace(*frame.span_ms, 9)
            namer.name(*frame.swap(*across), word, fontsize=16.0, color="#505050", bbox=box)


def _name_lines(frame: Frame, namer: Namer) -> None:
    """Name every line beside itself, the limit that binds in bold, a band's lines by their share of welds."""
    value, until = frame.value, frame.until()
    lines = {key: frame.edge(key) for key in (*frame.targets, "bonded", *frame.limits)}
    for found in (*lines.values(), frame.faded(), frame.inside(frame.shortest())):
        namer.avoid(*frame.swap(value, found))
    _name_open_end(frame, namer, until)  # often a single point, so before the long lines
    for key, found in lines.items():
        binds = np.where(found <= until * JUST, found, np.nan) if key in frame.limits else found
        bold = key in frame.targets or (key in frame.limits and bool(np.isfinite(binds).any()))
        color = style.RED if key in frame.limits else style.BLUE
        where, weight = (binds, "bold") if bold else (found, "normal")
        namer.name(*frame.swap(value, where), _name(frame, key), color=color, weight=weight)
    for key, color in (("joint", style.BLUE), ("any limit", style.RED)) if frame.chart.spread else ():
        for edge, share in zip(frame.band(key), QUANTILES, strict=True):
            words = f"{100.0 * share:.0f} %"
            namer.name(*frame.swap(value, frame.inside(edge)), words, color=color, fontsize=8.5)
    shortest = frame.swap(value, frame.inside(frame.shortest()))
    namer.name(*shortest, "shortest that the relay makes", color=style.GREY)
    namer.name(*frame.swap(value, frame.faded()), f"current below {FADED:.0%} of its peak", color=style.GREY)


def _name(frame: Frame, key: str) -> str:
    """What a line is called: what lies beyond it, and the limit's id where two share a figure."""
    if key in NAMES:
        return NAMES[key]
    limits = by_id(frame.panel.setup.limits)
    one = limits[key].what
    alone = sum(limit.figure == one.key for limit in limits.values()) == 1
    return (one.beyond or one.title.lower()) + ("" if alone else f" ({key})")


def _name_open_end(frame: Frame, namer: Namer, until: FloatArray) -> None:
    """Say so where a window ends with the search and not with a limit."""
    windows = [column.window for column in frame.panel.columns]
    for stopped, word in ((False, "no limit met"), (True, "not known beyond")):
        here = [
            w.open and w.binding is None and column.nominal.failed is stopped
            for w, column in zip(windows, frame.panel.columns, strict=True)
        ]
        ends = np.where(here, until, np.nan)
        namer.name(*frame.swap(frame.value, ends), word, color="#00634a", weight="bold")
