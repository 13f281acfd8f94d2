"""A search in one figure: the windows of the candidates side by side."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

from nugget.merit import amounts
from nugget.plot import style
from nugget.study.suggestion.candidate import Candidate, Suggestion

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST = 10
LETTERS = 100
KEY = (
    "pale: window as set up; blue: what five benches share of it; dot: what the verdict is about\n"
    "triangle: minimum diameter reached; cross: first limit; hatched: searched without reaching it"
)


def suggestion_figure(suggestion: Suggestion) -> Figure:
    """Return the window of every candidate, as set up and shared with some drawn benches."""
    shown = suggestion.candidates[:MOST]
    with style.drawing(8.4, 1.6 + 0.55 * len(shown)) as figure:
        panel = figure.subplots()
        for k, one in enumerate(shown):
            _bars(panel, one, k, suggestion.longest_s)
        panel.set_yticks(range(len(shown)), [_name(suggestion, one) for one in shown], fontsize=7.5)
        panel.set_ylim(-0.7, len(shown) - 0.3)
        panel.invert_yaxis()
        panel.set_xlim(0.0, suggestion.longest_s * 1e3)
        panel.set_xlabel("last pulse, ms")
        figure.supxlabel(KEY, fontsize=7.0)
        head = suggestion.setup.title
        if not suggestion.safe:
            why = f": {suggestion.crossing}" if suggestion.crossing else ""
            head += "\n" + textwrap.fill(f"No safe setting was found{why}", LETTERS)
        figure.suptitle(head, fontsize=9.0, color=style.GREY if suggestion.safe else style.BLACK)
    return figure


def _bars(panel: Axes, one: Candidate, row: int, longest_s: float) -> None:
    for window, alpha in ((one.nominal, 0.3), (one.window, 1.0)):
        if window.open and window.from_s is not None:
            width = (window.until_s - window.from_s) * 1e3
            panel.barh(row, width, 0.4, left=window.from_s * 1e3, color=style.BLUE, alpha=alpha)
    looks: dict[str, Any] = {"linestyle": "none", "markersize": 6.0, "clip_on": False, "zorder": 4.0}
    if one.nominal.binding is not None:
        panel.plot([1e3 * one.nominal.until_s], [row], marker="x", color=style.RED, **looks)
    if one.nominal.from_s is not None:
        panel.plot([1e3 * one.nominal.from_s], [row], marker=">", color=style.GREEN, **looks)
    end, until_ms = one.nominal.binding, 1e3 * min(one.nominal.until_s, longest_s)
    words = end.title.lower() if end is not None else one.nominal.why
    if one.nominal.from_s is None:
        largest = max(one.growths[0].fused_m, default=0.0)
        words = f"at most {amounts.length(largest)}, minimum diameter not reached; {words}"
        hatched: dict[str, Any] = {
            "facecolor": "none",
            "edgecolor": style.GREY,
            "hatch": "///",
            "linewidth": 0.4,
        }
        panel.barh(row, until_ms, 0.25, **hatched)
    side = "right" if until_ms > 0.6e3 * longest_s else "left"
    panel.text(until_ms, row - 0.28, f" {words} ", fontsize=6.5, va="bottom", ha=side, color=style.GREY)
    if one.statement is not None and one.good is not None:
        said = f"{one.statement.verdict}, {100.0 * one.good.share:.0f} % good"
        dot: dict[str, Any] = {"marker": "o", "markersize": 4.0, "markeredgecolor": style.BLACK}
        panel.plot([one.duration_s * 1e3], [row], color="white", **dot)
        panel.text(one.duration_s * 1e3, row + 0.24, f"  {said}", fontsize=6.5, va="top", color=style.BLACK)


def _name(suggestion: Suggestion, one: Candidate) -> str:
    axes = {free.axis.field.path: free.axis for free in suggestion.free}
    values = [f"{axes[path].title} {axes[path].text(value)}" for path, value in one.values]
    return "\n".join([one.train.name, *values])
