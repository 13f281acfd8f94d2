"""Planar factors of layers between two tips, against their limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.outline import planar

S, A = 5e-3, 0.75e-3
spacings = st.floats(2e-3, 8e-3)
faces = st.floats(0.2e-3, 0.9e-3)


@pytest.mark.parametrize("rule", [planar.strip_along, planar.strip_across, planar.disc])
def test_a_wide_layer_is_an_infinite_sheet(rule: object) -> None:
    assert rule(S, A, 1.0) == pytest.approx(math.log(S / A), rel=1e-3)  # type: ignore[operator]


@given(s=spacings, a=faces)
def test_a_narrow_layer_loads_more_than_a_wide_one(s: float, a: float) -> None:
    for rule in (planar.strip_across, planar.disc):
        room = s + 2.1 * a  # both tips fit
        assert rule(s, a, room) > rule(s, a, 2.0 * room) > math.log(s / a)
    assert planar.strip_along(s, a, 4e-3) > planar.strip_along(s, a, 8e-3) > math.log(s / a)


def test_a_long_narrow_strip_is_a_bar() -> None:
    """Half the spacing of strip: rho s / 2 / (w t) = rho / (2 pi t) x pi s / w, per metre more."""
    w = 1e-3
    longer = planar.strip_along(60e-3, 0.1e-3, w) - planar.strip_along(50e-3, 0.1e-3, w)
    assert longer == pytest.approx(math.pi * 10e-3 / w)


@given(s=spacings, a=faces)
def test_tips_across_meet_the_edges_sooner_than_tips_along(s: float, a: float) -> None:
    width = 2.0 * s
    assert planar.strip_across(s, a, width) < planar.strip_across(s, a, s + 2.1 * a)
    assert planar.strip_along(s, a, width) > math.log(s / a)


def test_the_ground_stays_inside_the_layer() -> None:
    assert planar.ground_radius(S, 9e-3) == S
    assert planar.ground_radius(S, 4e-3) == pytest.approx(3.6e-3)


@given(factor=st.floats(1.0, 4.0), share=st.floats(0.01, 1.0))
def test_a_slot_adds_to_the_remainder(factor: float, share: float) -> None:
    whole = planar.remainder(factor, S, A)
    assert planar.remainder(factor, S, A, share) == pytest.approx(whole + factor * (1.0 / share - 1.0))
    assert whole >= 0.0


def test_inside_and_remainder_make_the_whole_factor() -> None:
    factor = planar.strip_across(S, A, 8e-3)
    assert planar.remainder(factor, 3e-3, A) + math.log(3e-3 / A) == pytest.approx(factor)


def test_a_cut_strip_carries_nothing() -> None:
    assert planar.remainder(2.0, S, A, 0.0) == math.inf
