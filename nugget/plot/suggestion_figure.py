"""A search in one figure: the windows of the candidates side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nugget.plot import style
from nugget.study.suggestion.candidate import Candidate, Suggestion

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST = 10


def suggestion_figure(suggestion: Suggestion) -> Figure:
    """Return the window of every candidate, at nominal contact and shared by all contact radii."""
    shown = suggestion.candidates[:MOST]
    with style.drawing(8.4, 1.6 + 0.55 * len(shown)) as figure:
        panel = figure.subplots()
        for k, one in enumerate(shown):
            _bars(panel, one, k, suggestion.longest_s)
        panel.set_yticks(range(len(shown)), [_name(suggestion, one) for one in shown], fontsize=7.5)
        panel.set_ylim(-0.7, len(shown) - 0.3)
        panel.invert_yaxis()
        panel.set_xlim(0.0, suggestion.longest_s * 1e3)
        title = "Windows; pale: at nominal contact, full: at every contact, dot: suggested"
        panel.set(xlabel="last pulse, ms", title=title)
        figure.suptitle(suggestion.setup.title, fontsize=9.0, color=style.GREY)
    return figure


def _bars(panel: Axes, one: Candidate, row: int, longest_s: float) -> None:
    for window, alpha in ((one.nominal, 0.3), (one.window, 1.0)):
        if window.open and window.from_s is not None:
            width = (window.until_s - window.from_s) * 1e3
            panel.barh(row, width, 0.4, left=window.from_s * 1e3, color=style.BLUE, alpha=alpha)
    end, until_ms = one.nominal.binding, 1e3 * min(one.nominal.until_s, longest_s)
    words = end.title.lower() if end is not None else one.nominal.why
    if one.nominal.from_s is None:
        words = f"target not reached; {words}"
    side = "right" if until_ms > 0.6e3 * longest_s else "left"
    panel.text(until_ms, row - 0.28, f" {words} ", fontsize=6.5, va="bottom", ha=side, color=style.GREY)
    if one.window.open:
        good = "" if one.good is None else f"  {100.0 * one.good.share:.0f} % good"
        panel.plot([one.duration_s * 1e3], [row], color="white", marker="o", markersize=4.0)
        panel.text(one.duration_s * 1e3, row + 0.24, good, fontsize=6.5, va="top", color=style.BLACK)


def _name(suggestion: Suggestion, one: Candidate) -> str:
    axes = {free.axis.field.path: free.axis for free in suggestion.free}
    values = [f"{axes[path].title} {axes[path].text(value)}" for path, value in one.values]
    return "\n".join([one.train.name, *values])
