"""What a print and a cold resistance determine."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from small import coarse

from nugget.outcome.contact_measurements import cold_resistance_ohm, film_of_resistance, hardness_of_print
from nugget.setup import Setup

SETUP = coarse()


def test_a_cold_resistance_gives_its_film_back() -> None:
    there = SETUP.with_({"contact.tip.film": 3e-11, "contact.faying.film": 3e-11})
    found = film_of_resistance(SETUP, cold_resistance_ohm(there))
    assert found.value == pytest.approx(3e-11, rel=1e-3)
    assert 1e-11 < found.low < 3e-11 < found.high < 1e-10
    assert "sum of both films" in found.note


def test_less_than_bare_metal_has_gives_no_film() -> None:
    assert film_of_resistance(SETUP, 0.5 * cold_resistance_ohm(SETUP)).value is None


@pytest.mark.parametrize(("slope", "sure"), [(-0.4e-3, True), (-0.02e-3, False)])
def test_a_print_says_as_much_as_it_moves_with_the_hardness(slope: float, sure: bool) -> None:
    def march(setup: Setup) -> SimpleNamespace:
        return SimpleNamespace(tip_contact_diameter_m=0.6e-3 + slope * (setup.contact.hardness_factor - 1.0))

    found = hardness_of_print(SETUP, 0.6e-3, march=march)
    assert found.value == pytest.approx(1.0, rel=0.02)
    assert ((found.high / found.low) < 2.0) == sure
    assert "settles by itself" in found.note
    assert hardness_of_print(SETUP, 2e-3, march=march).value is None
