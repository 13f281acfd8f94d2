"""The strip as a sheet of its real outline."""

import math

import pytest

from nugget.errors import InputError
from nugget.outline import Outline, Slot, planar, planar_factor

POINT_M = 0.1e-3
"""A tip so small that closed forms, which take its potential on one side, mean the same."""


@pytest.mark.parametrize(("spacing", "width"), [(5e-3, 8e-3), (3e-3, 6e-3), (6e-3, 10e-3), (2e-3, 10e-3)])
@pytest.mark.parametrize(("tips", "closed"), [("along", planar.strip_along), ("across", planar.strip_across)])
def test_a_plain_strip_agrees_with_the_closed_form(tips, closed, spacing, width):
    found = planar_factor(Outline(tips, spacing, width), POINT_M)
    assert found == pytest.approx(closed(spacing, POINT_M, width), rel=0.01)


def test_lengths_scale_out():
    one = Outline("across", 5e-3, 8e-3, 4e-3, 60e-3, (Slot(0.0, 20e-3, 1e-3),))
    ten = Outline("across", 5e-2, 8e-2, 4e-2, 60e-2, (Slot(0.0, 20e-2, 1e-2),))
    assert planar_factor(one, 1e-3) == pytest.approx(planar_factor(ten, 1e-2), rel=1e-6)


def test_a_mirrored_strip_is_the_same_strip():
    slot = Slot(2e-3, 20e-3, 1e-3)
    strip = Outline("across", 5e-3, 8e-3, 10e-3, 60e-3, (slot,))
    turned = Outline("across", 5e-3, 8e-3, 50e-3, 60e-3, (Slot(60e-3 - 22e-3, 20e-3, 1e-3),))
    assert planar_factor(strip, 1e-3) == pytest.approx(planar_factor(turned, 1e-3), rel=2e-3)


def test_a_longer_slot_leaves_less_of_the_shunt():
    lengths = (2e-3, 6e-3, 12e-3, 30e-3)
    factors = [
        planar_factor(Outline("across", 5e-3, 8e-3, 5e-3, slots=(Slot(0.0, x, 1e-3),)), 1e-3) for x in lengths
    ]
    plain = planar_factor(Outline("across", 5e-3, 8e-3, 5e-3), 1e-3)
    assert plain < factors[0] < factors[1] < factors[2] < factors[3]


def test_long_legs_carry_as_two_legs_in_series():
    """Far from tips and slot's end the current runs straight down one leg and back up the other."""
    s, w, slot = 5e-3, 8e-3, 1e-3
    short, long_ = (
        planar_factor(Outline("across", s, w, 5e-3, slots=(Slot(0.0, x, slot),)), 1e-3)
        for x in (25e-3, 45e-3)
    )
    legs = 2.0 * 20e-3 / (0.5 * (w - slot))
    assert (long_ - short) / math.pi == pytest.approx(legs, rel=0.01)


def test_an_end_near_the_tips_crowds_the_current():
    near = planar_factor(Outline("along", 5e-3, 8e-3, end_m=1e-3), 0.5e-3)
    far = planar_factor(Outline("along", 5e-3, 8e-3), 0.5e-3)
    assert 1.02 * far < near < 2.0 * far


def test_two_slots_that_leave_a_bridge_conduct_by_the_bridge():
    """Strip in the shape of an H: a narrower bridge conducts less, none parts the strip."""

    def h_shape(bridge: float) -> Outline:
        cut = 0.5 * (40e-3 - bridge)
        slots = (Slot(0.0, cut, 1e-3), Slot(40e-3 - cut, cut, 1e-3))
        return Outline("across", 5e-3, 8e-3, 5e-3, 40e-3, slots)

    wide, narrow = planar_factor(h_shape(10e-3), 1e-3), planar_factor(h_shape(2e-3), 1e-3)
    assert narrow > wide
    assert planar_factor(h_shape(0.0), 1e-3) == math.inf


def test_a_slot_across_the_strip_between_tips_along_it():
    cut = Outline("along", 5e-3, 8e-3, slots=(Slot(0.0, 6e-3, 0.5e-3),))
    assert planar_factor(cut, 1e-3) > 1.3 * planar_factor(Outline("along", 5e-3, 8e-3), 1e-3)
    assert planar_factor(Outline("along", 5e-3, 8e-3, slots=(Slot(0.0, 8e-3, 0.5e-3),)), 1e-3) == math.inf


@pytest.mark.parametrize(
    ("outline", "field"),
    [
        (lambda: Outline("across", 9e-3, 8e-3), "arrangement.spacing"),
        (lambda: Outline("along", 5e-3, 8e-3, 5e-3, 8e-3), "strip.length"),
        (lambda: Outline("across", 5e-3, 8e-3, 5e-3, slots=(Slot(0.0, 5e-3, 6e-3),)), "strip.slots.0.width"),
        (lambda: Outline("across", 5e-3, 8e-3, slots=(Slot(0.0, 5e-3, 1e-3),)), "strip.slots.0"),
        (lambda: Outline("along", 5e-3, 8e-3, slots=(Slot(4e-3, 5e-3, 1e-3),)), "strip.slots.0"),
    ],
)
def test_what_does_not_lie_on_the_strip_is_refused(outline, field):
    with pytest.raises(InputError, match=field):
        outline()
