"""Plain text for a terminal: lines of a width, tables with even columns."""

from __future__ import annotations

from collections.abc import Iterator

WIDTH = 100


def table(rows: list[list[str]]) -> Iterator[str]:
    """Lines of a table with columns of even width."""
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    for row in rows:
        yield "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
