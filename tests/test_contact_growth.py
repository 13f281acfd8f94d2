"""How fast a contact grows: the rate equation of its radius against exact solutions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from nugget.contact.growth import grown_fraction, grown_radius
from nugget.contact.spot import coverage

FACES = np.concatenate([np.linspace(0.0, 0.4e-3, 11), 0.4e-3 * 1.2 ** np.arange(1, 9)])
COLUMNS = len(FACES) - 1
AREA = math.pi * np.diff(FACES**2)
RATES = np.logspace(-3, 5, 17)
FREE = (1e-6, 1.5e-3)


def strength(at_one: float | np.ndarray, exponent: float) -> np.ndarray:
    """Hardness at each rate by a power of the rate."""
    even = np.broadcast_to(np.asarray(at_one, dtype=np.float64), (COLUMNS,))
    return np.asarray(RATES[:, None] ** exponent * even[None, :])


@given(
    hardness=arrays(np.float64, COLUMNS, elements=st.floats(1e7, 3e9)),
    force=st.floats(0.1, 100.0),
    start=st.floats(1e-5, 5e-4),
    tau=st.floats(1e-8, 1e-2),
)
def test_without_a_rate_exponent_it_is_the_balance_of_forces(
    hardness: np.ndarray, force: float, start: float, tau: float
) -> None:
    rows = strength(hardness, 0.0)
    found, share = grown_radius(force, rows, RATES, FACES, (start, tau), (1e-6, 1e-3))

    def carried(radius: float) -> float:
        return float((hardness * coverage(radius, FACES) * AREA).sum())

    if found == 1e-3:
        assert share == pytest.approx(min(1.0, carried(1e-3) / force))
    else:
        assert carried(found) == pytest.approx(force, rel=1e-9)
        assert share == 1.0


@pytest.mark.parametrize("exponent", [0.1, 0.2, 0.5])
def test_uniform_metal_grows_as_the_exact_solution(exponent: float) -> None:
    """F = pi a^2 H1 e^m has da/dt = a (F / (pi a^2 H1))^(1/m), so a^(2/m) grows evenly in time."""
    force, hard = 30.0, 4e8
    whole, start = 1e-3, 1.05 * math.sqrt(force / (math.pi * hard * 1e5**exponent))
    power = 2.0 / exponent
    rate = (force / (math.pi * hard)) ** (1.0 / exponent)
    exact = (start**power + power * rate * whole) ** (1.0 / power)

    def marched(steps: int) -> float:
        """By plain implicit steps, which are of first order."""
        radius = start
        for _ in range(steps):
            stage = (radius, whole / steps)
            radius, _ = grown_radius(force, strength(hard, exponent), RATES, FACES, stage, (radius, 1.5e-3))
        return radius

    coarse, fine = marched(200), marched(400)
    assert fine == pytest.approx(exact, rel=5e-3)
    assert abs(fine - exact) < 0.7 * abs(coarse - exact) + 1e-9
    assert 2.0 * fine - coarse == pytest.approx(exact, rel=1e-3)


@given(
    hardness=arrays(np.float64, COLUMNS, elements=st.floats(1e7, 3e9)),
    exponent=st.floats(0.005, 0.4),
    force=st.floats(1.0, 100.0),
    start=st.floats(1e-5, 5e-4),
    tau=st.floats(1e-7, 1e-3),
)
def test_what_grew_carries_the_force_at_the_rate_at_which_it_grew(
    hardness: np.ndarray, exponent: float, force: float, start: float, tau: float
) -> None:
    rows = strength(hardness, exponent)
    radius, _ = grown_radius(force, rows, RATES, FACES, (start, tau), FREE)
    rate = (radius - start) / (tau * radius)
    if radius <= FREE[0] or radius >= FREE[1] or not 1.1e-3 < rate < 0.9e5:
        return
    covered = coverage(radius, FACES)
    carried = float((hardness * covered * AREA).sum()) * rate**exponent
    assert carried == pytest.approx(force, rel=1e-5)


@given(tau=st.floats(1e-8, 1e-2), start=st.floats(1e-5, 1e-3), force=st.floats(0.1, 200.0))
def test_it_never_shrinks_and_never_passes_its_cap(tau: float, start: float, force: float) -> None:
    cap = 1.2e-3
    radius, share = grown_radius(force, strength(5e8, 0.2), RATES, FACES, (start, tau), (start, cap))
    assert start <= radius <= cap
    assert 0.0 < share <= 1.0
    assert share == 1.0 or radius == cap


@given(more=st.floats(1.0, 3.0), tau=st.floats(1e-6, 1e-3))
def test_more_force_more_time_or_softer_metal_widens_it(more: float, tau: float) -> None:
    def grown(force: float, hard: float, tau: float) -> float:
        return grown_radius(force, strength(hard, 0.15), RATES, FACES, (1e-4, tau), FREE)[0]

    plain = grown(30.0, 4e8, tau)
    slack = plain * (1.0 - 1e-9)
    assert grown(30.0 * more, 4e8, tau) >= slack
    assert grown(30.0, 4e8 / more, tau) >= slack
    assert grown(30.0, 4e8, tau * more) >= slack


def test_a_faster_contact_is_harder_so_it_is_smaller() -> None:
    radii = [
        grown_radius(30.0, strength(4e7, 0.2), RATES, FACES, (1e-4, tau), FREE)[0]
        for tau in (1e-6, 1e-5, 1e-4, 1e-3)
    ]
    assert radii == sorted(radii)
    assert radii[0] < 0.65 * radii[-1]


def test_at_its_cap_it_says_what_share_of_the_force_it_carries() -> None:
    cap, hard, exponent = 0.5e-3, 1e7, 0.2
    radius, share = grown_radius(60.0, strength(hard, exponent), RATES, FACES, (cap, 1e-4), (cap, cap))
    assert radius == cap
    assert share == pytest.approx(math.pi * cap**2 * hard * 10.0**exponent / 60.0, rel=1e-6)


def test_asperities_without_a_rate_exponent_carry_pressure_over_hardness() -> None:
    hardness = np.array([2e9, 1e9, 1e7, 1e3])
    rows = np.broadcast_to(hardness, (len(RATES), 4))
    none = np.zeros(4)
    found = grown_fraction(8e7, rows, RATES, (none + 1e-3, 1e-4), none)
    assert found == pytest.approx([0.04, 0.08, 1.0, 1.0])
    higher = np.array([0.5, 0.0, 0.0, 0.0])
    assert grown_fraction(8e7, rows, RATES, (none + 1e-3, 1e-4), higher)[0] == 0.5


@given(exponent=st.floats(0.02, 0.4), tau=st.floats(1e-6, 1e-3), start=st.floats(0.01, 0.5))
def test_asperities_carry_the_pressure_at_their_own_rate(exponent: float, tau: float, start: float) -> None:
    rows = RATES[:, None] ** exponent * np.array([3e8, 1e8, 3e7])[None, :]
    begin, pressure = np.full(3, start), 5e7
    found = grown_fraction(pressure, rows, RATES, (begin, tau), begin)
    rate = (found - begin) / (2.0 * tau * found)
    inside = (found > 1.01 * start) & (found < 1.0) & (rate > 1.1e-3) & (rate < 0.9e5)
    hard = np.array([3e8, 1e8, 3e7])[inside] * rate[inside] ** exponent
    assert found[inside] == pytest.approx(pressure / hard, rel=1e-4)
