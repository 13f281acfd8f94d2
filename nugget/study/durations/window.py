"""The window between the edges: from the minimum weld diameter to the first limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from nugget.study.durations.edges import Edge, Growth

FADED = 0.5
"""A direct source whose current ends below this share of its peak has run out."""


@dataclass(frozen=True)
class Window:
    """Durations at which the joint reaches its minimum diameter and every limit is kept.

    Attributes
    ----------
    from_s : float or None
        Shortest pulse that reaches the target and that the switch can make; None when none does.
    until_s : float
        Longest pulse before the first limit, or the longest one searched.
    binding : Edge or None
        The limit that ends the window; None when no limit was met.
    why : str
        Why it ends there without a limit.
    unknown : bool
        Whether the search ended before it could tell if there is a window.
    """

    from_s: float | None
    until_s: float
    binding: Edge | None
    why: str = ""
    unknown: bool = False

    @property
    def open(self) -> bool:
        """Whether there is any such duration."""
        return self.from_s is not None and self.from_s < self.until_s

    @property
    def closed(self) -> bool:
        """Whether there is certainly none."""
        return not self.open and not self.unknown

    @property
    def ratio(self) -> float:
        """Last over first duration; below 1 when the limit comes first, 0 when the target never does."""
        return 0.0 if self.from_s is None else self.until_s / max(self.from_s, 1e-12)


def window_of(growth: Growth) -> Window:
    """The window of one setup."""
    limits = [edge for edge in growth.edges if edge.kind == "limit"]
    met = [(edge.duration_s, edge) for edge in limits if edge.duration_s is not None]
    start_s = last_target(growth).duration_s
    if start_s is not None:
        start_s = max(start_s, growth.shortest_s)
    lost = next((edge for edge in growth.edges if edge.unknown), None)
    if met:
        until_s, binding = min(met, key=lambda pair: pair[0])
        if start_s is None or start_s >= until_s or lost is None:
            return Window(start_s, until_s, binding)
    if lost is not None:
        return Window(start_s, 0.0, None, f"{lost.title.lower()}: {lost.unknown}", True)
    if growth.failed:
        return Window(start_s, growth.searched_s, None, growth.ended, start_s is None)
    return Window(start_s, growth.searched_s, None, growth.ended or "no limit within the durations searched")


def last_target(growth: Growth) -> Edge:
    """The target that is reached last; one that is never reached comes after all others."""
    targets = [edge for edge in growth.edges if edge.kind == "joint"]
    return max(targets, key=lambda edge: math.inf if edge.duration_s is None else edge.duration_s)


def agreed(growths: Sequence[Growth]) -> Window:
    """The window that several welds share; its limit is the one that comes first."""
    windows = [window_of(growth) for growth in growths]
    last = min(windows, key=lambda w: w.until_s)
    starts = [w.from_s for w in windows if w.from_s is not None]
    start_s = max(starts) if len(starts) == len(windows) else None
    unknown = not any(w.closed for w in windows) and any(w.unknown for w in windows)
    return Window(start_s, last.until_s, last.binding, last.why, unknown)


def crossing(growth: Growth) -> str:
    """Say which two edges cross where there is certainly no window; empty elsewhere."""
    window, target = window_of(growth), last_target(growth)
    if not window.closed:
        return ""
    wanted = f"{target.threshold * 1e3:.2f} mm" if target.unit == "m" else f"{target.threshold:.3g}"
    size = f"the {target.title.lower()} ({wanted})"
    limit = "" if window.binding is None else f"{window.binding.title.lower()} ({_ms(window.until_s)})"
    if window.from_s is not None and window.from_s == growth.shortest_s:
        return f"{limit} comes before the shortest pulse that the relay makes ({_ms(window.from_s)})"
    if window.from_s is not None:
        return f"{limit} comes before {size} ({_ms(window.from_s)})"
    largest = f"{max(growth.fused_m, default=0.0) * 1e3:.2f} mm"
    reached = f"{size} is not reached within {_ms(growth.searched_s)}, {largest} fused at most"
    reached += _fading(growth)
    return f"{reached}; the first limit is {limit}" if limit else f"{reached}, and no limit is met"


def faded_s(growth: Growth) -> float | None:
    """Duration after which a direct source has run out [s]; None when it has not."""
    current = growth.current_A
    if not current or min(current) < 0.0:
        return None
    at = current.index(max(current))
    later = zip(growth.time_s[at:], current[at:], strict=True)
    return next((t for t, now in later if now < FADED * current[at]), None)


def _fading(growth: Growth) -> str:
    """Say when the source has run out; empty when it has not."""
    if faded_s(growth) is None:
        return ""
    return f", as the current falls from {max(growth.current_A):.0f} to {growth.current_A[-1]:.0f} A"


def _ms(value_s: float) -> str:
    return "the first instant" if value_s == 0.0 else f"{value_s * 1e3:.3g} ms"
