"""What a four-wire meter reads before the pulse."""

from __future__ import annotations

import math

import pytest
from small import coarse

from nugget.outcome.cold_resistance import cold_resistance_ohm
from nugget.weld.march import March
from nugget.weld.model import WeldModel

SETUP = coarse()


def test_it_is_what_the_first_instant_of_the_pulse_meets() -> None:
    march = iter(March(SETUP))
    next(march)
    first = next(march)
    assert cold_resistance_ohm(SETUP) == pytest.approx(first.load_ohm, rel=0.05)


def test_a_film_under_the_tip_adds_its_share_over_the_first_contact() -> None:
    """In series with all else, once for each tip; a film at the faying surface is bypassed by the strip."""
    film = 1e-9
    model = WeldModel(SETUP)
    T, _ = model.cells.temperature(model.initial())
    tip, _ = model.first_touch(T)
    added = model.load_ohm(film / (math.pi * tip.radius_m**2))
    dirty = cold_resistance_ohm(SETUP.with_({"contact.tip.film": film}))
    assert dirty - cold_resistance_ohm(SETUP) == pytest.approx(added, rel=0.15)
    below = cold_resistance_ohm(SETUP.with_({"contact.faying.film": film}))
    assert cold_resistance_ohm(SETUP) < below < dirty
