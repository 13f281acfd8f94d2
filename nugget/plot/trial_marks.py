"""The user's own setting and trial welds, laid over a panel of a chart."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from nugget.plot import style
from nugget.plot.frame import MS, Frame
from nugget.plot.labels import Namer
from nugget.study.charting.duration_chart import Chart
from nugget.study.charting.plotted_trials import PlottedTrial

MARKERS = {
    "loose": ("x", True),
    "stuck": ("v", False),
    "peeled": ("^", False),
    "held": ("o", False),
    "button": ("o", True),
    "expulsion": ("D", False),
    "pierced": ("D", True),
}
"""Shape by what a trial showed, and whether it is filled."""
ASIDE_IN, BELOW_IN = 0.17, 0.12
"""From one marker of a pulse to the next, and down to what underlines it."""
UNDERLINE: dict[str, Any] = {"marker": "_", "markersize": 14, "markeredgewidth": 2.2, "color": style.BLACK}
"""Below the marker of a trial that was made on something else than the chart is about."""


def marker(result: str) -> dict[str, Any]:
    """Marker of a trial's result."""
    shape, full = MARKERS[result]
    face = style.BLACK if full else "white"
    return {
        "marker": shape,
        "markersize": 9,
        "color": style.BLACK,
        "markerfacecolor": face,
        "markeredgewidth": 1.6,
    }


def elsewhere(chart: Chart, trials: tuple[PlottedTrial, ...]) -> tuple[str, ...]:
    """What else the trials were made on than the chart is about: a coupon says less than a cell."""
    about = chart.setup.file.cell.kind
    return tuple(dict.fromkeys(one.cell for one in trials if one.cell not in (None, about)))


def lay_over(frame: Frame, namer: Namer, trials: tuple[PlottedTrial, ...]) -> None:
    """The user's own setting, hollow over another strip, and the trials made with this one."""
    from matplotlib.transforms import ScaledTranslation

    figure: Any = frame.axes.figure
    chart = frame.chart
    if chart.axis.own is not None:
        mine = len(chart.panels) == 1 or frame.panel.strip == chart.setup.file.strip.material
        face, edge = (style.BLACK, "white") if mine else ("white", style.BLACK)
        point = frame.swap(chart.axis.shown(chart.axis.own), chart.own_s * MS)
        frame.axes.plot(*point, marker="*", markersize=19, color=face, markeredgecolor=edge, zorder=8.0)
        namer.block(*point, 19.0)
    here = tuple(trial for trial in trials if trial.strip is None or trial.strip == frame.panel.strip)
    others = elsewhere(chart, here)
    shown = sorted({(one.value, one.duration_s, one.result, one.cell in others) for one in here})

    def draw(point: tuple[float, float], right_in: float, up_in: float, how: dict[str, Any]) -> None:
        aside = ScaledTranslation(right_in, up_in, figure.dpi_scale_trans)
        frame.axes.plot(*point, linestyle="none", zorder=7.5, transform=frame.axes.transData + aside, **how)

    for place, results in groupby(shown, key=lambda one: one[:2]):
        point = frame.swap(chart.axis.shown(place[0]), place[1] * MS)
        marks = [(result, other) for *_, result, other in results]
        for k, (result, other) in enumerate(marks):  # side by side where the same pulse gave different ones
            right_in = (k - 0.5 * (len(marks) - 1)) * ASIDE_IN
            draw(point, right_in, 0.0, marker(result))
            if other:
                draw(point, right_in, -BELOW_IN, UNDERLINE)
        tall = 72.0 * BELOW_IN if any(other for _, other in marks) else 0.0
        namer.block(*point, 9.0 + max(72.0 * ASIDE_IN * (len(marks) - 1), 2.0 * tall))
