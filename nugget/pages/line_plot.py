"""Line plots as inline SVG: scales, ticks and paths; colours and dashes are the style sheet's."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray

WIDTH, LEFT, RIGHT, TOP, BOTTOM = 640, 62, 14, 12, 44
"""Of the drawing and of the margins around its axes [px]."""
STEPS = (1.0, 2.0, 5.0, 10.0)
DIGITS = 4
SHAPES = {
    "x": "M-6-6L6 6M-6 6L6-6",
    "v": "M-6-5H6L0 6Z",
    "^": "M-6 5H6L0-6Z",
    "o": "M-6 0a6 6 0 1 0 12 0a6 6 0 1 0-12 0Z",
    "D": "M0-7L7 0L0 7L-7 0Z",
    "*": "M0-9L2.4-3H8.6L3.6 1 5.5 7.5 0 3.6-5.5 7.5-3.6 1-8.6-3H-2.4Z",
}
"""Outlines of the marks of `nugget.plot.trial_marks`, by their letters."""


@dataclass(frozen=True)
class Scale:
    """One axis: what it shows, from where to where."""

    title: str
    unit: str
    low: float
    high: float
    log: bool = False

    def share(self, value: float) -> float:
        """Where a value lies: 0 at the low end, 1 at the high one."""
        if self.log:
            return math.log(max(value, 1e-300) / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)

    @property
    def label(self) -> str:
        """Title and unit."""
        return f"{self.title}, {self.unit}" if self.unit else self.title

    @property
    def ticks(self) -> list[float]:
        """Round values between the ends."""
        if self.log:
            first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
            few = last - first > 3
            found = [
                m * 10.0**k for k in range(first, last + 1) for m in ((1.0,) if few else (1.0, 2.0, 5.0))
            ]
        else:
            rough = (self.high - self.low) / 5.0
            decade = 10.0 ** math.floor(math.log10(rough))
            step = decade * next(s for s in STEPS if s * decade >= rough * (1.0 - 1e-9))
            found = [step * k for k in range(math.ceil(self.low / step), math.floor(self.high / step) + 1)]
        room = 1e-9 * (self.high - self.low)
        return [t for t in found if self.low - room <= t <= self.high + room]


def linear(title: str, unit: str, values: Iterable[float], floor: float | None = 0.0) -> Scale:
    """A linear scale with room above all finite values, and from `floor` up where that is given."""
    finite = [float(v) for v in values if math.isfinite(v)] or [0.0, 1.0]
    low, high = min(finite), max(finite)
    if floor is not None:
        low = min(low, floor)
    room = 0.08 * (high - low) or 1.0
    return Scale(title, unit, low if floor is not None else low - room, high + room)


@dataclass(frozen=True)
class Series:
    """A line over the plot's x values; NaN breaks it."""

    name: str
    y: FloatArray
    look: str
    group: str = ""
    unit: str = ""


@dataclass(frozen=True)
class Region:
    """What lies between two lines; NaN in either leaves it open."""

    name: str
    low: FloatArray
    high: FloatArray
    look: str
    group: str = ""


@dataclass(frozen=True)
class Mark:
    """A point with its words."""

    name: str
    x: float
    y: float
    letter: str
    filled: bool
    group: str = ""

    @property
    def shape(self) -> str:
        """Its outline around the point."""
        return SHAPES[self.letter]

    @property
    def look(self) -> str:
        """Its class in the style sheet."""
        return "filled" if self.filled else "hollow"


@dataclass(frozen=True)
class LinePlot:
    """A figure of lines over common x values.

    Attributes
    ----------
    title, alt : str
        Heading, and what a reader who cannot see it is told.
    x, y : Scale
    values : ndarray
        Common x values.
    levels : sequence of (float, str)
        Horizontal lines with their words, such as limits.
    spans : sequence of (float, float)
        Shaded stretches of x, such as pulses.
    """

    title: str
    alt: str
    x: Scale
    y: Scale
    values: FloatArray
    series: Sequence[Series]
    levels: Sequence[tuple[float, str]] = ()
    spans: Sequence[tuple[float, float]] = ()
    regions: Sequence[Region] = ()
    marks: Sequence[Mark] = ()
    height: int = 240

    width = WIDTH
    left, top, right = LEFT, TOP, WIDTH - RIGHT

    @property
    def bottom(self) -> int:
        """The height of the x axis [px]."""
        return self.height - BOTTOM

    def px(self, value: float) -> float:
        """Where an x value lies [px]."""
        return round(self.left + min(max(self.x.share(value), 0.0), 1.0) * (self.right - self.left), 1)

    def py(self, value: float) -> float:
        """Where a y value lies [px]; beyond the axes it lies on their edge."""
        share = min(max(self.y.share(value), 0.0), 1.0)
        return round(self.bottom - share * (self.bottom - self.top), 1)

    def path(self, series: Series) -> str:
        """The line of a series; single points between gaps get a short dash."""
        parts, pen = [], False
        for x, y in zip(self.values, series.y, strict=True):
            if not math.isfinite(y):
                pen = False
                continue
            parts.append(f"{'L' if pen else 'M'}{self.px(x):g} {self.py(y):g}{'' if pen else 'h.1'}")
            pen = True
        return "".join(parts)

    def outline(self, region: Region) -> str:
        """The areas of a region, one for each stretch of x where both its lines are there."""
        there = np.isfinite(region.low) & np.isfinite(region.high) & (region.high >= region.low)
        edges = np.flatnonzero(np.diff(np.concatenate([[0], there.astype(int), [0]])))
        found = ""
        for first, last in zip(edges[::2], edges[1::2], strict=True):
            x, low, high = (v[first:last] for v in (self.values, region.low, region.high))
            points = [*zip(x, high, strict=True), *reversed(list(zip(x, low, strict=True)))]
            if len(x) == 1:  # a column that stands alone has no width
                left, right = self.px(x[0]) - 3.0, self.px(x[0]) + 3.0
                top, bottom = self.py(high[0]), self.py(low[0])
                found += f"M{left:g} {top:g}H{right:g}V{bottom:g}H{left:g}Z"
                continue
            found += "M" + "L".join(f"{self.px(a):g} {self.py(b):g}" for a, b in points) + "Z"
        return found

    @property
    def kinds_of_mark(self) -> list[Mark]:
        """One mark of each name, for the key."""
        return list({one.name: one for one in self.marks}.values())

    @property
    def data(self) -> dict[str, Any]:
        """What the script needs to read values off the figure."""
        return {
            "at": [self.px(x) for x in self.values],
            "x": [_short(x) for x in self.values],
            "xName": self.x.title,
            "xUnit": self.x.unit,
            "series": [
                {
                    "name": one.name,
                    "group": one.group,
                    "unit": one.unit or self.y.unit,
                    "y": [_short(y) for y in one.y],
                }
                for one in self.series
            ],
        }


def number(value: float) -> str:
    """A number on an axis."""
    return f"{value:.6g}"


def _short(value: float) -> float | None:
    return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None
