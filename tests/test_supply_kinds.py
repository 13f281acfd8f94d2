"""Power sources: what drives the circuit, and at which instants a step must end."""

from __future__ import annotations

import math
import pickle
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.supply.kinds import (
    Battery,
    CapacitorBank,
    ConstantCurrent,
    ConstantVoltage,
    SineCurrent,
    Source,
    Trace,
    Transformer,
)

TRACE = Trace(np.array([0.0, 1e-3, 4e-3]), np.array([0.0, 900.0, 600.0]))
SOURCES: dict[str, Source] = {
    "constant current": ConstantCurrent(1400.0),
    "sine current": SineCurrent(6500.0, 60.0),
    "constant voltage": ConstantVoltage(6.0),
    "battery": Battery(12.0, 4.2e-3),
    "capacitor bank": CapacitorBank(2.0, 12.0, 3e-3),
    "transformer": Transformer(3.0, 50.0, 5e-4, 1e-6, math.radians(60.0)),
    "trace": TRACE,
    "voltage trace": Trace(TRACE.time_s, TRACE.sample, "voltage"),
}
EVERY = pytest.mark.parametrize("source", SOURCES.values(), ids=SOURCES.keys())


@EVERY
def test_every_source_offers_what_the_circuit_asks(source: Source) -> None:
    assert isinstance(source, Source)
    assert isinstance(source.value(1e-3), float)
    assert min(source.resistance_ohm, source.inductance_H, source.elastance_per_F) >= 0.0


@EVERY
def test_every_source_travels_to_a_worker(source: Source) -> None:
    again = pickle.loads(pickle.dumps(source))
    assert (again.drive, again.value(2e-3)) == (source.drive, source.value(2e-3))


def test_who_drives_current_and_who_drives_voltage() -> None:
    driving = {name for name, source in SOURCES.items() if source.drive == "current"}
    assert driving == {"constant current", "sine current", "trace"}


def test_what_stands_in_series() -> None:
    assert SOURCES["battery"].resistance_ohm == 4.2e-3
    assert SOURCES["capacitor bank"].resistance_ohm == 3e-3
    assert SOURCES["transformer"].resistance_ohm == 5e-4
    assert SOURCES["transformer"].inductance_H == 1e-6
    others = {"constant current", "sine current", "constant voltage", "trace", "voltage trace"}
    assert all(SOURCES[name].resistance_ohm == 0.0 for name in others)


def test_only_a_capacitor_bank_droops() -> None:
    drooping = {name: source.elastance_per_F for name, source in SOURCES.items() if source.elastance_per_F}
    assert drooping == {"capacitor bank": 0.5}


def test_only_thyristors_end_at_current_zero() -> None:
    assert {name for name, source in SOURCES.items() if source.turns_off_at_zero} == {"transformer"}


@pytest.mark.parametrize("source", [SineCurrent(100.0, 50.0), Transformer(100.0, 50.0, 0.0, 0.0)])
def test_rms_is_what_the_name_says(source: Source) -> None:
    wave = np.array([source.value(t) for t in np.arange(1000) * 20e-3 / 1000])
    assert math.sqrt((wave**2).mean()) == pytest.approx(100.0)
    assert wave[0] == 0.0
    assert wave.mean() == pytest.approx(0.0, abs=1e-9)


@EVERY
@given(duration_ms=st.floats(0.05, 400.0))
def test_instants_lie_within_the_pulse_in_order(source: Source, duration_ms: float) -> None:
    instants = source.instants(duration_ms * 1e-3)
    assert all(0.0 < t < duration_ms * 1e-3 for t in instants)
    assert all(a < b for a, b in pairwise(instants))


@pytest.mark.parametrize(("angle", "first_ms"), [(0.0, 10.0), (60.0, 10.0 / 3.0), (150.0, 25.0 / 3.0)])
def test_a_transformer_fires_its_angle_after_each_voltage_zero(angle: float, first_ms: float) -> None:
    """At angle zero the first firing is the start of the pulse itself."""
    source = Transformer(3.0, 50.0, 5e-4, 1e-6, math.radians(angle))
    instants = source.instants(40e-3)
    assert instants[0] == pytest.approx(first_ms * 1e-3)
    assert np.diff(instants) == pytest.approx(10e-3)
    assert len(instants) == (3 if angle == 0.0 else 4)
    signs = [math.copysign(1.0, source.value(t + 1e-4)) for t in instants]
    assert all(a == -b for a, b in pairwise(signs))


def test_a_sine_is_landed_on_sixteen_times_a_period() -> None:
    assert SineCurrent(6500.0, 50.0).instants(20e-3) == pytest.approx(np.arange(1, 16) * 1.25e-3)


def test_a_trace_is_linear_between_samples_and_zero_past_its_end() -> None:
    assert [TRACE.value(t) for t in (0.0, 0.5e-3, 2.5e-3, 4e-3, 4.1e-3)] == [0.0, 450.0, 750.0, 600.0, 0.0]


def test_a_trace_is_landed_on_where_it_bends() -> None:
    """At its kinks, and where it ends within a longer pulse."""
    assert {1e-3, 4e-3} <= set(TRACE.instants(6e-3))
    late = Trace(np.array([0.0, 4e-3, 4.01e-3, 4.1e-3]), np.array([0.0, 0.0, 900.0, 0.0]))
    assert {4e-3, 4.01e-3, 4.1e-3} <= set(late.instants(10e-3))


def test_a_finely_sampled_pulse_is_landed_on_too() -> None:
    """2 million samples per second: no single one of them is a kink."""
    time_s = np.arange(20000) * 0.5e-6
    trace = Trace(time_s, 1500.0 * np.exp(-(((time_s - 5e-3) / 0.2e-3) ** 2)))
    assert any(abs(t - 5e-3) < 0.2e-3 for t in trace.instants(10e-3))
