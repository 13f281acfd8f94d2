"""Many welds in one figure: joint, heat inside, chances, and what they depend on."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit import amounts
from nugget.merit.limit import Limit
from nugget.plot import style
from nugget.study.scattering.statistics import column, influences
from nugget.study.statement.statement import Statement

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FEWEST_BINS, MOST_BINS = 6, 24
WORST = 7
"""Inputs that are drawn for each figure."""
ABOVE_INCH, BELOW_INCH, CHANCE_INCH = 3.0, 0.9, 0.24
"""Height of the upper half, and of the lower one without and for each chance: two lines of a name."""
LETTERS = 30
"""Of a line beside an axis."""


def scatter_figure(scatter: Statement) -> Figure:
    """Return histograms of joint and heat, chances with their intervals, and rank correlations."""
    below = BELOW_INCH + CHANCE_INCH * len(scatter.chances)
    with style.drawing(8.6, ABOVE_INCH + below) as figure:
        # Rows of their own: the long names of the lower one would push the upper one aside.
        halves: Any = figure.subfigures(2, 1, height_ratios=(ABOVE_INCH, below))
        upper, lower = (half.subplots(1, 2) for half in halves)
        _joint(upper[0], scatter)
        _nearest(upper[1], scatter)
        _chances(lower[0], scatter)
        _influences(lower[1], scatter)
        figure.suptitle(scatter.setup.title, fontsize=9.0, color=style.GREY)
    return figure


def _bins(scatter: Statement) -> int:
    return int(np.clip(2.0 * len(scatter.samples) ** 0.5, FEWEST_BINS, MOST_BINS))


def _joint(panel: Axes, scatter: Statement) -> None:
    fused, target = (column(scatter, name) for name in ("nugget_diameter_m", "minimum_diameter_m"))
    assert fused is not None
    assert target is not None
    enough = fused >= target
    edges = np.histogram_bin_edges(fused * style.MM, _bins(scatter)).tolist()
    groups = ((enough, style.BLUE, "large enough"), (~enough, style.ORANGE, "too small"))
    there = [(fused[which] * style.MM, color, name) for which, color, name in groups if which.any()]
    values, colors, names = (list(part) for part in zip(*there, strict=True))
    panel.hist(values, edges, stacked=True, color=colors, label=names)
    panel.axvline(scatter.setup.joint.minimum_diameter_m * style.MM, color=style.BLACK, linewidth=0.9)
    panel.set(xlabel="nugget diameter, mm", ylabel="welds", title="Joint; line: minimum as set up")
    panel.legend(fontsize=7.0, frameon=False)


def _nearest(panel: Axes, scatter: Statement) -> None:
    """The figure that comes nearest to its limit in any weld, with that limit on the axis."""
    found = nearest_limit(scatter)
    if found is None:
        panel.text(0.5, 0.5, "no limit on a number applies", ha="center", transform=panel.transAxes)
        panel.set_axis_off()
        return
    limit, values = found
    one = limit.what
    shown = np.array([amounts.on_axis(one, value) for value in values])
    level = amounts.on_axis(one, limit.value)
    ends = np.array([shown.min(), shown.max(), level])
    room = 0.04 * np.ptp(ends) or 1.0
    # Bins over the whole axis: a spread that is nothing beside the limit looks like nothing.
    low = 0.0 if ends.min() == 0.0 else ends.min() - room  # nothing is below nothing
    edges = np.linspace(low, ends.max() + room, max(_bins(scatter), FEWEST_BINS) + 1)
    panel.hist(shown, edges.tolist(), color=style.BLUE)
    panel.axvline(level, color=style.BLACK, linewidth=0.9)
    unit = amounts.axis_unit(one)
    panel.set(xlabel=f"{one.title.lower()}{f', {unit}' if unit else ''}", ylabel="welds")
    panel.set_title(f"Nearest limit; line: {limit.sense} {amounts.figure(one, limit.value)}")


def nearest_limit(scatter: Statement) -> tuple[Limit, FloatArray] | None:
    """The limit on a number with the least room in any weld, and what its figure is in all of them."""
    ambient_K, found = scatter.setup.ambient_K, []
    for limit in scatter.setup.limits:
        values = column(scatter, limit.figure) if limit.what.is_number else None
        if values is not None and limit.sense == "at most":
            zero = ambient_K if limit.what.unit == "K" else 0.0
            found.append((float((values.max() - zero) / max(limit.value - zero, 1e-30)), limit, values))
    return max(found, key=lambda one: one[0])[1:] if found else None


def _chances(panel: Axes, scatter: Statement) -> None:
    found = scatter.chances
    for k, one in enumerate(found):
        color = style.BLUE if one.key in ("good", "enough") else style.RED
        panel.plot([100.0 * one.low, 100.0 * one.high], [k, k], color=color, linewidth=3.0, alpha=0.4)
        panel.plot([100.0 * one.share], [k], color=color, marker="o", markersize=5.0)
    names = [textwrap.fill(one.title, LETTERS) for one in found]
    panel.set_yticks(range(len(found)), names, fontsize=6.5)
    panel.set_ylim(-0.6, len(found) - 0.4)
    panel.invert_yaxis()
    panel.set_xlim(-3.0, 103.0)
    panel.set(xlabel="%", title="Probability, 95 % interval")


def _influences(panel: Axes, scatter: Statement) -> None:
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
    panel.set(
        xlabel="rank correlation; grey: not significant at 95 %",
        title="Sensitivity (Spearman)",
    )
    if drawn:
        panel.legend(fontsize=7.0, frameon=False)
