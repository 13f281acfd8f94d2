"""The window between the edges, and what is said where there is none."""

from __future__ import annotations

from dataclasses import replace

import pytest
from growths import growth
from hypothesis import given
from hypothesis import strategies as st

from nugget.setup import default_setup
from nugget.study.durations.branches import with_duration
from nugget.study.durations.window import agreed, crossing, faded_s, window_of

durations = st.one_of(st.none(), st.floats(0.1, 20.0))


def test_a_window_reaches_from_the_target_to_the_first_limit() -> None:
    window = window_of(growth(4.0, {"can_penetration": 15.0, "expulsion": 12.0}))
    assert window.open
    assert (window.from_s, window.until_s) == (0.004, 0.012)
    assert window.binding is not None
    assert window.binding.key == "expulsion"


def test_without_a_limit_it_reaches_as_far_as_was_searched() -> None:
    window = window_of(growth(4.0, {"can_penetration": None}, searched_ms=20.0))
    assert window.open
    assert window.until_s == pytest.approx(0.02)
    assert window.binding is None
    assert "no limit" in window.why


@pytest.mark.parametrize("target_ms", [None, 15.0, 16.0])
def test_there_is_none_when_the_limit_comes_first_or_the_target_never(target_ms: float | None) -> None:
    window = window_of(growth(target_ms, {"can_penetration": 15.0}))
    assert window.closed
    assert not window.open


@given(target=durations, first=durations, second=durations)
def test_a_window_is_open_closed_or_unknown_and_keeps_every_limit(
    target: float | None, first: float | None, second: float | None
) -> None:
    window = window_of(growth(target, {"can_penetration": first, "expulsion": second}))
    assert window.open != window.closed
    assert all(window.until_s <= 1e-3 * ms for ms in (first, second) if ms is not None)
    if window.open:
        assert target is not None
        assert window.from_s == 1e-3 * target


def test_a_march_that_stopped_leaves_open_what_it_has_not_reached() -> None:
    stopped = {"searched_ms": 3.0, "ended": "the simulation stopped at 3 ms: why"}
    lost = window_of(growth(None, {"can_penetration": None}, **stopped))
    assert lost.unknown
    assert not lost.open
    assert not lost.closed
    assert "3 ms" in lost.why
    safe = window_of(growth(2.0, {"can_penetration": None}, **stopped))
    assert safe.open, "up to where the march came, everything is known"
    assert safe.until_s == pytest.approx(3e-3)


def test_a_limit_that_could_not_be_found_leaves_no_window_to_rely_on() -> None:
    lost = growth(4.0, {"can_penetration": 15.0, "expulsion": None}, unknown="it stopped")
    assert not window_of(lost).open
    assert window_of(lost).unknown
    early = growth(16.0, {"can_penetration": 15.0, "expulsion": None}, unknown="it stopped")
    assert window_of(early).closed, "the known limit comes before the target already"


def test_what_all_contact_radii_agree_on_is_the_narrowest() -> None:
    three = [growth(ms, {"can_penetration": limit}) for ms, limit in ((2.0, 6.0), (3.0, 15.0), (5.0, 20.0))]
    shared = agreed(three)
    assert (shared.from_s, shared.until_s) == (0.005, 0.006)
    assert agreed([*three, growth(None, {"can_penetration": 15.0})]).closed
    assert agreed([growth(6.5, {"can_penetration": 15.0}), *three]).closed


def test_the_crossing_names_both_edges_and_when() -> None:
    said = crossing(growth(16.0, {"can_penetration": 15.0}))
    assert "melted share of the can wall (15 ms)" in said
    assert "minimum weld diameter (0.60 mm) (16 ms)" in said
    never = crossing(growth(None, {"can_penetration": None}))
    assert "not reached within 20 ms, 0.55 mm fused at most" in never
    assert "no limit is met" in never
    both = crossing(growth(None, {"can_penetration": 15.0}))
    assert "the first limit is melted share of the can wall (15 ms)" in both
    assert crossing(growth(4.0)) == ""


def test_a_source_that_runs_out_is_said_to() -> None:
    bank = growth(None, {"can_penetration": None})
    fades = tuple(1500.0 * 0.8**k for k in range(len(bank.time_s)))
    assert "as the current falls from 1500 to 17 A" in crossing(replace(bank, current_A=fades))
    assert faded_s(replace(bank, current_A=fades)) == pytest.approx(4e-3), "0.8^4 is the first below half"
    assert "current" not in crossing(bank)
    assert faded_s(bank) is None
    swings = tuple(1500.0 * (-1.0) ** k for k in range(len(bank.time_s) - 1))
    assert "current" not in crossing(replace(bank, current_A=(*swings, 0.0))), "it alternates"


def test_a_limit_that_every_pulse_breaks_is_said_as_that() -> None:
    assert "(the first instant)" in crossing(growth(4.0, {"can_penetration": 0.0}))


def test_a_relay_makes_no_shorter_pulse_than_it_can() -> None:
    """The window begins where the relay does; there is none where a limit comes first."""
    slow = replace(growth(4.0, {"can_penetration": 15.0}), shortest_s=10e-3)
    assert (window_of(slow).from_s, window_of(slow).until_s) == (10e-3, 15e-3)
    late = replace(growth(4.0, {"can_penetration": 6.0}), shortest_s=10e-3)
    assert window_of(late).closed
    assert crossing(late) == (
        "melted share of the can wall (6 ms) comes before the shortest pulse that the relay makes (10 ms)"
    )


def test_durations_that_a_relay_cannot_make_are_looked_at_all_the_same() -> None:
    relay = default_setup(["switch.kind=relay", "pulse.0.duration=20 ms"])
    assert with_duration(relay, 2e-3).train[-1].duration_s == 2e-3
