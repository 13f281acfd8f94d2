"""The axes of one panel of a chart: where values and durations lie, lines and fills between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.charting.duration_chart import Chart, Panel
from nugget.study.durations.window import faded_s, window_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes


MS = 1e3
TICKS_MS = tuple(d * m for m in (0.01, 0.1, 1.0, 10.0, 100.0, 1000.0) for d in (1.0, 2.0, 3.0, 5.0))
HALF_CYCLES = (*range(1, 7), 8, 10, 12, 16, 20, 30, 40, 60, 80, 120, 160, 240, 500, 1000)
"""Counts that are written at the axis of an alternating source."""
JUST = 1.0 + 1e-9


@dataclass(frozen=True)
class Frame:
    """Axes of one panel; a lobe has the duration along x, every other chart along y."""

    axes: Axes
    chart: Chart
    panel: Panel
    turned: bool

    @property
    def value(self) -> FloatArray:
        """Columns along the varied field, in the unit shown."""
        return np.array([self.chart.axis.shown(column.value) for column in self.panel.columns])

    @property
    def span_ms(self) -> tuple[float, float]:
        """Ends of the duration axis: from a round number below all nominal edges."""
        columns = [column for panel in self.chart.panels for column in panel.columns]
        found = [e.duration_s * MS for c in columns for e in c.nominal.edges if e.duration_s]
        least = 0.9 * min([*found, self.chart.own_s * MS])
        longest = self.chart.longest_s * MS
        return max((t for t in TICKS_MS if t <= least), default=TICKS_MS[0]), longest

    @property
    def limits(self) -> list[str]:
        return [edge.key for edge in self.panel.columns[0].nominal.edges if edge.kind == "limit"]

    @property
    def targets(self) -> list[str]:
        return [edge.key for edge in self.panel.columns[0].nominal.edges if edge.kind == "target"]

    def edge(self, key: str) -> FloatArray:
        """Duration [ms] of an edge by contact radius and column, NaN where there is none."""
        found = [
            [next((e.duration_s for e in growth.edges if e.key == key), None) for growth in column.growths]
            for column in self.panel.columns
        ]
        return np.array(found, dtype=np.float64).T * MS

    def searched(self, found: FloatArray) -> FloatArray:
        """Edges, with the longest duration where the search came to it without meeting them."""
        longest_ms = self.span_ms[1]
        seen = np.array([[g.searched_s * MS for g in column.growths] for column in self.panel.columns]).T
        return np.where(np.isnan(found) & (seen >= longest_ms / JUST), longest_ms, found)

    def start(self) -> FloatArray:
        """Where the window begins [ms] by contact radius and column; NaN where a target is not reached."""
        windows = [[window_of(growth) for growth in column.growths] for column in self.panel.columns]
        found = [[np.nan if w.from_s is None else w.from_s for w in some] for some in windows]
        return np.array(found, dtype=np.float64).T * MS

    def until(self) -> FloatArray:
        """Where the window ends [ms] by contact radius and column; NaN where that is not known."""
        windows = [[window_of(growth) for growth in column.growths] for column in self.panel.columns]
        return np.array([[np.nan if w.unknown else w.until_s for w in some] for some in windows]).T * MS

    def faded(self) -> FloatArray:
        """When the source has run out at nominal contact [ms], NaN where it has not."""
        found = [faded_s(column.nominal) for column in self.panel.columns]
        return np.array(found, dtype=np.float64) * MS

    def swap(self, value: Any, duration: Any) -> tuple[Any, Any]:
        """Coordinates of a point given as value along the varied field and duration."""
        return (duration, value) if self.turned else (value, duration)

    def line(self, duration: FloatArray, **how: Any) -> None:
        self.axes.plot(*self.swap(self.value, duration), **{"clip_on": False, **how})

    def fill(self, starts: FloatArray, ends: FloatArray, **how: Any) -> None:
        """Fill from the last of `starts` to the first of `ends`, each of shape (radii, columns)."""
        self._between(self._fine(starts).max(axis=0), self._fine(ends).min(axis=0), **how)
        self._bars(starts.max(axis=0), ends.min(axis=0), **how)

    def band(self, edges: FloatArray, **how: Any) -> None:
        """Fill all that lies between those `edges` that are there, shape (radii, columns)."""
        fine = self._fine(edges)
        self._between(np.fmin.reduce(fine), np.fmax.reduce(fine), **how)

    @property
    def _between_columns(self) -> FloatArray:
        value = self.value
        return np.unique(np.concatenate([value, np.linspace(value[0], value[-1], 400)]))

    def _fine(self, edges: FloatArray) -> FloatArray:
        """Edges between the columns too, straight as the lines are drawn."""
        with np.errstate(divide="ignore"):
            logs = [np.interp(self._between_columns, self.value, np.log(edge)) for edge in edges]
        return np.asarray(np.exp(np.array(logs)), dtype=np.float64)

    def _between(self, low: FloatArray, high: FloatArray, **how: Any) -> None:
        known = np.isfinite(low) & np.isfinite(high) & (high >= low)
        between = self.axes.fill_betweenx if self.turned else self.axes.fill_between
        between(self._between_columns, low, high, where=list(known), linewidth=0.0, **how)

    def _bars(self, low: FloatArray, high: FloatArray, **how: Any) -> None:
        """A bar where a column stands alone, which has no width to fill."""
        known = np.concatenate([[False], np.isfinite(low) & np.isfinite(high) & (high > low), [False]])
        alone = known[1:-1] & ~known[:-2] & ~known[2:]
        for value, one, other in zip(self.value[alone], low[alone], high[alone], strict=True):
            ends = self.swap([value, value], [one, other])
            self.axes.plot(*ends, linewidth=7.0, solid_capstyle="butt", **how)
