"""Trial files: what a row may say, and one clear line for each way in which one can be wrong."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nugget.errors import InputError
from nugget.setup import Setup, default_setup
from nugget.study.calibration.scope import KEPT, read_scope
from nugget.study.calibration.trial_table import conditions_of, read_trials
from validation.invented_trials import EXAMPLE

BAD = Path(__file__).parent / "data" / "bad"
DEMO = Path(str(files("nugget") / "examples" / "trials_logger.csv"))

BROKEN = {
    "no_unit": ("line 2: duration", "'6'", "with its unit"),
    "wrong_unit": ("line 2: duration", "'6 mm'", "a time"),
    "no_duration_column": ("line 1", "thickness, result", "a column named duration"),
    "no_result_column": ("line 1", "duration, thickness", "a column named result"),
    "unknown_column": ("line 1", "thicknes", "the nearest is thickness"),
    "misspelt_column": ("line 1", "durration", "the nearest is duration"),
    "column_twice": ("line 1", "duration", "each column once"),
    "unknown_result": ("line 2: result", "great", "one of loose, stuck, peeled, held, button"),
    "unknown_inside": ("line 2: inside", "blue", "one of clean, tinted, dented, pierced"),
    "button_of_a_stuck_weld": ("line 2: button", "with result 'stuck'", "result 'button'"),
    "button_too_wide": ("line 2: button", "6 cm", "at most"),
    "negative_button": ("line 2: button", "-0.6 mm", "more than zero"),
    "pull_of_a_loose_weld": ("line 2: pull", "with result 'loose'", "gave way or held"),
    "pull_beyond_the_strip": ("line 2: pull", "4000 N", "no more than the strip itself bears"),
    "pierced_yet_clean": ("line 2: inside", "clean", "pierced, as the result says"),
    "pierced_then_loose": ("line 3", "'loose' at 6 ms", "line 2, which pierced the can in 4 ms"),
    "count_of_none": ("line 2: count", "0", "a whole number from 1"),
    "count_not_whole": ("line 2: count", "1.5", "a whole number from 1"),
    "no_duration": ("line 2: duration", "nothing", "how long the last pulse was"),
    "ragged": ("line 2", "2 columns", "3, as in the header"),
    "no_rows": ("trials_no_rows.csv", "no row with a result", "at least one"),
    "nothing_seen": ("trials_nothing_seen.csv", "no row with a result", "at least one"),
    "empty": ("trials_empty.csv", "an empty file", "a header"),
    "value_that_cannot_be": ("line 2", "-8 mm", "a length between"),
    "unknown_strip": ("line 2", "nickle-200", "nickel-200"),
    "ambiguous_column": ("line 1", "film", "one of contact.faying.film, contact.tip.film"),
    "not_utf8": ("trials_not_utf8.csv", "not UTF-8", "a CSV file"),
}
BROKEN_SCOPES = {
    "no_time": ("line 1", "current_A,voltage_V", "one column out of time_s"),
    "no_signal": ("line 1", "time_ms,temperature", "a column out of current_A"),
    "back_in_time": ("line 4", "a time that goes back", "times that rise"),
    "not_a_number": ("line 3", "lots", "a finite number in column current_A"),
    "zero": ("trials_scope_zero.csv", "a current of zero", "a current that was measured"),
    "two_samples": ("trials_scope_two_samples.csv", "2 samples", "at least 4"),
    "ragged": ("line 3", "1 columns", "2, as in the header"),
}


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


def wrong(caught: pytest.ExceptionInfo[InputError], where: str, given: str, expected: str) -> None:
    text = str(caught.value)
    assert "\n" not in text
    assert caught.value.where.endswith(where) or where in caught.value.where
    assert given in text
    assert expected in text


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_file_is_answered_by_one_line(name: str, setup: Setup) -> None:
    with pytest.raises(InputError) as caught:
        read_trials(BAD / f"trials_{name}.csv", setup)
    wrong(caught, *BROKEN[name])
    assert caught.value.where.startswith(f"trials_{name}.csv")


@pytest.mark.parametrize("name", BROKEN_SCOPES)
def test_a_broken_trace_is_answered_by_one_line(name: str) -> None:
    with pytest.raises(InputError) as caught:
        read_scope(BAD / f"trials_scope_{name}.csv", 6e-3)
    wrong(caught, *BROKEN_SCOPES[name])


def test_a_missing_file_is_one_line(setup: Setup, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_trials(tmp_path / "none.csv", setup)
    with pytest.raises(InputError, match="no such file"):
        read_scope(tmp_path / "none.csv", 6e-3)


def test_every_bad_file_is_listed_here() -> None:
    names = {path.stem.removeprefix("trials_") for path in BAD.glob("trials_*.csv")}
    listed = {*BROKEN, *(f"scope_{name}" for name in BROKEN_SCOPES), "trace_missing"}
    assert names == listed


def test_the_invented_example_reads_as_it_says(setup: Setup) -> None:
    assert DEMO.read_text(encoding="utf-8").startswith("# INVENTED")
    trials = read_trials(DEMO, setup)
    assert sum(trial.count for trial in trials if trial.welded) == 17
    (cold,) = (trial for trial in trials if trial.resistance_ohm is not None)
    assert (cold.duration_s, cold.welded) == (0.0, False)
    assert [trial.trace for trial in trials if trial.trace] == ["trials_logger_scope.csv"]
    conditions = conditions_of(trials, setup)
    assert [one.name for one in conditions.values()] == ["coupon", "empty can"]
    assert [one.setup.file.cell.kind for one in conditions.values()] == ["coupon", "empty can"]
    button = next(trial for trial in trials if trial.button_m is not None)
    assert (button.result, button.button_m, button.count) == ("button", pytest.approx(0.48e-3), 1)
    assert button.print_m == pytest.approx(0.41e-3)
    text = DEMO.read_text(encoding="utf-8")
    assert not [value for value in EXAMPLE.values() if f"{value:g}" in text], (
        "what was drawn is not given away"
    )


def test_a_resistance_needs_no_duration_and_a_weld_does(setup: Setup, tmp_path: Path) -> None:
    path = tmp_path / "trials.csv"
    path.write_text("cell,resistance\ncoupon,2.1 mohm\n", encoding="utf-8")
    (one,) = read_trials(path, setup)
    assert one.resistance_ohm == pytest.approx(2.1e-3)
    path.write_text("duration,resistance,result\n,2.1 mohm,held\n", encoding="utf-8")
    with pytest.raises(InputError, match="how long the last pulse was"):
        read_trials(path, setup)
    path.write_text("resistance\n5 ohm\n", encoding="utf-8")
    with pytest.raises(InputError, match="more than zero and at most 1"):
        read_trials(path, setup)


def test_fields_go_by_their_path_or_its_end_and_blank_cells_are_the_setups_own(
    setup: Setup, tmp_path: Path
) -> None:
    path = tmp_path / "trials.csv"
    path.write_text(
        "duration, thickness, contact.radius_factor, result\n"
        "6 ms, 0.2 mm, 1.1, held\n6 ms, , , stuck\n\n,,,\n8 ms, , , \n",
        encoding="utf-8",
    )
    first, second = read_trials(path, setup)
    assert first.changes == (("contact.radius_factor", 1.1), ("strip.thickness", "0.2 mm"))
    assert second.changes == ()
    other, own = conditions_of([first, second], setup).values()
    assert other.setup.contact.radius_factor == 1.1
    assert other.setup.strip[0].thickness_m == pytest.approx(0.2e-3)
    assert own.name == "as the setup"


@settings(max_examples=25, deadline=None)
@given(st.integers(4, 300), st.floats(0.05, 0.9))
def test_a_trace_is_thinned_and_keeps_its_rise(count: int, share: float) -> None:
    import tempfile

    rise_ms = 6.0 * share
    rows = [(6.0 * k / (count - 1), min(1.0, 6.0 * k / (count - 1) / rise_ms) * 1000.0) for k in range(count)]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scope.csv"
        text = "\n".join(f"{t:.6f},{i:.3f}" for t, i in rows)
        path.write_text(f"time_ms,current_A\n-1,0\n{text}\n", encoding="utf-8")
        scope = read_scope(path, 6e-3)
    assert len(scope.time_s) <= KEPT
    assert scope.time_s[0] == 0.0
    written = [[float(cell) for cell in line.split(",")] for line in text.splitlines()]
    measured = {(round(t * 1e-3, 12), round(i, 3)) for t, i in written}
    assert {
        (round(t, 12), round(i, 3)) for t, i in zip(scope.time_s, scope.current_A, strict=True)
    } <= measured
    assert scope.voltage_V == ()
    assert max(scope.current_A) <= 1000.0 + 1e-6
    assert all(a < b for a, b in zip(scope.time_s, scope.time_s[1:], strict=False))


def test_a_coupon_has_the_wall_of_the_setup_unless_the_row_says_otherwise(tmp_path: Path) -> None:
    thin = default_setup(["cell.wall=0.25 mm"])
    path = tmp_path / "trials.csv"
    path.write_text(
        "duration,cell,cell.wall,result\n6 ms,coupon,,held\n6 ms,coupon,0.4 mm,held\n", encoding="utf-8"
    )
    walls = [one.setup.base[0].thickness_m for one in conditions_of(read_trials(path, thin), thin).values()]
    assert walls == pytest.approx([0.25e-3, 0.4e-3])
