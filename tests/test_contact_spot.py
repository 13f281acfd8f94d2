"""One contact: what it covers, what it carries, how warm its two sides are."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from nugget.constants import LORENZ_V2_K2
from nugget.contact import spot

FACES = np.concatenate([np.linspace(0.0, 0.4e-3, 11), 0.4e-3 * 1.2 ** np.arange(1, 9)])
COLUMNS = len(FACES) - 1
AREA = math.pi * np.diff(FACES**2)
radii = st.floats(1e-6, float(FACES[-1]))
hardnesses = arrays(np.float64, COLUMNS, elements=st.one_of(st.just(0.0), st.floats(1e7, 3e9)))


@given(radius=radii)
def test_coverage_holds_the_area_of_the_contact(radius: float) -> None:
    covered = spot.coverage(radius, FACES)
    assert ((covered >= 0.0) & (covered <= 1.0)).all()
    assert float((covered * AREA).sum()) == pytest.approx(math.pi * radius**2)
    assert (np.diff(covered) <= 0.0).all(), "full inside, one part column, nothing outside"


@given(radius=radii, growth=st.floats(0.0, 1e-3))
def test_coverage_grows_with_the_radius_and_never_jumps(radius: float, growth: float) -> None:
    before, after = spot.coverage(radius, FACES), spot.coverage(radius + growth, FACES)
    assert (after >= before).all()
    grown = float(((after - before) * AREA).sum())
    assert grown <= math.pi * ((radius + growth) ** 2 - radius**2) * (1.0 + 1e-9) + 1e-18


def test_heat_crosses_by_electrons() -> None:
    """Wiedemann-Franz: 1e-12 ohm m2 at 1000 K conducts L T / r_c = 2.44e7 W/(m2 K)."""
    film, T = np.array([1e-12]), np.array([1000.0])
    assert (
        spot.by_electrons(film, T)[0] == pytest.approx(LORENZ_V2_K2 * 1000.0 / 1e-12) == pytest.approx(2.44e7)
    )


temperatures = st.floats(250.0, 3000.0)
resistances = st.floats(1e-9, 1e-3)


@given(
    T=st.tuples(temperatures, temperatures),
    R=st.tuples(resistances, resistances),
    across=resistances,
    heat=st.floats(0.0, 1e9),
)
def test_side_temperatures_satisfy_the_flux_balance(
    T: tuple[float, float], R: tuple[float, float], across: float, heat: float
) -> None:
    """What crosses the contact is what each half cell carries, less or plus half of the heat."""
    cells = np.array([T[0]]), np.array([T[1]])
    halves = np.array([R[0]]), np.array([R[1]])
    one, two = spot.side_temperatures(cells, halves, np.array([across]), np.array([heat]))
    into_one, into_two = (one - cells[0]) / halves[0], (two - cells[1]) / halves[1]
    crossing = (one - two) / across
    scale = heat + 5000.0 / min(*R, across)
    assert into_one[0] + into_two[0] == pytest.approx(heat, abs=1e-9 * scale)
    assert crossing[0] == pytest.approx(0.5 * heat - into_one[0], abs=1e-9 * scale)


@given(R=st.tuples(resistances, resistances), across=resistances)
def test_the_split_is_that_of_the_flux_balance(R: tuple[float, float], across: float) -> None:
    halves = np.array([R[0]]), np.array([R[1]])
    cells = np.array([300.0]), np.array([300.0])
    one, _ = spot.side_temperatures(cells, halves, np.array([across]), np.array([1e9]))
    share = spot.heat_partition(halves, np.array([across]))[0]
    assert 0.0 <= share <= 1.0
    assert share * 1e9 == pytest.approx((one[0] - 300.0) / R[0], rel=1e-6)
    assert share + spot.heat_partition(halves[::-1], np.array([across]))[0] == pytest.approx(1.0)
