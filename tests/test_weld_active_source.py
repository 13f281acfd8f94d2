"""The circuit at one instant: L dI/dt = V - I R."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.setup.description import Circuit, Pulse
from nugget.supply.kinds import Battery, CapacitorBank, ConstantCurrent, SineCurrent, Transformer
from nugget.supply.switches import Switch
from nugget.weld.active_source import ActiveSource, CircuitState

SWITCH = Switch("transistors", 6e-3, 6)
BANK = Circuit(CapacitorBank(0.5, 12.0, 2e-3), 1e-3, 1e-6, SWITCH)
BATTERY = Circuit(Battery(12.0, 4e-3), 2e-3, 0.0, SWITCH)
PULSE = Pulse(10e-3)
currents = st.floats(-2000.0, 2000.0)
loads = st.floats(1e-4, 1e-2)


def drive(circuit: Circuit, pulse: Pulse = PULSE, start_s: float = 0.0) -> ActiveSource:
    return ActiveSource(circuit, pulse, start_s)


def test_resistances_in_series() -> None:
    assert BANK.series_ohm == pytest.approx(2e-3 + 1e-3 + 1e-3)
    assert Circuit(Transformer(3.0, 50.0, 1e-3, 2e-6), 1e-3, 1e-6).series_H == pytest.approx(3e-6)


@given(tau=st.floats(1e-8, 1e-3), current=currents, charge=st.floats(0.0, 5.0), load=loads)
def test_a_stage_balances_every_voltage(tau: float, current: float, charge: float, load: float) -> None:
    """At the end of an implicit stage: V - Q / C = I (R + load) + L (I - I_start) / tau."""
    on = drive(BANK)
    end = on.current(1e-3, tau, CircuitState(current, charge), load)
    left = on.voltage(1e-3, end, charge + tau * end, load)
    assert left == pytest.approx(end * (BANK.series_ohm + load) + 1e-6 * (end - current) / tau, abs=1e-6)


@given(load=loads)
def test_without_inductance_the_current_follows_at_once(load: float) -> None:
    on = drive(BATTERY)
    assert on.current(1e-3, 1e-5, CircuitState(), load) == pytest.approx(12.0 / (7e-3 + load))
    assert on.start_current(CircuitState(), load) == pytest.approx(12.0 / (7e-3 + load))
    assert on.rate(1e-3, CircuitState(100.0), load) == 0.0


def test_inductance_holds_the_current_at_the_start() -> None:
    on = drive(BANK)
    assert on.start_current(CircuitState(), 1e-3) == 0.0
    assert on.rate(0.0, CircuitState(), 1e-3) == pytest.approx(12.0 / 1e-6)
    assert on.rate(0.0, CircuitState(1000.0), 1e-3) == pytest.approx((12.0 - 1000.0 * 5e-3) / 1e-6)


@given(charge=st.floats(0.0, 6.0))
def test_a_bank_droops_with_the_charge_drawn(charge: float) -> None:
    assert drive(BANK).voltage(1e-3, 500.0, charge, 1e-3) == pytest.approx(12.0 - charge / 0.5)
    bare = replace(BANK, lead_H=0.0)
    started = drive(bare).start_current(CircuitState(charge_C=charge), 1e-3)
    assert started == pytest.approx((12.0 - charge / 0.5) / 5e-3, abs=1e-6)


@given(load=loads, current=currents)
def test_a_regulated_current_asks_for_its_voltage(load: float, current: float) -> None:
    on = drive(Circuit(ConstantCurrent(1400.0), 2e-3, 0.0))
    assert on.current(1e-3, 1e-5, CircuitState(current), load) == 1400.0
    assert on.start_current(CircuitState(), load) == 1400.0
    assert on.voltage(1e-3, 1400.0, 0.0, load) == pytest.approx(1400.0 * (2e-3 + load))


@pytest.mark.parametrize(
    ("local_ms", "share"),
    [(0.0, 0.0), (1.0, 0.25), (2.0, 0.5), (5.0, 0.5), (8.5, 0.25), (10.0, 0.0), (12.0, 0.0)],
)
def test_slopes_and_level_shape_the_source(local_ms: float, share: float) -> None:
    pulse = Pulse(10e-3, output_fraction=0.5, upslope_s=2e-3, downslope_s=3e-3)
    on = drive(Circuit(ConstantCurrent(1000.0), 1e-3, 0.0), pulse, start_s=0.1)
    assert on.emf(0.1 + local_ms * 1e-3) == pytest.approx(1000.0 * share, abs=1e-6)


def test_time_runs_from_the_start_of_the_pulse() -> None:
    later = drive(Circuit(SineCurrent(1000.0, 50.0), 0.0, 0.0), Pulse(20e-3), start_s=0.123)
    assert later.emf(0.123) == 0.0
    assert later.emf(0.128) == pytest.approx(1000.0 * math.sqrt(2.0))


def transformer(angle: float) -> ActiveSource:
    source = Transformer(3.0, 50.0, 1e-4, 1e-6, math.radians(angle))
    return drive(Circuit(source, 1e-4, 0.0), Pulse(40e-3), start_s=0.1)


def test_a_thyristor_conducts_the_way_the_voltage_points() -> None:
    directions = [transformer(60.0).fired_direction(0.1 + t * 1e-3) for t in (0.0, 3.4, 13.4, 23.4)]
    assert directions == [1, 1, -1, 1]


@pytest.mark.parametrize(
    ("ms", "fired"), [(4.0, True), (9.9, True), (10.1, False), (13.2, False), (13.4, True)]
)
def test_a_thyristor_waits_for_its_firing_angle(ms: float, fired: bool) -> None:
    assert transformer(60.0).is_fired(0.1 + ms * 1e-3) is fired
