"""Put names onto lines where they cover nothing."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.transforms import Bbox

FloatArray = npt.NDArray[np.float64]

STEPS = 60
"""Places along a line that are tried."""
AWAY = 0.9
"""Distance from the line to the middle of the name, as a share of the name's height."""


@dataclass
class Namer:
    """Names the lines of one axes; everything in the way is told to it first.

    Attributes
    ----------
    axes : Axes
    points : list of ndarray, shape (n, 2)
        Display coordinates that names should not cover.
    boxes : list of Bbox
        Names placed already.
    """

    axes: Axes
    points: list[FloatArray] = field(default_factory=list)
    boxes: list[Bbox] = field(default_factory=list)

    def avoid(self, x: FloatArray, y: FloatArray) -> None:
        """Keep names off a line or a marker, in data coordinates."""
        self.points.append(_dense(self.axes, x, y))

    def name(self, x: FloatArray, y: FloatArray, text: str, **style: Any) -> None:
        """Write `text` beside the line through `x`, `y` where it covers least."""
        from matplotlib import patheffects

        artist = self.axes.text(0.0, 0.0, text, ha="center", va="center", zorder=9.0, **style)
        artist.set_path_effects([patheffects.withStroke(linewidth=3.0, foreground="white")])
        artist.set_in_layout(False)
        size = artist.get_window_extent()
        line = _dense(self.axes, x, y)
        if not len(line):
            artist.remove()
            return
        best, place = np.inf, line[0]
        for share in np.linspace(0.0, 1.0, STEPS):
            at = line[int(share * (len(line) - 1))]
            for side in (1.0, -1.0):
                middle = self._inside(at + np.array([0.0, side * AWAY * size.height]), size)
                cost = self._cost(middle, size, at) + 0.3 * abs(share - 0.5) + (0.2 if side < 0.0 else 0.0)
                if cost < best:
                    best, place = cost, middle
        x_at, y_at = self.axes.transData.inverted().transform(place)
        artist.set_position((float(x_at), float(y_at)))
        self.boxes.append(_box(place, size))

    def _inside(self, middle: FloatArray, size: Bbox) -> FloatArray:
        frame, half = self.axes.bbox, np.array([0.5 * size.width + 3.0, 0.5 * size.height + 2.0])
        low, high = np.asarray(frame.min), np.asarray(frame.max)
        return np.clip(middle, low + half, high - half)

    def _cost(self, middle: FloatArray, size: Bbox, at: FloatArray) -> float:
        box = _box(middle, size)
        covered = sum(_count_inside(box.padded(2.0), points) for points in self.points)
        clashes = sum(1 for other in self.boxes if box.padded(3.0).overlaps(other))
        strayed = max(0.0, abs(float(middle[1] - at[1])) / size.height - 1.0)
        return 0.2 * covered + 100.0 * clashes + 5.0 * strayed


def _box(middle: FloatArray, size: Bbox) -> Any:
    from matplotlib.transforms import Bbox as Box

    half = np.array([0.5 * size.width, 0.5 * size.height])
    return Box([middle - half, middle + half])


def _count_inside(box: Any, points: FloatArray) -> int:
    return int(((points >= box.min) & (points <= box.max)).all(axis=1).sum())


def _dense(axes: Axes, x: FloatArray, y: FloatArray) -> FloatArray:
    """Points every few pixels along a line, those outside the axes left out."""
    points = axes.transData.transform(np.column_stack([x, y]))
    points = points[np.isfinite(points).all(axis=1)]
    if len(points) > 1:
        parts = [np.linspace(a, b, 25, endpoint=False) for a, b in pairwise(points)]
        points = np.vstack([*parts, points[-1:]])
    frame = axes.bbox
    inside = (points[:, 0] >= frame.x0) & (points[:, 0] <= frame.x1)
    inside &= (points[:, 1] >= frame.y0 - 1.0) & (points[:, 1] <= frame.y1 + 1.0)
    return np.asarray(points[inside], dtype=np.float64)
