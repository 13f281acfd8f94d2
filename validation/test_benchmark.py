"""The tools of the benchmark: clocks that count, steps that add up, one short piece."""

from __future__ import annotations

import datetime
import importlib
import math
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from validation.benchmark.__main__ import REPORT, main
from validation.benchmark.agreement import LEAST_M, apart
from validation.benchmark.fipy_ratio import steps
from validation.benchmark.grid_size import measured
from validation.benchmark.history import compared, keep
from validation.benchmark.studies import until_said
from validation.benchmark.timing import clocked, march, short
from validation.case import reported


def test_a_clock_counts_calls_and_lets_go_of_the_function() -> None:
    owner = SimpleNamespace(double=lambda x: 2 * x)
    original = owner.double
    with clocked((owner, "double")) as (clock,):
        assert [owner.double(n) for n in range(3)] == [0, 2, 4]
    assert clock.calls == 3
    assert clock.seconds > 0.0
    assert owner.double is original


def test_steps_of_a_peer_are_those_of_the_march() -> None:
    times = np.array([0.0, 1e-3, 3e-3, 6e-3, 7e-3, 9e-3])
    (pulse, on), (hold, off) = steps(times, 6e-3)
    assert (on, off) == (True, False)
    assert (len(pulse), len(hold)) == (3, 2)
    assert pulse == pytest.approx([1e-3, 2e-3, 3e-3])
    assert hold == pytest.approx([1e-3, 2e-3])


def test_the_short_weld_ends_without_cool_down() -> None:
    states = march(short(0.3))
    assert states[-1].time_s == pytest.approx(1e-3)
    assert states[-1].temperature.max() > 500.0


def test_a_grid_is_measured_in_a_process_of_its_own() -> None:
    cells, taken, peak, steps, iterations = measured(0.3, 1)
    assert 100 < cells < 1000
    assert taken > 0.0
    assert peak > 1e7
    assert 1 < steps < iterations


def test_answers_are_apart_by_shares_of_rises_and_of_diameters() -> None:
    one = {"ambient_K": 300.0, "hottest_K": 1300.0, "nugget_diameter_m": 0.5 * LEAST_M}
    two = {"ambient_K": 300.0, "hottest_K": 1290.0, "nugget_diameter_m": 0.0}
    assert apart(one, two, "hottest_K") == pytest.approx(0.01)
    assert apart(one, two, "nugget_diameter_m") == pytest.approx(0.5), "a speck may come or go"


@pytest.mark.parametrize("name", REPORT.modules)
def test_every_piece_can_be_run(name: str) -> None:
    piece = importlib.import_module(f"{REPORT.package}.{name}").PIECE
    assert piece.name == name
    assert callable(piece.run)


def test_a_name_that_is_no_piece_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["--out", "nowhere", "--only", "colour"])
    assert left.value.code == 2
    assert "colour" in capsys.readouterr().err


def test_rows_are_held_against_those_of_the_last_run_that_kept_them(tmp_path: Path) -> None:
    path, day = tmp_path / "history.csv", datetime.date(2026, 1, 2)
    assert compared(path, [("floor", reported("march", 1.0, "s"))]) == []
    keep(path, [("floor", reported("march", 2.0, "s")), ("floor", reported("ratio", 1.5))], day)
    keep(path, [("floor", reported("march", 4.0, "s"))], day)
    lines = compared(path, [("floor", reported(name, 3.0)) for name in ("march", "ratio", "new")])
    assert lines == [
        "floor: march: 3, 2026-01-02 4 (x0.75)",
        "floor: ratio: 3, 2026-01-02 1.5 (x2.00)",
    ]
    assert len(path.read_text(encoding="utf-8").splitlines()) == 4


def test_the_first_words_of_a_weld_are_timed(tmp_path: Path) -> None:
    says = "import sys, time; time.sleep(0.05); print('As set up: in window', file=sys.stderr)"
    taken = until_said([sys.executable, "-c", says], str(tmp_path))
    assert 0.05 < taken < 30.0
    assert math.isnan(until_said([sys.executable, "-c", "pass"], str(tmp_path)))
