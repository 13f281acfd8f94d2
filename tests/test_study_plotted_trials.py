"""Trial welds laid over a chart, read from the user's own table."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.errors import InputError
from nugget.setup import default_setup
from nugget.study.charting.plotted_trials import RESULTS, read_trials
from nugget.study.inputs.variation import read_axis, usual_axis

AXIS = usual_axis(default_setup(["strip.thickness=0.15 mm"]))
GOOD = "duration,thickness,result,strip\n5 ms,0.15 mm,held,\n8 ms, 0.10 mm ,Button,nickel-200\n,,,\n"


def read(tmp_path: Path, text: str) -> object:
    path = tmp_path / "trials.csv"
    path.write_text(text)
    return read_trials(path, AXIS)


def test_rows_carry_their_units(tmp_path: Path) -> None:
    one, other = read_trials_of(tmp_path, GOOD)
    assert (one.duration_s, one.value, one.result, one.strip) == (5e-3, pytest.approx(0.15e-3), "held", None)
    assert (other.result, other.strip) == ("button", "nickel-200")


def read_trials_of(tmp_path: Path, text: str) -> tuple:  # type: ignore[type-arg]
    found = read(tmp_path, text)
    assert isinstance(found, tuple)
    return found


def test_the_column_may_carry_the_whole_path(tmp_path: Path) -> None:
    (one,) = read_trials_of(tmp_path, "strip.thickness,result,duration\n0.2 mm,loose,1 ms\n")
    assert one.value == pytest.approx(0.2e-3)


def test_what_a_row_does_not_say_is_as_in_the_setup(tmp_path: Path) -> None:
    (one,) = read_trials_of(tmp_path, "duration,result,note\n4 ms,held,as usual\n")
    assert one.value == pytest.approx(0.15e-3)
    two = read_trials_of(tmp_path, "duration,thickness,result\n4 ms,,held\n3 ms,0.1 mm,\n2 ms,0.1 mm,loose\n")
    assert [trial.value for trial in two] == pytest.approx([0.15e-3, 0.1e-3])


def test_a_field_that_the_setup_is_silent_on_must_be_in_the_table(tmp_path: Path) -> None:
    setup = default_setup()
    path = tmp_path / "t.csv"
    path.write_text("duration,result\n1 ms,held\n")
    with pytest.raises(InputError, match="a column named electrode"):
        read_trials(path, read_axis(setup, "electrode.worn_flat=0.5:1 mm:3"))


def test_a_row_may_say_what_it_was_made_on(tmp_path: Path) -> None:
    rows = "4 ms,held,Coupon\n4 ms,held,\n5 ms,held,empty can\n"
    told = read_trials_of(tmp_path, f"duration,result,cell\n{rows}")
    assert [one.cell for one in told] == ["coupon", None, "empty can"]
    with pytest.raises(InputError, match="line 2: cell: got 'can', expected one of coupon, empty can, cell"):
        read(tmp_path, "duration,result,cell\n4 ms,held,can\n")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("duration,result,button\n4 ms,button,0,64 mm\n", "line 2: got '4 columns', expected 3"),
        ("# nothing\n", "got 'an empty file', expected a header"),
    ],
)
def test_a_table_of_another_shape_is_one_line(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert words in str(caught.value)


def test_the_mark_that_some_spreadsheets_put_first_is_no_part_of_the_header(tmp_path: Path) -> None:
    assert len(read_trials_of(tmp_path, "\ufeffduration,result\n4 ms,held\n")) == 1


def test_the_table_of_invented_trials_that_calibration_reads_will_do() -> None:
    assert len(read_trials(Path(str(files("nugget") / "examples" / "trials_logger.csv")), AXIS)) > 3


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "a header such as"),
        ("thickness,result\n0.1 mm,held\n", "a column named duration"),
        ("duration,thickness\n1 ms,0.1 mm\n", "a column named result"),
        ("duration,thickness,result\n1 ms,0.1 mm,fine\n", "line 2: result"),
        ("duration,thickness,result\n1 ms,0.1 mm,held\n1 N,0.1 mm,held\n", "line 3: duration"),
        ("duration,thickness,result\n0 ms,0.1 mm,held\n", "more than nothing"),
        ("duration,thickness,result\n1 ms,0.1,held\n", "line 2: thickness"),
        ("# note\n\nduration,thickness,result\n1 ms,0.1 mm,no\n", "line 4: result"),
        ("duration,thickness,result\n1 ms,0.1 mm,\n", "no row with one"),
    ],
)
def test_one_clear_line_for_a_bad_table(text: str, says: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    assert "trials.csv" in str(caught.value)
    assert says in str(caught.value)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a readable CSV file"):
        read_trials(tmp_path / "none.csv", AXIS)


@given(
    rows=st.lists(
        st.tuples(st.floats(0.1, 90.0), st.floats(0.02, 1.0), st.sampled_from(list(RESULTS))),
        min_size=1,
        max_size=9,
    )
)
def test_what_is_written_is_read(
    rows: list[tuple[float, float, str]], tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("trials") / "t.csv"
    path.write_text("duration,thickness,result\n" + "".join(f"{a} ms,{b} mm,{c}\n" for a, b, c in rows))
    found = read_trials(path, AXIS)
    assert [(t.duration_s, t.value, t.result) for t in found] == [
        (pytest.approx(a * 1e-3), pytest.approx(b * 1e-3), c) for a, b, c in rows
    ]
