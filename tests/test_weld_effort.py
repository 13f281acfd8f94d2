"""A march over a minute says so first, by its own steps; no other says anything."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import pytest
from small import coarse

from nugget.cli.log_told import log_told
from nugget.outcome.weld import iter_steps, run_weld
from nugget.setup import default_setup, preset
from nugget.setup.description import Description
from nugget.weld import effort
from nugget.weld.effort import Foresight, expected_steps, march_seconds, minutes
from nugget.weld.state import WeldState

STIFF_6_S = [
    *((1e-5, 0.05), (2.3e-4, 0.38), (1.05e-3, 0.75), (5.4e-3, 1.21), (0.0171, 1.82), (0.0771, 3.07)),
    *((0.505, 4.37), (6.005, 5.91)),
]
"""Time [s] and processor time [s] of the default weld with a pulse of 6 s, 25 to 100 steps apart."""
SHEETS_200 = [(2.6e-2 * k, 0.22 * k) for k in range(1, 65)]
"""The same of two sheets over 200 half cycles, a part of a half cycle each step, 25 steps apart."""


@dataclass
class Instant:
    time_s: float


def watched(setup: Description, marks: Sequence[tuple[float, float]], slower: float) -> Foresight:
    """A march that went through `marks` (time, cost) on a machine so much slower, 25 steps apart."""
    now = [0.0]
    foresight = Foresight(setup, lambda: now[0])
    foresight.add(cast("WeldState", Instant(0.0)))
    times, costs = np.transpose([(0.0, 0.0), *marks])
    for k in range(1, 25 * len(marks) + 1):
        now[0] = slower * float(np.interp(k / 25.0, range(len(costs)), costs))
        foresight.add(cast("WeldState", Instant(float(np.interp(k / 25.0, range(len(times)), times)))))
    return foresight


@pytest.mark.parametrize(
    ("setup", "marks"),
    [
        (default_setup(["pulse.0.duration=6 s"]), STIFF_6_S),
        (preset("sheets", ["pulse.0.half_cycles=200"]), SHEETS_200),
    ],
    ids=["one long pulse", "half cycles"],
)
def test_what_takes_over_a_minute_says_so_early_and_nothing_else_does(
    setup: Description, marks: Sequence[tuple[float, float]], caplog: pytest.LogCaptureFixture
) -> None:
    """Recorded marches of 6 and 14 s of pulse: as they were, and on a machine thirty times slower."""
    with caplog.at_level(logging.WARNING, "nugget.weld"):
        assert not watched(setup, marks, 1.0).said
        assert not caplog.records
        assert watched(setup, marks[:4], 30.0).said
    (record,) = caplog.records
    assert record.getMessage().startswith("this simulation will take about ")


def test_a_step_that_had_to_wait_makes_no_short_simulation_a_long_one() -> None:
    """As on a busy machine; with all of its first steps so slow it is one."""
    now, setup = [0.0], default_setup()
    foresight = Foresight(setup, lambda: now[0])
    foresight.add(cast("WeldState", Instant(0.0)))
    now[0] = 5.0
    for k in range(1, 100):
        foresight.add(cast("WeldState", Instant(1e-5 * k)))
        now[0] += 0.01
    assert not foresight.said
    assert watched(setup, [(1e-5 * k, 25.0 * k) for k in range(1, 4)], 1.0).said


def test_the_pace_of_half_cycles_is_read_off_to_a_tenth() -> None:
    setup = preset("sheets", ["pulse.0.half_cycles=200"])
    whole = watched(setup, SHEETS_200[:8], 1.0).whole_s()
    assert whole == pytest.approx(0.22 / 2.6e-2 * setup.train_s, rel=0.1)


def test_steps_of_an_ordinary_weld_are_known_within_half() -> None:
    setup = coarse(name="default")
    steps = sum(1 for _ in iter_steps(setup)) - 1
    assert expected_steps(setup) == pytest.approx(steps, rel=0.5)


def test_seconds_follow_pulses_half_cycles_and_cells() -> None:
    """Counted where that is short for certain, else by a clock over a factorisation."""
    one = coarse(name="default")
    assert march_seconds(one) < effort.WORTH_A_LOOK_S
    many = coarse("pulse=[" + 60 * "{duration='1 ms', cool_time='5 ms'}," + "]", name="default")
    assert 15.0 < expected_steps(many) / expected_steps(one) < 25.0
    fine, ticks = default_setup(["numerics.refinement=6"]), iter((0.0, 1.0))
    assert march_seconds(fine, lambda: next(ticks)) == pytest.approx(2.01 * expected_steps(fine))
    sheets = preset("sheets"), preset("sheets", ["pulse.0.half_cycles=120"])
    assert 3.0 < expected_steps(sheets[1]) / expected_steps(sheets[0]) < 10.0


def test_python_is_told_through_logging_and_the_terminal_on_one_line(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, capsys: pytest.CaptureFixture[str]
) -> None:
    quick = ["numerics.refinement=0.25", "numerics.tolerance=40 K", "numerics.max_time=1 ms"]
    setup = default_setup(quick)
    run_weld(setup)
    assert not caplog.records
    monkeypatch.setattr(effort, "QUIET_S", 0.0)
    monkeypatch.setattr(effort, "LONG_S", 0.0)
    monkeypatch.setattr(effort, "WORTH_A_LOOK_S", 0.0)
    run_weld(setup)
    assert [record.name for record in caplog.records] == ["nugget.weld"]
    with log_told():
        run_weld(setup)
        run_weld(setup)  # one of many says nothing that another has said
    (said,) = capsys.readouterr().err.splitlines()
    assert said.startswith("nugget: this simulation will take about ")


def test_minutes_as_people_say_them() -> None:
    said = {50.0: "1 min", 61.0: "1 min", 95.0: "1.5 min", 290.0: "5 min", 700.0: "12 min", 9000.0: "2 h"}
    assert {seconds: minutes(seconds) for seconds in said} == said
