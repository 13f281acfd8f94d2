"""Edges found from branches of one long march, against single runs at those durations."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.errors import SolverError
from nugget.merit.figure import FIGURES
from nugget.outcome.weld import run_weld
from nugget.setup import default_setup
from nugget.study.charting.duration_chart import growth_from
from nugget.study.durations.branches import LongPulse, count_s, with_duration
from nugget.study.durations.criteria import Criterion, criteria_of
from nugget.study.durations.edges import Growth, _Bracket, _close, _count, grow
from nugget.study.durations.window import window_of
from nugget.weld.stage import StageProblem, StageResult, StageSolver

CLOSE = (2e-3, 0.015)
COARSE = (
    "numerics.refinement=0.3",
    "strip.thickness=0.1 mm",
    "pulse.0.duration=2 ms",
    "leads.inductance=0 uH",
)
STRONG = (*COARSE, "source.open_circuit_voltage=16 V")
SLOPES = (
    *COARSE,
    "source.kind=constant current",
    "source.current=1900 A",
    "pulse.0.upslope=0.3 ms",
    "pulse.0.downslope=0.4 ms",
)
EDGES = (
    *STRONG,
    "leads.inductance=0.6 uH",
    # The ring of melt of the first tenths of a millisecond is a few coarse cells wide.
    "numerics.refinement=0.6",
    "limits.can_penetration.value=0.1",
    "limits.can_penetration.source=test",
    "limits.interior_temperature.value=35 degC",
    "limits.interior_temperature.source=test",
    "limits.strip_melted_through.value=0.1",
    "limits.strip_melted_through.source=test",
)
HERTZ = "source.frequency=50 Hz"
CYCLES = (
    *COARSE[:2],
    "source.kind=transformer",
    "source.open_circuit_voltage_rms=15 V",
    "source.winding_resistance=2 mohm",
    "source.leakage_inductance=2 uH",
    "source.frequency=500 Hz",
    "source.firing_angle=30 deg",
    "pulse.0.duration=2 ms",
    "joint.minimum_diameter=0.3 mm",
)
TRAIN = (*STRONG, "pulse.0.cool_time=1 ms", "pulse.1.duration=2 ms")
BURNT = (*TRAIN, "source.open_circuit_voltage=30 V", "pulse.0.duration=8 ms")
LONGEST_S = 3e-3


@cache
def long_pulse(overrides: tuple[str, ...]) -> LongPulse:
    return LongPulse(default_setup(overrides), LONGEST_S)


@cache
def found(overrides: tuple[str, ...]) -> Growth:
    return grow((default_setup(overrides), LONGEST_S))


@pytest.mark.parametrize("overrides", [SLOPES, CYCLES, (*TRAIN, "numerics.refinement=0.6")])
def test_a_branch_is_the_same_weld_as_a_single_run(overrides: tuple[str, ...]) -> None:
    setup = default_setup(overrides)
    duration_s = 2e-3
    branch = long_pulse(overrides).run(duration_s, deep=True).figures
    single = run_weld(with_duration(setup, duration_s)).figures
    # The steps of the two marches differ; on this coarse grid melting sets in within one of them.
    near = 0.03 * setup.joint.minimum_diameter_m
    for name in ("nugget_diameter_m", "bonded_diameter_m"):
        assert branch[name] == pytest.approx(single[name], abs=near)
    for name in ("source_energy_J", "weld_energy_J", "peak_current_A", "charge_C"):
        assert branch[name] == pytest.approx(single[name], rel=5e-3)
    rise = single["interior_peak_K"] - setup.ambient_K
    assert branch["interior_peak_K"] - setup.ambient_K == pytest.approx(rise, rel=0.01)
    assert branch["interior_peak_time_s"] == pytest.approx(single["interior_peak_time_s"], rel=0.05)
    assert branch["energy_residual"] < 1e-6
    assert branch["circuit_residual"] < max(1e-4, 1.5 * single["circuit_residual"])


def test_a_branch_costs_a_fraction_of_a_run() -> None:
    long = long_pulse(SLOPES)
    before = long.model.stage_count
    long.run(1.234e-3, deep=False)
    assert 0 < long.model.stage_count - before < 0.4 * long.single_solves
    again = long.model.stage_count
    long.run(1.234e-3, deep=False)
    assert long.model.stage_count == again, "and nothing the second time"


PLATED = (*COARSE, "strip.material=nickel-plated-steel")


@pytest.mark.parametrize(
    ("overrides", "durations_ms", "share"),
    # Plated strip on steel joins from 1440 degrees Celsius on: its pool grows for longer, so that
    # leaving it early saves little; a bare one is left in half the solves.
    [(STRONG, (0.2, 0.8, 2.0), 0.5), (PLATED, (0.6, 1.2, 2.5), 1.0)],
)
def test_the_joint_is_left_when_it_grows_no_more(
    overrides: tuple[str, ...], durations_ms: tuple[float, ...], share: float
) -> None:
    long = long_pulse(overrides)
    for ms in durations_ms:
        before = long.model.stage_count
        left = long.run(1e-3 * ms, deep=False)
        short, before = long.model.stage_count - before, long.model.stage_count
        whole = long.run(1e-3 * ms, deep=True)
        for name in ("nugget_diameter_m", "bonded_diameter_m", "can_penetration", "strip_penetration"):
            assert left.figures[name] == pytest.approx(whole.figures[name], rel=1e-3, abs=1e-9)
        assert short < share * (long.model.stage_count - before)


def test_a_whole_column_costs_little_more_than_its_longest_pulse() -> None:
    # Each limit that is met after the pulse costs branches of its own that are followed until the winding
    # has passed its peak; one of them stands for all.
    one = found((*STRONG, "limits.disc_melted=none"))
    assert one.longest_solves <= one.solves <= 4 * one.longest_solves


def test_every_edge_is_met_by_a_single_run_of_its_own() -> None:
    setup = default_setup(EDGES)
    column, met = found(EDGES), set()
    for one in criteria_of(setup):
        edge_s = column.edge(one.key).duration_s
        if not edge_s:
            continue
        met.add(one.key)
        at = single_excess(one, edge_s)
        # Asked: 0.5 % of the quantity, or 2 % in duration.
        if abs(at) > 5e-3:
            below, above = (single_excess(one, share * edge_s) for share in (0.98, 1.02))
            assert below < 0.0, (one.key, edge_s, below, at, above)
            assert above >= 0.0, (one.key, edge_s, below, at, above)
    assert met >= {
        "bonded",
        "minimum_diameter",
        "can_penetration",
        "interior_temperature",
        "strip_melted_through",
    }


def single_excess(one: Criterion, duration_s: float) -> float:
    """Excess of a pulse that is marched for itself, nothing branched off."""
    alone = LongPulse(one.setup, duration_s)
    run = alone.runs[duration_s]
    return one.excess(run.figures, run.history)


def test_the_interior_limit_is_met_by_the_branch_whose_peak_comes_later() -> None:
    setup = default_setup(EDGES)
    edge = found(EDGES).edge("interior_temperature")
    assert edge.duration_s is not None
    assert 0.0 < edge.duration_s < LONGEST_S
    # From one duration to the next 2 % away single marches scatter by 1 % themselves: the mean of five.
    singles = [
        run_weld(with_duration(setup, edge.duration_s * (1.0 + 0.02 * k))).figures for k in range(-2, 3)
    ]
    assert singles[2]["interior_peak_time_s"] > 2.0 * edge.duration_s
    rise = np.mean([one["interior_peak_K"] for one in singles]) - setup.ambient_K
    low = FIGURES["interior_peak_K"].grid_low / setup.file.numerics.refinement
    counted = rise * (1.0 + low)
    assert counted == pytest.approx(edge.threshold - setup.ambient_K, rel=0.01)


def test_whole_half_cycles_stay_whole() -> None:
    step_s = count_s(default_setup(CYCLES))
    assert step_s == pytest.approx(1e-3)
    for edge in found(CYCLES).edges:
        if edge.duration_s:
            assert edge.duration_s / step_s == pytest.approx(round(edge.duration_s / step_s))
    target = found(CYCLES).edge("minimum_diameter")
    assert target.duration_s is not None
    assert target.low_s == pytest.approx(target.duration_s - step_s)
    reached = long_pulse(CYCLES).run(target.duration_s, False).figures
    assert reached["nugget_diameter_m"] >= target.threshold
    if target.duration_s > 1.5 * step_s:
        before = long_pulse(CYCLES).run(target.duration_s - step_s, False).figures
        assert before["nugget_diameter_m"] < target.threshold


def test_what_is_tried_after_cut_off_is_whole_half_cycles_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """A joint that the longest pulse nearly makes is tried at the instant at which it was largest."""
    setup = default_setup([*CYCLES, "pulse=[{half_cycles=2}]", "joint.minimum_diameter=1.4 mm"])
    monkeypatch.setattr("nugget.study.durations.edges.TEMPTING", -10.0)
    growth = grow((setup, 2e-3))
    assert growth.edge("minimum_diameter").duration_s is None
    assert not growth.edge("minimum_diameter").unknown


def test_a_mains_weld_that_burns_through_is_searched_up_to_whole_half_cycles() -> None:
    """It ended with an error that named the instant at which the wall burnt through."""
    strong = ("source.open_circuit_voltage_rms=24 V", "numerics.tolerance=4.5 K", "pulse=[{half_cycles=1}]")
    setup = default_setup([*(one for one in CYCLES if "duration" not in one), *strong])
    growth = grow((setup, 20e-3))
    assert growth.ended == "burn-through"
    assert growth.searched_s == pytest.approx(1e-3 * round(1e3 * growth.searched_s), abs=1e-9)
    assert growth.searched_s < 20e-3
    assert growth.edge("can_penetration").duration_s is not None


def test_a_duration_counted_otherwise_is_not_quantised() -> None:
    assert count_s(default_setup()) is None
    assert count_s(default_setup(["source.kind=sine current", "source.current_rms=1 kA", HERTZ])) is None
    cycles = ["source.kind=sine current", "source.current_rms=1 kA", HERTZ, "pulse.0.half_cycles=4"]
    assert count_s(default_setup(cycles)) == pytest.approx(0.01)


def test_a_source_that_breaks_its_limit_at_once_has_its_edge_at_nothing() -> None:
    limit = ["limits.source_current.value=100 A", "limits.source_current.source=test"]
    setup = default_setup([*COARSE, "source.kind=constant current", "source.current=1500 A", *limit])
    edge = grow((setup, 0.5e-3)).edge("source_current")
    assert edge.duration_s == 0.0
    assert edge.value is None


def test_a_growth_survives_its_journey_through_json() -> None:
    assert growth_from(json.loads(json.dumps(asdict(found(STRONG))))) == found(STRONG)


def test_the_growth_curve_is_that_of_the_long_pulse_and_brackets_the_target() -> None:
    one = found(STRONG)
    t, fused = np.array(one.time_s), np.array(one.fused_m)
    assert fused[0] == 0.0
    assert (np.diff(t) > 0.0).all()
    assert (np.diff(fused) >= 0.0).all(), "what has fused stays fused"
    assert t[-1] == pytest.approx(one.searched_s)
    target = one.edge("minimum_diameter")
    assert target.duration_s is not None
    before = t <= 0.97 * target.duration_s
    assert fused[before].max() < target.threshold
    assert fused[: before.sum() + 2].max() >= 0.98 * target.threshold


def test_a_march_that_stops_leaves_what_it_knows(monkeypatch: pytest.MonkeyPatch) -> None:
    solve = StageSolver.solve

    def fails(self: StageSolver, problem: StageProblem) -> StageResult:
        if problem.time_s > 1.5e-3:
            raise SolverError(problem.time_s, "made to fail")
        return solve(self, problem)

    monkeypatch.setattr(StageSolver, "solve", fails)
    one = grow((default_setup(STRONG), LONGEST_S))
    assert one.failed
    assert one.ended.endswith("made to fail")
    assert one.searched_s == pytest.approx(1.5e-3, rel=0.05)
    target = one.edge("minimum_diameter").duration_s
    assert target is not None
    assert target == pytest.approx(found(STRONG).edge("minimum_diameter").duration_s, rel=0.05)
    assert one.edge("interior_temperature").unknown, "its peak lies beyond"


# The search itself, on made-up criteria.


@given(edge=st.floats(0.05, 0.999), power=st.floats(0.3, 3.0), guess=st.floats(0.5, 1.5), head=st.booleans())
def test_the_search_closes_in_on_any_rising_criterion(
    edge: float, power: float, guess: float, head: bool
) -> None:
    asked: list[float] = []

    def ask(t: float) -> float:
        asked.append(t)
        smooth = (t / edge) ** power - 1.0
        return smooth if head else math.copysign(1.0, smooth)

    bracket = _Bracket(0.8 * edge, None, min(1.2 * edge, 1.0), None)
    first = min(max(guess * edge, 0.8 * edge), min(1.2 * edge, 1.0))
    low, high = _close(ask, bracket, first, 1e-3, CLOSE)
    assert low <= high
    assert math.sqrt(low * high) == pytest.approx(edge, rel=0.01) or abs((low / edge) ** power - 1.0) <= 2e-3
    assert len(asked) <= 12


def test_the_search_goes_below_a_bracket_that_was_too_hopeful() -> None:
    low, high = _close(lambda t: t / 0.5 - 1.0, _Bracket(0.8, None, 0.9, None), 0.85, 1e-3, CLOSE)
    assert math.sqrt(low * high) == pytest.approx(0.5, rel=0.01)
    assert _close(lambda t: 1.0, _Bracket(0.8, None, 0.9, None), 0.85, 0.1, CLOSE)[0] == 0.0


@given(first=st.integers(1, 30), top=st.integers(1, 30), guess=st.floats(0.1, 30.0))
def test_whole_steps_are_counted_down_to_neighbours(first: int, top: int, guess: float) -> None:
    high = max(first, top)
    bracket = _Bracket(0.0, None, 0.01 * high, None)
    low_s, high_s = _count(lambda t: 1.0 if round(t / 0.01) >= first else -1.0, bracket, 0.01 * guess, 0.01)
    assert (round(low_s / 0.01), round(high_s / 0.01)) == (first - 1, first)


def test_a_first_pulse_that_burns_through_leaves_the_last_one_nothing() -> None:
    growth = found(BURNT)
    assert growth.ended == "burn-through"
    assert growth.searched_s == 0.0
    assert growth.edge("can_penetration").duration_s == 0.0
    window = window_of(growth)
    assert not window.open
    assert window.closed
    assert window.until_s == 0.0
