"""Look shared by all figures: print-safe colours, units, labels, files."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.constants import ZERO_CELSIUS_K
from nugget.outcome.writing import write_whole

if TYPE_CHECKING:
    from matplotlib.figure import Figure


MM = 1e3
DPI = 160

BLACK, GREY, BLUE, ORANGE, GREEN, RED = "#000000", "#6f6f6f", "#0072b2", "#e69f00", "#009e73", "#d55e00"
"""Colours that colour-blind people tell apart (Okabe and Ito, Color Universal Design, 2008)."""

LEADER: Any = {"arrowstyle": "-", "linewidth": 0.6, "shrinkA": 1, "shrinkB": 1, "relpos": (0.0, 0.5)}
"""The thin line from a curve or a layer to its name, ending at the left of that."""

RC: Any = {  # matplotlib types its keys one by one
    "font.size": 9.0,
    "axes.titlesize": 9.5,
    "axes.titlelocation": "left",
    "axes.titleweight": "bold",
    "axes.spines.top": False,
    "axes.spines.right": False,
    "lines.linewidth": 1.6,
    "figure.facecolor": "white",
    "text.parse_math": False,  # a dollar in a title is a dollar
}


@contextmanager
def drawing(width_in: float, height_in: float) -> Iterator[Figure]:
    """Yield an empty figure; what is drawn inside the block takes our style."""
    import matplotlib
    from matplotlib.figure import Figure as NewFigure

    with matplotlib.rc_context(RC):
        yield NewFigure(figsize=(width_in, height_in), dpi=DPI, layout="constrained")


def settle(figure: Figure) -> None:
    """Lay the panels out once; those of fixed aspect need two passes, and saving does the second."""
    engine = figure.get_layout_engine()
    assert engine is not None
    engine.execute(figure)


def write_figure(figure: Figure, path: Path) -> Path:
    """Write `figure` in the form that the name ends in (PNG, SVG, PDF), whole or not at all."""
    form = path.suffix[1:].lower() or "png"
    return write_whole(path, lambda stream: figure.savefig(stream, format=form))


def picture(figure: Figure, form: str) -> bytes:
    """A figure as the bytes of its file."""
    stream = io.BytesIO()
    figure.savefig(stream, format=form)
    return stream.getvalue()


def celsius(value_K: npt.ArrayLike) -> FloatArray:
    """Temperatures [K] in °C."""
    return np.asarray(value_K, dtype=np.float64) - ZERO_CELSIUS_K


def time_text(value_s: float) -> str:
    """A time [s] in ms, in s from one second up."""
    return f"{value_s * 1e3:.3g} ms" if value_s < 1.0 else f"{value_s:.3g} s"


def short_title(title: str) -> str:
    """A material's title up to the first comma or bracket."""
    return re.split(r"[,(]", title)[0].strip()


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> FloatArray:
    """Positions as near to `wanted` as labels `gap` apart within `low` to `high` can be.

    Parameters
    ----------
    wanted : sequence of float
        In any order; the result keeps it.
    gap, low, high : float
        The gap shrinks when not all fit.
    """
    order = np.argsort(wanted, kind="stable")
    placed = np.clip(np.asarray(wanted, dtype=np.float64)[order], low, high)
    gap = min(gap, (high - low) / max(len(placed) - 1, 1))
    for k in range(1, len(placed)):
        placed[k] = max(placed[k], placed[k - 1] + gap)
    ceiling = high
    for k in reversed(range(len(placed))):
        placed[k] = min(placed[k], ceiling)
        ceiling = placed[k] - gap
    result = np.empty_like(placed)
    result[order] = placed
    return result
