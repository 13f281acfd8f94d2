"""Put names onto lines where they cover nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray

if TYPE_CHECKING:
    from matplotlib.axes import Axes


STEPS = 60
"""Places along a line that are tried, above and below it."""
AWAY = 0.9
"""Distance from the line to the middle of the name, as a share of the name's height."""
MARKER = 8
"""Points that a marker counts for."""
PER_POINT, PER_NAME, PER_STRAY, OFF_MIDDLE, BELOW = 0.2, 100.0, 5.0, 0.3, 0.2
"""Cost of a point covered, of a name covered, of each height away from the line, of the line's end
against its middle, and of standing below it."""


@dataclass
class Namer:
    """Names the lines of one axes; everything in the way is told to it first.

    Attributes
    ----------
    axes : Axes
    points : list of ndarray, shape (n, 2)
        Display coordinates that names should not cover.
    boxes : list of ndarray, shape (2, 2)
        Lower left and upper right corner of the names placed already.
    """

    axes: Axes
    points: list[FloatArray] = field(default_factory=list)
    boxes: list[FloatArray] = field(default_factory=list)

    def avoid(self, x: FloatArray, y: FloatArray) -> None:
        """Keep names off a line or a marker, in data coordinates."""
        self.points.append(_dense(self.axes, x, y))

    def block(self, x: float, y: float, size_pt: float) -> None:
        """Keep names off a marker of this size, in data coordinates."""
        centre = self.axes.transData.transform((x, y))
        half = 0.5 * size_pt * self.axes.get_figure(root=True).dpi / 72.0  # type: ignore[union-attr]
        self.boxes.append(np.array([centre - half, centre + half]))

    def name(self, x: FloatArray, y: FloatArray, text: str, **style: Any) -> None:
        """Write `text` beside the line through `x`, `y` where it covers least."""
        from matplotlib import patheffects

        line = _dense(self.axes, x, y)
        if not len(line):
            return
        artist = self.axes.text(0.0, 0.0, text, ha="center", va="center", zorder=9.0, **style)
        artist.set_path_effects([patheffects.withStroke(linewidth=3.0, foreground="white")])
        extent = artist.get_window_extent()
        half = 0.5 * np.array([extent.width, extent.height])
        share = np.linspace(0.0, 1.0, STEPS)
        at = np.repeat(line[(share * (len(line) - 1)).astype(int)], 2, axis=0)
        side = np.tile([1.0, -1.0], STEPS)
        frame = self.axes.bbox
        low, high = np.asarray(frame.min) + half + 3.0, np.asarray(frame.max) - half - 3.0
        middles = at + np.column_stack([np.zeros_like(side), side * AWAY * extent.height])
        middles = np.clip(middles, low, np.maximum(low, high))
        cost = (
            self._cost(middles, half) + OFF_MIDDLE * np.abs(np.repeat(share, 2) - 0.5) + BELOW * (side < 0.0)
        )
        strayed = np.abs(middles[:, 1] - at[:, 1]) / extent.height
        place = middles[int(np.argmin(cost + PER_STRAY * np.maximum(strayed - 1.0, 0.0)))]
        x_at, y_at = self.axes.transData.inverted().transform(place)
        artist.set_position((float(x_at), float(y_at)))
        self.boxes.append(np.array([place - half, place + half]))

    def _cost(self, middles: FloatArray, half: FloatArray) -> FloatArray:
        """What boxes of this half size around `middles`, shape (n, 2), would cover."""
        points = np.vstack([np.zeros((0, 2)), *self.points])
        near = np.abs(points[None, :, :] - middles[:, None, :]) <= half + 2.0
        cost = PER_POINT * near.all(axis=2).sum(axis=1)
        for low, high in self.boxes:
            apart = (middles - half - 3.0 > high) | (middles + half + 3.0 < low)
            cost = cost + PER_NAME * ~apart.any(axis=1)
        return np.asarray(cost, dtype=np.float64)


def _dense(axes: Axes, x: FloatArray, y: FloatArray) -> FloatArray:
    """Points every few pixels along a line, those outside the axes left out."""
    points = axes.transData.transform(np.column_stack([x, y]))
    whole = np.isfinite(points).all(axis=1)
    # Gaps stay gaps: nothing is drawn there, so nothing is in the way or to be named.
    parts = [
        np.linspace(a, b, 25, endpoint=False)
        for (a, b), both in zip(pairwise(points), pairwise(whole), strict=True)
        if all(both)
    ]
    points = np.vstack([np.repeat(points[whole], MARKER, axis=0), *parts])
    frame = axes.bbox
    inside = ((points >= np.asarray(frame.min) - 1.0) & (points <= np.asarray(frame.max) + 1.0)).all(axis=1)
    points = points[inside]
    return np.asarray(points[np.argsort(points[:, 0], kind="stable")], dtype=np.float64)
