"""One reader for every CSV file: what spreadsheets put around a table, and right lines in messages."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.csv_table import CsvTable, read_csv
from nugget.errors import InputError
from nugget.setup.trace import read_trace
from nugget.study.calibration.scope import read_scope

COMMENTED = "# of one weld\n\ntime_ms,current_A\n0,0\n# a pause\n1,900\n2,950\n2,960\n3,970\n4,980\n"


def read(tmp_path: Path, data: str | bytes) -> CsvTable:
    path = tmp_path / "t.csv"
    path.write_bytes(data.encode("utf-8") if isinstance(data, str) else data)
    return read_csv(path, "trials", "duration,result")


PLAIN = "cell,duration,button\ncoupon,4 ms,0.64 mm\nempty can,5 ms,\n"


@pytest.mark.parametrize(
    "data",
    [
        PLAIN,
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        "\ufeff" + PLAIN,
        PLAIN.encode("utf-16"),
        PLAIN.replace(",", ";").replace("0.64", "0,64"),
        PLAIN.replace(",", ";"),
        PLAIN.replace(",", "\t").replace("0.64", "0,64"),
        PLAIN.replace(",", " , "),
        "# first\n\n  # second, indented\n" + PLAIN + "\n",
        'cell,"duration",button\n"coupon",4 ms,"0.64 mm"\nempty can,5 ms,""\n',
    ],
)
def test_whatever_a_spreadsheet_makes_of_it_is_the_same_table(tmp_path: Path, data: str | bytes) -> None:
    table = read(tmp_path, data)
    assert table.head == ("cell", "duration", "button")
    assert [cells for _, cells in table.rows] == [("coupon", "4 ms", "0.64 mm"), ("empty can", "5 ms", "")]


@pytest.mark.parametrize(
    ("cell", "read_as"),
    [
        ("0,64 mm", "0.64 mm"),
        ("-1,5", "-1.5"),
        ("1,5e-3 m", "1.5e-3 m"),
        ("12,5%", "12.5%"),
        ("8 mm", "8 mm"),
        ("1,000.5", "1,000.5"),
        ("1,000,000", "1,000,000"),
        ("pliers, twice", "pliers, twice"),
    ],
)
def test_a_decimal_comma_is_one_only_where_it_can_be_nothing_else(
    tmp_path: Path, cell: str, read_as: str
) -> None:
    assert read(tmp_path, f"a;b\n{cell};x\n").rows[0][1] == (read_as, "x")


def test_a_comma_between_columns_is_never_decimal(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"t\.csv: line 2: got '3 columns', expected 2, as in the header"):
        read(tmp_path, "duration,button\n4 ms,0,64 mm\n")


def test_lines_are_those_of_the_file(tmp_path: Path) -> None:
    table = read(tmp_path, 'a,b\n# one\n\n1,"two\n# lines, quoted"\n\n3,4\n')
    assert [line for line, _ in table.rows] == [4, 7]
    assert table.rows[0][1] == ("1", "two\n# lines, quoted")
    with pytest.raises(InputError, match="line 7: got 'inf', expected a finite number in column b"):
        read(tmp_path, "a,b\n# one\n\n1,2\n\n\n3,inf\n").numbers([(0, 1.0), (1, 1.0)])


def test_a_trace_with_comments_names_the_line_that_goes_back(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text(COMMENTED, encoding="utf-8")
    with pytest.raises(InputError, match=r"scope\.csv: line 8"):
        read_scope(path, 6e-3)
    with pytest.raises(InputError, match=r"scope\.csv: line 8"):
        read_trace(path, "current")


def test_a_trace_of_semicolons_and_decimal_commas(tmp_path: Path) -> None:
    path = tmp_path / "scope.csv"
    path.write_text("time_ms;current_kA;note\n0,5;0,1;\n1,0;1,25;\n", encoding="utf-8")
    assert read_trace(path, "current") == ((0.0, pytest.approx(0.5e-3)), (100.0, 1250.0))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "got 'an empty file', expected a header such as 'duration,result'"),
        (b"# nothing\n\n", "an empty file"),
        (b"a,b\n\xff,1\n", "not UTF-8"),
        (b'a,b\n"open,1\n', "line 2"),
        (b"a,b\n1\n", "line 2: got '1 columns'"),
    ],
)
def test_what_is_no_table_is_one_line(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, data)
    assert words in str(caught.value)
    assert "\n" not in str(caught.value)


def test_what_never_ends_is_not_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.csv")
    for name in (str(tmp_path / "pipe.csv"), "/dev/zero", str(tmp_path)):
        with pytest.raises(InputError, match="expected a readable CSV file of trials"):
            read_csv(Path(name), "trials", "a,b")
    with pytest.raises(InputError, match="a readable CSV file"):
        read_csv(tmp_path / "a\0b.csv", "trials", "a,b")


cells = st.text(
    st.characters(codec="utf-8", exclude_characters="\r\n\0", exclude_categories=("C", "Z")), max_size=8
)


@given(rows=st.lists(st.tuples(cells, cells), max_size=6))
def test_what_a_writer_writes_is_read(
    rows: list[tuple[str, str]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    rows = [row for row in rows if any(row) and not row[0].startswith("#")]
    stream = io.StringIO()
    csv.writer(stream).writerows([("a", "b"), *rows])
    path = tmp_path_factory.mktemp("csv") / "t.csv"
    path.write_text(stream.getvalue(), encoding="utf-8", newline="")
    assert [row for _, row in read_csv(path, "trials", "a,b").rows] == rows


def test_two_columns_of_one_name_are_refused(tmp_path: Path) -> None:
    """The last one counted, without a word; columns without a name, as spreadsheets add, are passed over."""
    assert len(list(read(tmp_path, "duration,result,,\n1 ms,button,,\n").records())) == 1
    with pytest.raises(InputError, match=r"t\.csv: line 1: got 'two columns named duration', expected names"):
        list(read(tmp_path, "duration,duration,result\n1 ms,2 ms,button\n").records())
