"""Many welds in one figure: joint, heat inside, chances, and what they depend on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from nugget.plot import style
from nugget.study.scattering.statistics import chances, influences
from nugget.study.scattering.welds import Scatter

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FEWEST_BINS, MOST_BINS = 6, 24
WORST = 7
"""Inputs that are drawn for each figure."""


def scatter_figure(scatter: Scatter) -> Figure:
    """Return histograms of joint and heat, chances with their intervals, and rank correlations."""
    with style.drawing(8.6, 6.4) as figure:
        panels = figure.subplots(2, 2)
        _joint(panels[0, 0], scatter)
        _heat(panels[0, 1], scatter)
        _chances(panels[1, 0], scatter)
        _influences(panels[1, 1], scatter)
        figure.suptitle(scatter.setup.title, fontsize=9.0, color=style.GREY)
    return figure


def _bins(scatter: Scatter) -> int:
    return int(np.clip(2.0 * len(scatter.samples) ** 0.5, FEWEST_BINS, MOST_BINS))


def _joint(panel: Axes, scatter: Scatter) -> None:
    fused, target = (scatter.column(name) for name in ("nugget_diameter_m", "target_diameter_m"))
    assert fused is not None
    assert target is not None
    enough = fused >= target
    edges = np.histogram_bin_edges(fused * style.MM, _bins(scatter)).tolist()
    both = [fused[enough] * style.MM, fused[~enough] * style.MM]
    panel.hist(both, edges, stacked=True, color=[style.BLUE, style.ORANGE], label=["suffices", "too small"])
    panel.axvline(scatter.setup.joint.target_diameter_m * style.MM, color=style.BLACK, linewidth=0.9)
    panel.set(xlabel="nugget diameter, mm", ylabel="welds", title="Joint; line: target")
    panel.legend(fontsize=7.0, frameon=False)


def _heat(panel: Axes, scatter: Scatter) -> None:
    interior, face = scatter.column("interior_peak_K"), scatter.column("can_inner_peak_K")
    key, column = ("interior_peak_K", interior) if interior is not None else ("can_inner_peak_K", face)
    if column is None:
        panel.set_axis_off()
        return
    panel.hist(style.celsius(column), _bins(scatter), color=style.BLUE)
    title = "Jelly roll's top, peak" if interior is not None else "Back of the wall, peak"
    for limit in scatter.setup.limits:
        if limit.figure == key:
            level = float(style.celsius(limit.value))
            near = column.min() < limit.value < column.max() + 3.0 * np.ptp(column)
            title += "; line: limit" if near else f"; limit {level:.0f} °C"
            if near:
                panel.axvline(level, color=style.BLACK, linewidth=0.9)
    panel.set(xlabel="°C", ylabel="welds", title=title)


def _chances(panel: Axes, scatter: Scatter) -> None:
    found = chances(scatter)
    for k, one in enumerate(found):
        color = style.BLUE if one.key in ("good", "enough") else style.RED
        panel.plot([100.0 * one.low, 100.0 * one.high], [k, k], color=color, linewidth=3.0, alpha=0.4)
        panel.plot([100.0 * one.share], [k], color=color, marker="o", markersize=5.0)
    panel.set_yticks(range(len(found)), [one.title for one in found], fontsize=7.0)
    panel.set_ylim(-0.6, len(found) - 0.4)
    panel.invert_yaxis()
    panel.set_xlim(-3.0, 103.0)
    panel.set(xlabel="%", title="Chances, 95 % interval")


def _influences(panel: Axes, scatter: Scatter) -> None:
    """Correlations of joint and heat with the inputs that matter most for either."""
    known = {one.figure: one for one in influences(scatter)}
    names = ("nugget_diameter_m", "interior_peak_K" if "interior_peak_K" in known else "can_inner_peak_K")
    drawn = [
        (known[name], color)
        for name, color in zip(names, (style.BLUE, style.RED), strict=True)
        if name in known
    ]
    strength: dict[str, float] = {}
    for one, _ in drawn:
        for title, r in zip(one.inputs, one.correlation, strict=True):
            strength[title] = max(strength.get(title, 0.0), abs(r))
    titles = sorted(strength, key=lambda title: -strength[title])[:WORST]
    for shift, (one, color) in zip((-0.19, 0.19), drawn, strict=False):
        values = dict(zip(one.inputs, one.correlation, strict=True))
        heights = np.arange(len(titles)) + shift
        panel.barh(heights, [values[t] for t in titles], 0.36, color=color, label=one.title.split(",")[0])
        panel.axvspan(-one.noise, one.noise, color="#e8e8e8", zorder=0)
    panel.set_yticks(range(len(titles)), titles, fontsize=7.0)
    panel.invert_yaxis()
    panel.axvline(0.0, color=style.BLACK, linewidth=0.8)
    panel.set_xlim(-1.0, 1.0)
    panel.set(xlabel="rank correlation; grey: chance", title="What it depends on")
    if drawn:
        panel.legend(fontsize=7.0, frameon=False)
