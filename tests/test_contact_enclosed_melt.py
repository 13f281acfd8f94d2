"""What melt in a contact carries, and how fast a contact widens over it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nugget.contact.enclosed_melt import EXPONENT, SLOW_UP_TO_1_S, gain, partly_molten
from nugget.contact.growth import grown_radius
from nugget.materials.property_tables import RATES_1_S

FORCE_N, SLOW_PA = 30.0, 25e6


def test_melt_gains_with_the_rate_only_where_contacts_grow() -> None:
    assert gain([1e-3, 1.0, 100.0]) == pytest.approx(1.0)
    assert gain([1e3, 3e3]) == pytest.approx([1.51, 1.84], abs=0.01)


def test_between_solidus_and_liquidus_melt_takes_over_evenly() -> None:
    solid = np.array([[20e6], [60e6], [300e6]]) * np.ones(4)
    found = partly_molten(solid, np.array([-1.0, 0.0, 0.5, 2.0]), gain([1e-3, 100.0, 1e3]))
    assert found[:, :2] == pytest.approx(solid[:, :2])
    assert found[:, 3] == pytest.approx([20e6, 20e6, 20e6 * 10**EXPONENT])
    assert found[:, 2] == pytest.approx(0.5 * (found[:, 1] + found[:, 3]))


def test_a_metal_without_rate_has_melt_without_rate() -> None:
    solid = np.full((len(RATES_1_S), 3), 20e6)
    assert np.array_equal(partly_molten(solid, np.ones(3), gain(RATES_1_S)), solid)


def test_melt_never_carries_more_than_its_solid() -> None:
    solid = np.array([[20e6], [22e6]])
    assert partly_molten(solid, np.ones(1), 3.0 * gain([1e-3, 1e3])) == pytest.approx(solid)


def test_a_contact_widens_over_melt_as_its_closed_solution() -> None:
    """``(a / a_1)^(2/m)`` grows evenly in time, by 2 e_m / m, up to where the slow strength carries."""
    faces = np.linspace(0.0, 2e-3, 400)
    strength = SLOW_PA * gain(RATES_1_S)[:, None] * np.ones(len(faces) - 1)
    last = math.sqrt(FORCE_N / (math.pi * SLOW_PA))
    radius, time_s, worst = 0.6 * last, 0.0, 0.0
    for tau in np.geomspace(1e-8, 1e-5, 900):
        radius, _ = grown_radius(FORCE_N, strength, RATES_1_S, faces, (radius, tau), (radius, 1.0))
        time_s += tau
        exact = 0.6 ** (2.0 / EXPONENT) + 2.0 * SLOW_UP_TO_1_S * time_s / EXPONENT
        worst = max(worst, abs(radius / (last * min(1.0, exact) ** (0.5 * EXPONENT)) - 1.0))
        if time_s > 1.2e-3:
            break
    assert worst < 0.02
    assert radius == pytest.approx(last, rel=1e-3)
