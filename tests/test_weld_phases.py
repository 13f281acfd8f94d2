"""The pulse train as spans between the instants at which something switches."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import coarse

from nugget.setup.description import Circuit, Description, Pulse
from nugget.supply.kinds import Battery, Source, Transformer
from nugget.weld.phases import Phase, phases

BASE = coarse()
lengths = st.floats(1e-4, 2e-2)


@st.composite
def pulses(draw: st.DrawFn) -> Pulse:
    duration = draw(lengths)
    up, down = (draw(st.floats(0.0, 0.5)) * duration for _ in range(2))
    return Pulse(duration, 1.0, up, down, draw(st.one_of(st.just(0.0), lengths)))


def setup(train: list[Pulse], hold_s: float, source: Source | None = None) -> Description:
    source = Battery(12.0, 4e-3) if source is None else source
    return replace(BASE.si, train=tuple(train), hold_s=hold_s, circuit=Circuit(source, 1e-3, 0.0))


@given(train=st.lists(pulses(), min_size=1, max_size=4), hold=st.one_of(st.just(0.0), lengths))
def test_spans_follow_each_other_without_holes(train: list[Pulse], hold: float) -> None:
    found = phases(setup(train, hold))
    assert found[0].start_s == 0.0
    assert all(a.end_s == pytest.approx(b.start_s, abs=1e-12) for a, b in pairwise(found))
    assert all(phase.start_s < phase.end_s for phase in found)


def test_a_slope_too_short_to_be_marched_makes_no_phase_of_its_own() -> None:
    found = phases(setup([Pulse(5e-3, 1.0, 0.0, 3.5e-18, 0.0)], 0.0))
    assert [phase.end_s for phase in found] == [5e-3, math.inf]


@given(train=st.lists(pulses(), min_size=1, max_size=4), hold=st.one_of(st.just(0.0), lengths))
def test_every_pulse_is_on_for_its_duration_and_no_longer(train: list[Pulse], hold: float) -> None:
    found = phases(setup(train, hold))
    start = 0.0
    for pulse in train:
        on = [s for s in found if s.pulse == pulse and s.pulse_start_s == pytest.approx(start)]
        assert on[0].start_s == pytest.approx(start)
        assert on[-1].end_s == pytest.approx(start + pulse.duration_s)
        start += pulse.duration_s + pulse.cool_time_s


@given(train=st.lists(pulses(), min_size=1, max_size=3), hold=lengths)
def test_the_tip_lifts_after_the_hold_time_and_cooling_never_ends(train: list[Pulse], hold: float) -> None:
    *before, last = phases(setup(train, hold))
    assert all(phase.tip_closed for phase in before)
    assert not last.tip_closed
    assert last.pulse is None
    assert last.end_s == math.inf
    ended = sum(p.duration_s + p.cool_time_s for p in train) - train[-1].cool_time_s
    assert last.start_s == pytest.approx(ended + hold)


def test_slopes_end_where_a_span_ends() -> None:
    found = phases(
        setup([Pulse(10e-3, upslope_s=2e-3, downslope_s=3e-3, cool_time_s=1e-3), Pulse(4e-3)], 5e-3)
    )
    ends = [phase.end_s for phase in found]
    assert ends == pytest.approx([2e-3, 7e-3, 10e-3, 11e-3, 15e-3, 20e-3, math.inf])


def test_a_gap_keeps_the_tip_down_and_the_source_off() -> None:
    gap = phases(setup([Pulse(1e-3, cool_time_s=2e-3), Pulse(1e-3)], 0.0))[1]
    assert gap == Phase(1e-3, 3e-3, None, 1e-3, True)


def test_a_transformer_fires_afresh_in_each_pulse() -> None:
    source = Transformer(3.0, 50.0, 1e-4, 1e-6, math.radians(90.0))
    found = phases(setup([Pulse(20e-3, cool_time_s=3e-3), Pulse(10e-3)], 0.0, source))
    starts = [phase.start_s for phase in found if phase.pulse is not None]
    assert starts == pytest.approx([0.0, 5e-3, 15e-3, 23e-3, 28e-3])
