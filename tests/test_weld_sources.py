"""Sources in a march: banks droop, thyristors go out at zero, slopes and traces are followed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small import BANK, TRANSFORMER, Marched, at, coarse, marched

from nugget.supply.kinds import Trace


def test_nothing_flows_between_pulses(bank: Marched) -> None:
    _, moments = bank
    for moment in moments:
        if 0.3e-3 + 1e-9 < moment.time_s < 0.5e-3 + 1e-9 or moment.time_s > 0.7e-3 + 1e-9:
            assert (moment.electrics.current_A, moment.load_ohm, moment.flow) == (0.0, 0.0, None)
    assert at(moments, 0.3e-3).electrics.current_A > 100.0
    assert at(moments, 0.7e-3).electrics.current_A > 100.0


def test_a_bank_droops_by_the_charge_it_gave(bank: Marched) -> None:
    _, moments = bank
    on = [moment for moment in moments if moment.flow is not None]
    for moment in on:
        assert moment.electrics.charge_C == pytest.approx(moment.ledger["charge"])
        assert moment.emf_V == pytest.approx(8.0 - moment.electrics.charge_C / 0.5)
    assert on[-1].emf_V < 7.5


def test_every_turn_off_sends_the_inductive_energy_to_the_clamp(bank: Marched) -> None:
    _, moments = bank
    ended = [at(moments, time_s).electrics.current_A for time_s in (0.3e-3, 0.7e-3)]
    assert moments[-1].ledger.clamp_J == pytest.approx(sum(0.5 * 0.2e-6 * current**2 for current in ended))
    assert at(moments, 0.45e-3).ledger.clamp_J == pytest.approx(0.5 * 0.2e-6 * ended[0] ** 2)


def test_inductance_holds_the_current_back(bank: Marched) -> None:
    """From 0 A; without it the current jumps to V / R."""
    _, moments = bank
    series = bank[0].setup.circuit.series_ohm
    assert moments[1].electrics.current_A < 0.2 * 8.0 / series
    _, bare = marched(coarse(*BANK, "leads.inductance=0 uH", "pulse.0.duration=0.01 ms", until_ms=0.01))
    assert bare[1].electrics.current_A == pytest.approx(8.0 / (series + bare[1].load_ohm), rel=0.01)


def test_a_current_source_follows_its_slopes(slopes: Marched) -> None:
    _, moments = slopes
    for time_ms, current in [
        (0.05, 1200.0),
        (0.12, 1200.0),
        (0.2, 0.0),
        (0.3, 0.0),
        (0.32, 1200.0),
        (0.4, 0.0),
    ]:
        assert at(moments, time_ms * 1e-3).electrics.current_A == pytest.approx(current, abs=1e-6)
    rising = [moment for moment in moments if moment.time_s < 0.05e-3]
    for moment in rising:
        assert moment.electrics.current_A == pytest.approx(1200.0 * moment.time_s / 0.05e-3)


def test_a_thyristor_goes_out_at_current_zero(transformer: Marched) -> None:
    """The current lags: after the pulse of one period it still flows, and ends by itself."""
    _, moments = transformer
    current = np.array([moment.electrics.current_A for moment in moments])
    times = np.array([moment.time_s for moment in moments])
    assert current.max() > 100.0
    assert current.min() < -100.0
    ended = at(moments, 1e-3)
    assert ended.electrics.current_A < -10.0
    out = times[np.flatnonzero((times > 1e-3) & (current == 0.0))[0]]
    assert 1e-3 < out < 1.2e-3
    assert (current[times >= out] == 0.0).all()
    assert moments[-1].electrics.direction == 0


def test_a_thyristor_leaves_next_to_nothing_to_the_clamp(transformer: Marched) -> None:
    march, moments = transformer
    peak = max(abs(moment.electrics.current_A) for moment in moments)
    assert moments[-1].ledger.clamp_J < 1e-5 * 0.5 * march.setup.circuit.series_H * peak**2


@pytest.fixture(scope="module")
def late() -> Marched:
    return marched(coarse(*TRANSFORMER, "source.firing_angle=120 deg", "pulse.0.duration=1 ms", until_ms=1.2))


def test_a_late_firing_leaves_pauses_between_half_cycles(late: Marched) -> None:
    """120 degrees after the voltage zero: the second half cycle starts at 0.833 ms."""
    _, moments = late
    for moment in moments:
        if 0.75e-3 < moment.time_s < 0.833e-3:
            assert moment.electrics.current_A == 0.0
    assert at(moments, 0.95e-3).electrics.current_A < -10.0


def test_the_first_half_cycle_waits_for_its_firing_angle(late: Marched) -> None:
    _, moments = late
    assert all(moment.electrics.current_A == 0.0 for moment in moments if moment.time_s < 0.333e-3)


def test_a_late_pulse_in_a_trace_is_not_stepped_over() -> None:
    setup = coarse("pulse.0.duration=5 ms", until_ms=5)
    trace = Trace(np.array([0.0, 4.0e-3, 4.01e-3, 4.1e-3]), np.array([0.0, 0.0, 900.0, 0.0]))
    _, moments = marched(replace(setup, circuit=replace(setup.circuit, source=trace)))
    assert moments[-1].ledger["charge"] == pytest.approx(0.5 * 0.1e-3 * 900.0, rel=0.05)


def test_what_a_current_source_gave_is_found_again() -> None:
    march, moments = marched(
        coarse(
            "source.kind=constant current",
            "source.current=1200 A",
            "pulse.0.duration=0.1 ms",
            until_ms=0.15,
        )
    )
    ledger = moments[-1].ledger
    spent = ledger["action"] * march.setup.circuit.series_ohm + ledger["returned"] + ledger.clamp_J
    assert spent == pytest.approx(ledger["drawn"], rel=1e-3)
