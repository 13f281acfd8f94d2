"""A fit in one figure: growth curves against what was seen, scope traces, intervals."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.plot import style
from nugget.plot.trial_marks import MARKERS
from nugget.study.calibration.bench import CURRENT, GRID_SIZE, VOLTAGE, Case
from nugget.study.calibration.fit import Calibration
from nugget.study.calibration.observation import size_edges

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WORDS = {
    "loose": "loose",
    "stuck": "stuck: at most",
    "peeled": "peeled: between",
    "held": "held: at least",
    "button": "tore a button",
    "expulsion": "expulsion",
    "pierced": "pierced the can",
}
COLUMNS = 2
NAME_LETTERS = 16


def calibration_figure(calibration: Calibration) -> Figure:
    """Return predicted against observed joints of every condition, traces, and fitted intervals."""
    panels: list[tuple[Any, Any]] = [(_growth, case) for case in calibration.bench.cases if case.marched]
    for case in calibration.bench.cases:
        for run in (CURRENT, VOLTAGE):
            if any(_signal(scope, run) for scope in case.scopes):
                panels.append((_trace, (case, run)))
    panels.append((_intervals, None))
    rows = -(-len(panels) // COLUMNS)
    with style.drawing(8.4, 2.9 * rows + 0.5) as figure:
        axes = figure.subplots(rows, COLUMNS, squeeze=False).ravel()
        for panel, (draw, what) in zip(axes, panels, strict=False):
            draw(panel, calibration, what)
        for panel in axes[len(panels) :]:
            panel.set_axis_off()
        figure.suptitle(calibration.bench.setup.title, fontsize=9.0, color=style.GREY)
    return figure


def _growth(panel: Axes, calibration: Calibration, case: Case) -> None:
    grid_ms = 1e3 * case.ask(case.condition.setup).grid_s
    at = list(case.outputs(GRID_SIZE))
    before, after, spread = (
        v[at] * style.MM for v in (calibration.before, calibration.after, calibration.spread)
    )
    panel.plot(grid_ms, np.maximum(before, 0.0), color=style.GREY, linestyle=(0, (4, 2)), label="as set up")
    low, high = np.maximum(after - 1.96 * spread, 0.0), np.maximum(after + 1.96 * spread, 0.0)
    panel.fill_between(grid_ms, low, high, color=style.BLUE, alpha=0.2, linewidth=0.0)
    panel.plot(grid_ms, np.maximum(after, 0.0), color=style.BLUE, label="fitted, 95 %")
    edges = [style.MM * v for v in size_edges(case.condition.setup, calibration.bench.judging)]
    for edge, word in zip(edges, ("resists\nthe hand", "tears\na button"), strict=True):
        panel.axhline(edge, color=style.BLACK, linewidth=0.7, linestyle=(0, (1, 2)))
        # Beside the panel, where no trial lies.
        panel.text(1.01, edge, word, transform=panel.get_yaxis_transform(), va="center", fontsize=7.0)
    seen: set[str] = set()
    places: dict[tuple[float, float], int] = {}
    for trial in case.trials:
        if not trial.result:
            continue
        low_mm, high_mm = edges
        heights = {"loose": 0.0, "stuck": low_mm, "peeled": 0.5 * (low_mm + high_mm), "held": low_mm}
        height = heights.get(trial.result, high_mm)
        if trial.button_m is not None:
            height = trial.button_m * style.MM
        place = (trial.duration_s, height)
        shift = places[place] = places.get(place, -1) + 1
        marker, filled = MARKERS[trial.result]
        face = style.RED if filled else "white"
        looks: dict[str, Any] = (
            {"color": style.RED} if marker == "x" else {"edgecolor": style.RED, "facecolor": face}
        )
        x = 1e3 * trial.duration_s + 0.018 * shift * grid_ms[-1]
        label = WORDS[trial.result] if trial.result not in seen else None
        panel.scatter([x], [height], s=30.0, marker=marker, label=label, zorder=4.0, **looks)
        if trial.count > 1:
            offset = (4.0, 3.0)
            panel.annotate(f"{trial.count}", (x, height), offset, textcoords="offset points", fontsize=7.0)
        seen.add(trial.result)
    panel.set(xlabel="pulse, ms", ylabel="joint, mm", title=f"Joint: {case.condition.name}")
    panel.set_xlim(0.0, grid_ms[-1])
    panel.set_ylim(bottom=-0.02)
    panel.legend(fontsize=6.5, frameon=False, loc="lower right")


def _signal(scope: Any, run: int) -> tuple[float, ...]:
    signal: tuple[float, ...] = scope.current_A if run == CURRENT else scope.voltage_V
    return signal


def _trace(panel: Axes, calibration: Calibration, what: tuple[Case, int]) -> None:
    case, run = what
    first = 0
    for scope in case.scopes:
        signal = _signal(scope, run)
        at = list(case.outputs(run))[first : first + len(scope.time_s)]
        first += len(scope.time_s)
        if not signal:
            continue
        time_ms = 1e3 * np.array(scope.time_s)
        panel.plot(time_ms, calibration.before[at], color=style.GREY, linestyle=(0, (4, 2)))
        panel.plot(time_ms, calibration.after[at], color=style.BLUE)
        panel.plot(time_ms, np.abs(signal), color=style.RED, marker="o", markersize=2.5, linestyle="none")
    words = ("Current", "A") if run == CURRENT else ("Tip voltage", "V")
    title = f"{words[0]}: {case.condition.name}; dots measured"
    panel.set(xlabel="time, ms", ylabel=words[1], title=title)
    panel.set_ylim(bottom=0.0)


def _intervals(panel: Axes, calibration: Calibration, _: None) -> None:
    """Fitted values over those of the setup, with their intervals before and after, on a logarithmic axis."""
    names = []
    for k, one in enumerate(calibration.fitted):
        own, item = one.item.own, one.item
        before = [item.value(sign * 1.96) / own for sign in (-1.0, 1.0)]
        panel.plot(before, [k, k], color=style.GREY, linewidth=1.0)
        panel.plot([one.low / own, one.high / own], [k, k], color=style.BLUE, linewidth=3.0, alpha=0.4)
        panel.plot([one.value / own], [k], color=style.BLUE, marker="o", markersize=5.0)
        # A long name in one line would push the panels above it aside.
        names.append(textwrap.fill(item.title, NAME_LETTERS))
    panel.axvline(1.0, color=style.GREY, linewidth=0.8)
    panel.set_xscale("log")
    lows = [one.item.value(-1.96) / one.item.own for one in calibration.fitted]
    highs = [one.item.value(1.96) / one.item.own for one in calibration.fitted]
    low, high = min(*lows, 0.8), max(*highs, 1.25)
    ticks = [t for t in (0.1, 0.2, 0.5, 0.7, 1.0, 1.4, 2.0, 5.0, 10.0, 30.0, 100.0) if low <= t <= high]
    panel.set_xticks(ticks, [f"{t:g}" for t in ticks])
    panel.set_xticks([], minor=True)
    panel.set_yticks(range(len(names)), names, fontsize=6.0)
    panel.set_ylim(-0.6, len(names) - 0.4)
    panel.invert_yaxis()
    panel.set(xlabel="over setup, 95 %; thin: before", title="Fitted inputs")
