"""Plain text for a terminal: lines of a width, tables with even columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from itertools import zip_longest

WIDTH = 100
NARROWEST = 16
"""Letters that a column keeps when a table is too wide."""
HANGING = 4
"""Blanks before what goes on of a cell of the first column."""


def table(rows: list[list[str]]) -> Iterator[str]:
    """Lines of a table with columns of even width; where it is too wide the widest columns are wrapped."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    while sum(widths) + 2 * (len(widths) - 1) > WIDTH and max(widths) > NARROWEST:
        widths[widths.index(max(widths))] -= 1
    for row in rows:
        cells = [
            _wrapped(cell, width, HANGING * (k == 0))
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        for parts in zip_longest(*cells, fillvalue=""):
            yield "  ".join(part.ljust(width) for part, width in zip(parts, widths, strict=True)).rstrip()


def _wrapped(cell: str, width: int, hanging: int) -> list[str]:
    """The lines of a cell; those that fit stay as they are."""
    return [cell] if len(cell) <= width else textwrap.wrap(cell, width, subsequent_indent=" " * hanging)
