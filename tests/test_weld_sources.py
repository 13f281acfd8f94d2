"""Sources in a march: banks droop, thyristors go out at zero, slopes and traces are followed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small import BANK, TRANSFORMER, Marched, at, coarse, marched

from nugget.supply.kinds import Trace
from nugget.weld.march import March
from nugget.weld.state import WeldState


def test_nothing_flows_between_pulses(bank: Marched) -> None:
    _, states = bank
    for state in states:
        if 0.3e-3 + 1e-9 < state.time_s < 0.5e-3 + 1e-9 or state.time_s > 0.7e-3 + 1e-9:
            assert (state.circuit.current_A, state.load_ohm, state.electric) == (0.0, 0.0, None)
    assert at(states, 0.3e-3).circuit.current_A > 100.0
    assert at(states, 0.7e-3).circuit.current_A > 100.0


def test_a_bank_droops_by_the_charge_it_gave(bank: Marched) -> None:
    _, states = bank
    on = [state for state in states if state.electric is not None]
    for state in on:
        assert state.circuit.charge_C == pytest.approx(state.energy.charge_C)
        assert state.emf_V == pytest.approx(8.0 - state.circuit.charge_C / 0.5)
    assert on[-1].emf_V < 7.5


def test_every_turn_off_sends_the_inductive_energy_to_the_clamp(bank: Marched) -> None:
    _, states = bank
    ended = [at(states, time_s).circuit.current_A for time_s in (0.3e-3, 0.7e-3)]
    assert states[-1].energy.clamp_J == pytest.approx(sum(0.5 * 0.2e-6 * current**2 for current in ended))
    assert at(states, 0.45e-3).energy.clamp_J == pytest.approx(0.5 * 0.2e-6 * ended[0] ** 2)


def test_inductance_holds_the_current_back(bank: Marched) -> None:
    """From 0 A; without it the current jumps to V / R."""
    _, states = bank
    series = bank[0].setup.circuit.series_ohm
    assert states[1].circuit.current_A < 0.2 * 8.0 / series
    _, bare = marched(coarse(*BANK, "leads.inductance=0 uH", "pulse.0.duration=0.01 ms", until_ms=0.1))
    assert bare[1].circuit.current_A == pytest.approx(8.0 / (series + bare[1].load_ohm), rel=0.01)


def test_a_current_source_follows_its_slopes(slopes: Marched) -> None:
    _, states = slopes
    for time_ms, current in [
        (0.05, 1200.0),
        (0.12, 1200.0),
        (0.2, 0.0),
        (0.3, 0.0),
        (0.32, 1200.0),
        (0.4, 0.0),
    ]:
        assert at(states, time_ms * 1e-3).circuit.current_A == pytest.approx(current, abs=1e-6)
    rising = [state for state in states if state.time_s < 0.05e-3]
    for state in rising:
        assert state.circuit.current_A == pytest.approx(1200.0 * state.time_s / 0.05e-3)


def test_a_thyristor_goes_out_at_current_zero(transformer: Marched) -> None:
    """The current lags: after the pulse of one period it still flows, and ends by itself."""
    _, states = transformer
    current = np.array([state.circuit.current_A for state in states])
    times = np.array([state.time_s for state in states])
    assert current.max() > 100.0
    assert current.min() < -100.0
    ended = at(states, 1e-3)
    assert ended.circuit.current_A < -10.0
    out = times[np.flatnonzero((times > 1e-3) & (current == 0.0))[0]]
    assert 1e-3 < out < 1.2e-3
    assert (current[times >= out] == 0.0).all()
    assert states[-1].circuit.direction == 0


def test_a_thyristor_leaves_next_to_nothing_to_the_clamp(transformer: Marched) -> None:
    march, states = transformer
    peak = max(abs(state.circuit.current_A) for state in states)
    assert states[-1].energy.clamp_J < 1e-5 * 0.5 * march.setup.circuit.series_H * peak**2


@pytest.fixture(scope="module")
def late() -> Marched:
    return marched(coarse(*TRANSFORMER, "source.firing_angle=120 deg", "pulse.0.duration=1 ms", until_ms=1.2))


def test_a_late_firing_leaves_pauses_between_half_cycles(late: Marched) -> None:
    """120 degrees after the voltage zero: the second half cycle starts at 0.833 ms."""
    _, states = late
    for state in states:
        if 0.75e-3 < state.time_s < 0.833e-3:
            assert state.circuit.current_A == 0.0
    assert at(states, 0.95e-3).circuit.current_A < -10.0


def test_the_first_half_cycle_waits_for_its_firing_angle(late: Marched) -> None:
    _, states = late
    assert all(state.circuit.current_A == 0.0 for state in states if state.time_s < 0.333e-3)


def test_a_late_pulse_in_a_trace_is_not_stepped_over() -> None:
    setup = coarse("pulse.0.duration=5 ms", until_ms=5)
    trace = Trace(np.array([0.0, 4.0e-3, 4.01e-3, 4.1e-3]), np.array([0.0, 0.0, 900.0, 0.0]))
    _, states = marched(replace(setup.si, circuit=replace(setup.circuit, source=trace)))
    assert states[-1].energy.charge_C == pytest.approx(0.5 * 0.1e-3 * 900.0, rel=0.05)


def test_what_a_current_source_gave_is_found_again() -> None:
    march, states = marched(
        coarse(
            "source.kind=constant current",
            "source.current=1200 A",
            "pulse.0.duration=0.1 ms",
            until_ms=0.15,
        )
    )
    energy = states[-1].energy
    spent = energy.action_A2s * march.setup.circuit.series_ohm + energy.returned_J + energy.clamp_J
    assert spent == pytest.approx(energy.drawn_J, rel=1e-3)


def residual(march: March, states: list[WeldState]) -> float:
    """Energy drawn less what circuit and load took, over the energy drawn."""
    energy = states[-1].energy
    spent = energy.action_A2s * march.setup.circuit.series_ohm + energy.returned_J + energy.clamp_J
    return abs(energy.drawn_J - spent) / abs(energy.drawn_J)


def test_a_transformer_fired_at_zero_volts_on_an_upslope_starts() -> None:
    """Its current starts as the cube of time: there is nothing yet to take a share of."""
    march, states = marched(
        coarse(
            *TRANSFORMER,
            "source.firing_angle=0 deg",
            "pulse=[{half_cycles=2, upslope='0.5 ms'}]",
            until_ms=1.2,
        )
    )
    assert states[-1].peak_A > 500.0
    assert residual(march, states) < 1e-4


def test_a_downslope_without_inductance_ends_with_its_pulse() -> None:
    """The current is at zero when the pulse ends: no thyristor is left conducting."""
    _, states = marched(
        coarse(
            *TRANSFORMER,
            "source.leakage_inductance=0 uH",
            "source.firing_angle=79 deg",
            "pulse=[{half_cycles=2, downslope='0.5 ms'}]",
            until_ms=1.5,
        )
    )
    assert states[-1].time_s == pytest.approx(1.5e-3)
    assert all(state.circuit.direction == 0 for state in states if state.time_s > 1.0001e-3)


@pytest.mark.parametrize(
    "changes",
    [
        [
            "source.voltage=9 V",
            "leads.inductance=5 uH",
            "pulse.0.duration=0.1 ms",
            "source.kind=constant voltage",
        ],
        [*BANK, "source.capacitance=0.01 F", "source.start_voltage=30 V", "pulse.0.duration=2 ms"],
        [*BANK, "leads.inductance=8 uH", "pulse=[{duration='0.3 ms', cool_time='1 ms'}, {duration='1 ms'}]"],
        [
            *TRANSFORMER,
            "source.leakage_inductance=5 uH",
            "pulse=[{half_cycles=3}]",
            "source.firing_angle=90 deg",
        ],
    ],
)
def test_short_pulses_and_large_inductances_lose_no_energy(changes: list[str]) -> None:
    """Even with steps that temperatures would let be long."""
    march, states = marched(coarse(*changes, until_ms=5))
    assert residual(march, states) < 1e-4
