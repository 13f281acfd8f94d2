"""Limits and the state of one run, on made-up figures."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import coarse

from nugget.errors import InputError
from nugget.merit.limit import Limit
from nugget.outcome.verdict import LimitResult, state_of

SETUP = coarse(name="default")
TARGET = SETUP.joint.minimum_diameter_m
GOOD: dict[str, Any] = {
    "nugget_diameter_m": 1.2 * TARGET,
    "interior_peak_K": 320.0,
    "roll_peak_K": 320.0,
    "disc_melted_share": 0.5,
    "interior_dose": 1e-6,
    "can_penetration": 0.2,
    "strip_through_ratio": 0.5,
    "tip_sticking_ratio": 0.5,
    "indentation_share": 0.1,
    "expulsion": False,
    "burn_through": False,
    "switch_device_current_A": 230.0,
    "peak_current_A": 1400.0,
    "load_share": 1.0,
    "peak_reached": True,
}
COLD = GOOD | {"nugget_diameter_m": 0.8 * TARGET}
HOT = GOOD | {"can_penetration": 0.7}
NONE = COLD | {"expulsion": True}
ASKED = GOOD | {"switch_device_current_A": 401.0}


@pytest.mark.parametrize(
    ("figures", "state"),
    [
        (GOOD, "in window"),
        (COLD, "too cold"),
        (HOT, "too hot"),
        (NONE, "no window"),
        (ASKED, "hardware limit"),
        (ASKED | HOT | {"switch_device_current_A": 401.0}, "too hot"),
        (COLD | {"switch_device_current_A": 401.0}, "no window"),
        (COLD | {"burn_through": True}, "no window"),
    ],
)
def test_the_state_of_one_run(figures: dict[str, Any], state: str) -> None:
    assert state_of(SETUP, figures) == state


@pytest.mark.parametrize(
    ("key", "value", "state"),
    [
        ("interior_peak_K", 404.0, "too hot"),
        ("disc_melted_share", 0.95, "too hot"),
        ("interior_dose", 0.02, "too hot"),
        ("can_penetration", 0.51, "too hot"),
        ("burn_through", True, "too hot"),
        ("strip_through_ratio", 1.1, "too hot"),
        ("tip_sticking_ratio", 1.1, "too hot"),
        ("indentation_share", 0.26, "too hot"),
        ("expulsion", True, "too hot"),
        ("switch_device_current_A", 401.0, "hardware limit"),
        ("load_share", 0.49, "too hot"),
    ],
)
def test_every_limit_of_the_default_can_break_a_good_weld(key: str, value: float, state: str) -> None:
    assert state_of(SETUP, GOOD | {key: value}) == state


def test_of_two_limits_on_one_figure_the_stricter_breaks_whichever_comes_last() -> None:
    strict = Limit("strict", "can_penetration", "at most", 0.1, "a test")
    loose = Limit("loose", "can_penetration", "at most", 0.95, "a test")
    for limits in ((strict, loose), (loose, strict)):
        setup = replace(SETUP.si, limits=limits)
        assert state_of(setup, GOOD) == "too hot"


def test_two_limits_of_one_id_are_refused() -> None:
    twice = (Limit("mine", "can_penetration", "at most", 0.1, "a test"),) * 2
    with pytest.raises(InputError, match="two of the id mine"):
        state_of(replace(SETUP.si, limits=twice), GOOD)


def test_a_limit_that_cannot_be_judged_is_not_kept() -> None:
    unread = {key: value for key, value in GOOD.items() if key != "can_penetration"}
    with pytest.raises(InputError, match="no figure can_penetration"):
        state_of(SETUP, unread)
    assert Limit("mine", "can_penetration", "at most", 0.5, "a test").breaks(float("nan"))
    assert Limit("mine", "load_share", "at least", 0.5, "a test").breaks(float("nan"))


def test_what_only_a_longer_pulse_reaches_is_too_cold() -> None:
    """A joint of at least some strength is a target, not a limit that heat breaks."""
    strong = Limit("strong", "shear_force_N", "at least", 60.0, "a test", severity="damage")
    setup = replace(SETUP.si, limits=(*SETUP.limits, strong))
    assert state_of(setup, GOOD | {"shear_force_N": 61.0}) == "in window"
    assert state_of(setup, GOOD | {"shear_force_N": 59.0}) == "too cold"
    assert state_of(setup, HOT | {"shear_force_N": 59.0}) == "no window"


def test_exactly_on_target_and_on_the_limit_is_in_the_window() -> None:
    assert state_of(SETUP, GOOD | {"nugget_diameter_m": TARGET, "can_penetration": 0.5}) == "in window"


def test_what_cannot_be_told_breaks_nothing() -> None:
    assert state_of(SETUP, GOOD | {"interior_peak_K": None, "interior_dose": None}) == "in window"


def test_a_source_has_a_limit_of_its_own() -> None:
    limit = Limit("source_current", "peak_current_A", "at most", 1300.0, "data sheet", severity="hardware")
    assert limit.value_in(GOOD) == 1400.0
    assert limit.breaks(limit.value_in(GOOD))


@given(value=st.floats(0.0, 2.0), limit=st.floats(0.0, 2.0))
def test_the_margin_is_negative_when_the_limit_is_broken(value: float, limit: float) -> None:
    for key, sense in (("can_penetration", "at most"), ("load_share", "at least")):
        one = Limit("mine", key, sense, limit, "made up")  # type: ignore[arg-type]
        judged = LimitResult(one, value, one.what.title)
        assert judged.value == value
        assert judged.margin is not None
        assert (judged.margin < 0.0) == judged.broken == judged.limit.breaks(value)


def test_a_limit_is_recorded_with_its_source() -> None:
    limit = Limit("half", "can_penetration", "at most", 0.5, "assumption", "assumption")
    assert LimitResult(limit, 0.4, limit.what.title).record() == {
        "id": "half",
        "figure": "can_penetration",
        "title": "Melted share of the can wall",
        "sense": "at most",
        "value": 0.4,
        "limit": 0.5,
        "unit": "1",
        "margin": pytest.approx(0.1),
        "broken": False,
        "severity": "harm",
        "confidence": "assumption",
        "source": "assumption",
    }
    nothing = LimitResult(limit, None, limit.what.title)
    assert (nothing.margin, nothing.broken) == (None, False)
