"""CSV files of the user's: traces of a scope, tables of trial welds.

The first line that is neither blank nor a comment (``#``) names the columns. Whatever a spreadsheet
puts around that is understood: a byte order mark, UTF-16, line ends of any system, semicolons or
tabs between columns, and with those a decimal comma (``0,64 mm``). Messages name the line of the
file, as an editor counts them.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.files import decoded, read_bytes

MOST_BYTES = 100_000_000
_DECIMAL_COMMA = re.compile(r"([+-]?\d+),(\d+(?:e[+-]?\d+)?(?:\s.*|[^\d,.].*)?)", re.IGNORECASE | re.DOTALL)


@dataclass(frozen=True)
class CsvTable:
    """A table as it stands in its file.

    Attributes
    ----------
    name : str
        Of the file.
    head_line : int
    head : tuple of str
    rows : tuple of (int, tuple of str)
        Line on which a row begins, and its cells, as many as in `head`.
    """

    name: str
    head_line: int
    head: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]

    def where(self, line: int) -> str:
        """Return what messages call a line."""
        return f"{self.name}: line {line}"

    def records(self) -> Iterator[tuple[int, dict[str, str]]]:
        """Yield line and cells by column.

        Raises
        ------
        InputError
            When two columns have one name: which of them is meant?
        """
        if twice := next((name for name in self.head if name and self.head.count(name) > 1), None):
            given = f"two columns named {twice}"
            raise InputError(self.where(self.head_line), given, "names that differ")
        for line, cells in self.rows:
            yield line, dict(zip(self.head, cells, strict=True))

    def column(self, known: Mapping[str, float]) -> tuple[int, float] | None:
        """Return place and factor to SI units of the column that `known` names; None without one.

        Raises
        ------
        InputError
            When there is more than one.
        """
        found = [name for name in self.head if name in known]
        if len(found) > 1:
            expected = f"one column out of {', '.join(known)}"
            raise InputError(self.where(self.head_line), ",".join(self.head), expected)
        return (self.head.index(found[0]), known[found[0]]) if found else None

    def needed_column(self, known: Mapping[str, float]) -> tuple[int, float]:
        """As `column`; an InputError without one."""
        found = self.column(known)
        if found is None:
            expected = f"one column out of {', '.join(known)}"
            raise InputError(self.where(self.head_line), ",".join(self.head), expected)
        return found

    def numbers(self, columns: Sequence[tuple[int, float]]) -> FloatArray:
        """Return the numbers of `columns`, place and factor each, times the factor: shape (rows, columns).

        Raises
        ------
        InputError
            Naming the first line that holds something else than a finite number there.
        """
        values = np.empty((len(self.rows), len(columns)))
        for row, (line, cells) in zip(values, self.rows, strict=True):
            for k, (place, factor) in enumerate(columns):
                try:
                    row[k] = float(cells[place]) * factor
                except ValueError:
                    row[k] = math.nan
                if not math.isfinite(row[k]):
                    expected = f"a finite number in column {self.head[place]}"
                    raise InputError(self.where(line), cells[place], expected)
        return values


def read_csv(path: Path, what: str, columns: str) -> CsvTable:
    """Read the table at `path`.

    Parameters
    ----------
    path : Path
    what : str
        What it is a table of, for messages.
    columns : str
        Names of columns that it might begin with, for messages.

    Raises
    ------
    InputError
        When there is no such file or it holds no table.
    """
    expected = f"a readable CSV file of {what}"
    text = decoded(read_bytes(path, path.name, expected, MOST_BYTES), path.name, f"a CSV file of {what}")
    return csv_table(path.name, text, columns)


def csv_table(name: str, text: str, columns: str) -> CsvTable:
    """Return the table that a text holds; `read_csv` of a file's."""
    separator = _separator(text)
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True, strict=True)
    rows: list[tuple[int, tuple[str, ...]]] = []
    try:
        for cells in reader:
            rows.append((lines.begun, tuple(_plain(cell.strip(), separator) for cell in cells)))
            lines.inside = False
    except csv.Error as failure:
        raise InputError(f"{name}: line {lines.begun}", str(failure), "a row of a CSV file") from failure
    if not rows:
        raise InputError(name, "an empty file", f"a header such as '{columns}'")
    (head_line, head), *body = rows
    for line, row in body:
        if len(row) != len(head):
            given = f"{len(row)} columns"
            raise InputError(f"{name}: line {line}", given, f"{len(head)}, as in the header")
    return CsvTable(name, head_line, head, tuple(body))


class _Lines:
    """The lines of a text that hold rows, and the number of the one on which a row began."""

    def __init__(self, text: str) -> None:
        self._numbered = enumerate(io.StringIO(text, newline=None), 1)
        self.begun = 1
        self.inside = False

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        while True:
            number, line = next(self._numbered)
            if self.inside:  # a cell in quotes goes on
                return line
            if line.strip() and not line.lstrip().startswith("#"):
                self.begun, self.inside = number, True
                return line


def _separator(text: str) -> str:
    """What stands between the columns: whichever of comma, semicolon and tab the header has most of."""
    head = next(_Lines(text), "")
    return max(",;\t", key=head.count)


def _plain(cell: str, separator: str) -> str:
    """A cell with a decimal point, where commas do not separate columns and so may be decimal."""
    found = None if separator == "," else _DECIMAL_COMMA.fullmatch(cell)
    return f"{found[1]}.{found[2]}" if found else cell
