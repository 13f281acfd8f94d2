"""Matplotlib figures of the report, with the Figure object API (no global state)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def axes(x: str, y: str, columns: int = 1, size: tuple[float, float] = (6.0, 3.8)) -> tuple[Any, Any]:
    """A figure and its axes (an array when `columns` is above 1), labelled; y may be one of several."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(size[0] * columns, size[1]), layout="constrained")
    found = figure.subplots(1, columns)
    for ax in [found] if columns == 1 else found:
        ax.set_xlabel(x)
        ax.set_ylabel(y)
        ax.grid(alpha=0.3)
    return figure, found


def mark_counts(ax: Any, counts: Sequence[int]) -> None:
    """Plain whole numbers on a logarithmic axis, at these counts only."""
    ax.set_xticks(counts, [str(n) for n in counts])
    ax.set_xticks([], minor=True)
