"""The axes of one panel of a chart: where values and durations lie, lines and fills between them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.charting.duration_chart import Chart, Panel
from nugget.study.durations.window import faded_s

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
        return [edge.key for edge in self.panel.columns[0].nominal.edges if edge.kind == "joint"]

    def edge(self, key: str) -> FloatArray:
        """Duration [ms] of an edge of the nominal weld by column, NaN where there is none."""
        found = [
            next((e.duration_s for e in column.nominal.edges if e.key == key), None)
            for column in self.panel.columns
        ]
        return np.array(found, dtype=np.float64) * MS

    def band(self, key: str) -> FloatArray:
        """Where 5, 50 and 95 % of the welds have passed an edge [ms], shape (3, columns).

        What lies beyond the longest duration is put there; NaN where nothing is known.
        """
        found = []
        for column in self.panel.columns:
            one = None if column.known is None else column.known.band(key)
            found.append([np.nan] * 3 if one is None else [one.early_s, one.middle_s, one.late_s])
        known = np.array([column.known is not None for column in self.panel.columns])
        first = np.array([np.nan if c.known is None else c.known.durations_s[0] for c in self.panel.columns])
        whole = np.array(found, dtype=np.float64).T * MS
        # Passed before the first duration that was asked for: down to the axis.
        whole = np.where(whole <= first * MS * JUST, self.span_ms[0], whole)
        return np.where(known & np.isnan(whole), self.span_ms[1], whole)

    def inside(self, edge: FloatArray) -> FloatArray:
        """An edge [ms] where it lies inside the axes, NaN elsewhere."""
        low, high = self.span_ms
        return np.where((edge > low * JUST) & (edge < high / JUST), edge, np.nan)

    def sure(self) -> tuple[FloatArray, FloatArray]:
        """From when to when [ms] the statement is *in window*, by column; NaN where it never is."""
        open_ones = [None if c.known is None or not c.known.open else c.known for c in self.panel.columns]
        ends = [(np.nan, np.nan) if one is None else (one.from_s, one.until_s) for one in open_ones]
        low, high = np.array(ends, dtype=np.float64).T * MS
        return low, high

    def start(self) -> FloatArray:
        """Where the nominal window begins [ms] by column; NaN where a target is not reached."""
        found = [column.window.from_s for column in self.panel.columns]
        return np.array(found, dtype=np.float64) * MS

    def until(self) -> FloatArray:
        """Where the nominal window ends [ms] by column; NaN where that is not known."""
        windows = [column.window for column in self.panel.columns]
        return np.array([np.nan if w.unknown else w.until_s for w in windows]) * MS

    def faded(self) -> FloatArray:
        """When the source has run out at nominal contact [ms], NaN where it has not."""
        found = [faded_s(column.nominal) for column in self.panel.columns]
        return np.array(found, dtype=np.float64) * MS

    def shortest(self) -> FloatArray:
        """What the switch can make at the least [ms] by column, NaN where that is nothing."""
        found = [column.nominal.shortest_s or np.nan for column in self.panel.columns]
        return np.array(found, dtype=np.float64) * MS

    def swap(self, value: Any, duration: Any) -> tuple[Any, Any]:
        """Coordinates of a point given as value along the varied field and duration."""
        return (duration, value) if self.turned else (value, duration)

    def line(self, duration: FloatArray, **how: Any) -> None:
        self.axes.plot(*self.swap(self.value, duration), **{"clip_on": False, **how})

    def fill(self, low: FloatArray, high: FloatArray, **how: Any) -> None:
        """Fill between two rows of durations [ms], and draw a bar where a column stands alone."""
        self._between(self._fine(low), self._fine(high), **how)
        self._bars(low, high, **how)

    def outline(self, low: FloatArray, high: FloatArray, **how: Any) -> None:
        """Draw the outline of what `fill` would fill."""
        between = self.axes.fill_betweenx if self.turned else self.axes.fill_between
        ends = self._fine(low), self._fine(high)
        known = np.isfinite(ends[0]) & np.isfinite(ends[1]) & (ends[1] >= ends[0])
        between(self._between_columns, *ends, where=list(known), facecolor="none", **how)

    @property
    def _between_columns(self) -> FloatArray:
        value = self.value
        return np.unique(np.concatenate([value, np.linspace(value[0], value[-1], 400)]))

    def _fine(self, edge: FloatArray) -> FloatArray:
        """An edge between the columns too, straight as the lines are drawn."""
        with np.errstate(divide="ignore"):
            return np.asarray(np.exp(np.interp(self._between_columns, self.value, np.log(edge))))

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
