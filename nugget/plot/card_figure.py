"""Text on one side of A4, for a PDF: a headline, rows and lists, from top to bottom."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from nugget.errors import NuggetError
from nugget.plot import style

if TYPE_CHECKING:
    from matplotlib.figure import Figure

A4_IN = (8.27, 11.69)
MARGIN_IN, LABEL_IN = 0.6, 2.0
POINTS_PER_IN = 72.0
WIDTH_OF_LETTER = 0.55
"""Of the usual font, over its size: its letters are this wide on average, or narrower."""
SIZES = (11.0, 10.0, 9.0, 8.0, 7.0)
"""Tried in turn until everything fits on the page."""


class _Sheet:
    """Writes downwards; knows how far it has come."""

    def __init__(self, figure: Figure, size: float) -> None:
        self.figure, self.size, self.at_in = figure, size, MARGIN_IN

    def write(self, text: str, scale: float = 1.0, left_in: float = 0.0, weight: str = "normal") -> None:
        """Write a paragraph that starts `left_in` from the margin."""
        size = self.size * scale
        wide_in = A4_IN[0] - 2.0 * MARGIN_IN - left_in
        letters = int(wide_in * POINTS_PER_IN / (size * (WIDTH_OF_LETTER + 0.03 * (weight == "bold"))))
        lines = textwrap.wrap(text, letters) or [""]
        place = (MARGIN_IN + left_in) / A4_IN[0], 1.0 - self.at_in / A4_IN[1]
        # Nothing in the words of a user may start a formula.
        words = self.figure.text(*place, "\n".join(lines), fontsize=size, weight=weight, va="top")
        words.set(linespacing=1.25, parse_math=False)
        self.at_in += 1.25 * len(lines) * size / POINTS_PER_IN + 0.25 * size / POINTS_PER_IN


def card_figure(
    title: str,
    headline: str,
    below: Sequence[str],
    rows: Sequence[tuple[str, str]],
    lists: Sequence[tuple[str, Sequence[str]]],
    foot: Iterable[str],
) -> Figure:
    """Return the page, in the largest letters in which it fits.

    Raises
    ------
    NuggetError
        When it fits in none: nothing is left out.
    """
    lines = list(foot)
    for size in SIZES:
        with style.drawing(*A4_IN) as figure:
            figure.set_layout_engine("none")
            sheet = _Sheet(figure, size)
            sheet.write(title, 1.1, weight="bold")
            sheet.write(headline, 2.2, weight="bold")
            for line in below:
                sheet.write(line)
            for label, value in rows:
                top_in = sheet.at_in
                sheet.write(label, weight="bold")
                ends_in, sheet.at_in = sheet.at_in, top_in
                sheet.write(value, left_in=LABEL_IN)
                sheet.at_in = max(ends_in, sheet.at_in)
            for heading, items in lists:
                sheet.write(heading, 1.15, weight="bold")
                for item in items:
                    top_in = sheet.at_in
                    sheet.write("•", left_in=0.1)
                    sheet.at_in = top_in
                    sheet.write(item, left_in=0.3)
            for line in lines:
                sheet.write(line, 0.85)
            if sheet.at_in <= A4_IN[1] - MARGIN_IN:
                return figure
    raise NuggetError("the card does not fit on one page: shorten the title or the names in the setup")
