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


@given(hardness=hardnesses, force=st.floats(0.1, 200.0))
def test_the_contact_carries_the_force_or_says_how_much_of_it(hardness: np.ndarray, force: float) -> None:
    cap = 1e-3
    radius, load_share = spot.supporting_radius(force, hardness, FACES, cap)
    carried = float((hardness * spot.coverage(radius, FACES) * AREA).sum())
    assert carried == pytest.approx(load_share * force, rel=1e-9, abs=1e-12)
    assert radius <= cap
    assert load_share == pytest.approx(1.0) if radius < cap else 0.0 <= load_share <= 1.0


@given(hardness=hardnesses, force=st.floats(0.1, 100.0), more=st.floats(1.0, 3.0))
def test_more_force_or_softer_metal_widens_the_contact(
    hardness: np.ndarray, force: float, more: float
) -> None:
    radius, _ = spot.supporting_radius(force, hardness, FACES, 1e-3)
    assert spot.supporting_radius(more * force, hardness, FACES, 1e-3)[0] >= radius * (1.0 - 1e-9)
    assert spot.supporting_radius(force, hardness / more, FACES, 1e-3)[0] >= radius * (1.0 - 1e-9)


def test_even_hardness_gives_the_textbook_radius() -> None:
    radius, load_share = spot.supporting_radius(30.0, np.full(COLUMNS, 1e9), FACES, 1e-3)
    assert radius == pytest.approx(math.sqrt(30.0 / (math.pi * 1e9)))
    assert load_share == 1.0


def test_a_molten_core_carries_nothing() -> None:
    hardness = np.where(FACES[1:] <= 0.2e-3 * (1 + 1e-9), 0.0, 1e9)
    radius, _ = spot.supporting_radius(30.0, hardness, FACES, 1e-3)
    assert radius**2 == pytest.approx(0.2e-3**2 + 30.0 / (math.pi * 1e9))


def test_a_molten_contact_supports_nothing_at_its_cap() -> None:
    assert spot.supporting_radius(30.0, np.zeros(COLUMNS), FACES, 0.75e-3) == (0.75e-3, 0.0)


def test_asperities_carry_pressure_over_hardness() -> None:
    hardness = np.array([2e9, 1e9, 1e7, 0.0])
    share = spot.real_fraction(1000.0, 2e-3, hardness, np.zeros(4))
    pressure = 1000.0 / (math.pi * 4e-6)
    assert share == pytest.approx([pressure / 2e9, pressure / 1e9, 1.0, 1.0])


@given(before=st.floats(0.0, 1.0), hardness=st.floats(0.0, 3e9), force=st.floats(1.0, 5000.0))
def test_real_contact_never_shrinks(before: float, hardness: float, force: float) -> None:
    share = spot.real_fraction(force, 2e-3, np.array([hardness]), np.array([before]))[0]
    assert before <= share <= 1.0


def test_heat_crosses_by_electrons_and_by_gas() -> None:
    """Wiedemann-Franz: 1e-12 ohm m2 at 1000 K conducts L T / r_c = 2.44e7 W/(m2 K)."""
    film, none = np.array([1e-12]), np.array([1e30])
    T = np.array([1000.0])
    assert spot.thermal_resistance(film, T, 0.0)[0] == pytest.approx(1e-12 / (LORENZ_V2_K2 * 1000.0))
    assert spot.thermal_resistance(none, T, 5000.0)[0] == pytest.approx(1.0 / 5000.0)
    assert 1.0 / spot.thermal_resistance(film, T, 5000.0)[0] == pytest.approx(2.44e7 + 5000.0)


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
