"""What a row of trials says: classes whose probabilities add up, censoring as such, information."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.setup import Setup, default_setup
from nugget.study.calibration.observation import (
    Judging,
    Observation,
    Traced,
    cold_observation,
    observations_of,
    pulled_size,
    size_edges,
)
from nugget.study.calibration.observation_table import Together
from nugget.study.calibration.trial_table import Trial

PLAIN = Judging(outlier_share=0.0)


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup(["strip.thickness=0.15 mm"])


def said(setup: Setup, **seen: object) -> list[Observation]:
    trial = Trial("t.csv: line 2", (), 6e-3, **seen)  # type: ignore[arg-type]
    return observations_of(trial, setup, (0, 1, 2, 3), PLAIN)


def chance(one: Observation, output: float) -> float:
    row = np.zeros((1, 4))
    row[0, one.output] = output
    return float(np.exp(Together.of([one]).log_likelihood(row)[0]))


edges = st.lists(st.floats(-1.0, 1.0), min_size=1, max_size=3).map(lambda e: tuple(sorted(e)))


@given(edges, st.floats(-2.0, 2.0), st.floats(0.0, 0.2))
def test_the_chances_of_all_classes_add_up_to_one(
    bounds: tuple[float, ...], output: float, outlier_share: float
) -> None:
    one = Observation(0, bounds, 0, None, 0.3, 1, outlier_share, "")
    shares = one.shares(np.array([output]))
    assert len(shares) == len(bounds) + 1
    assert sum(float(s[0]) for s in shares) == pytest.approx(1.0)
    assert all(float(s[0]) >= 0.0 for s in shares)


@given(st.floats(-0.5, 1.5), st.booleans())
def test_information_is_the_expected_square_of_the_score(output: float, valued: bool) -> None:
    bounds, spread = (0.3, 0.6), 0.2
    one = Observation(0, bounds, 2, 0.7 if valued else None, spread, 1, 0.0, "")
    x = np.linspace(-2.0, 3.0, 4_001)
    bell = np.exp(-0.5 * ((x - output) / spread) ** 2) / (spread * np.sqrt(2.0 * np.pi))
    score = (x - output) / spread**2
    total = 0.0
    for low, high, last in ((-9.0, 0.3, False), (0.3, 0.6, False), (0.6, 9.0, True)):
        inside = (x >= low) & (x < high)
        share = np.trapezoid(bell * inside, x)
        if last and valued:
            total += np.trapezoid(bell * inside * score**2, x)
        elif share > 1e-9:
            total += np.trapezoid(bell * inside * score, x) ** 2 / share
    assert float(one.weight(np.array([output]))[0]) == pytest.approx(total, rel=5e-3, abs=5e-2)


def test_held_is_at_least_and_stuck_is_at_most(setup: Setup) -> None:
    holds, button = size_edges(setup, PLAIN)
    held, stuck = said(setup, result="held")[0], said(setup, result="stuck")[0]
    assert chance(held, 3.0 * button) == pytest.approx(1.0)
    assert chance(held, holds) == pytest.approx(0.5)
    assert chance(held, -button) < 1e-3
    for size in (0.0, holds, button):
        assert chance(held, size) + chance(stuck, size) == pytest.approx(1.0)


def test_a_torn_button_counts_with_its_diameter(setup: Setup) -> None:
    button = size_edges(setup, PLAIN)[1]
    torn = said(setup, result="button")[0]
    measured = said(setup, result="button", button_m=1.2 * button)[0]
    assert chance(torn, 1.4 * button) > 0.99
    at = {size: chance(measured, size * button) for size in (0.9, 1.2, 1.5)}
    assert at[1.2] > at[0.9]
    assert at[1.2] > at[1.5]


def test_peeled_lies_between_and_expulsion_joined(setup: Setup) -> None:
    holds, button = size_edges(setup, PLAIN)
    peeled, expulsion = said(setup, result="peeled")[0], said(setup, result="expulsion")[0]
    middle = chance(peeled, 0.5 * (holds + button))
    assert middle > chance(peeled, 0.0)
    assert middle > chance(peeled, 1.5 * button)
    assert chance(expulsion, button) > 0.99


def test_a_pull_is_a_size_where_it_gave_way_and_a_bound_where_it_held(setup: Setup) -> None:
    size = pulled_size(setup, 60.0)
    assert size is not None
    gave, held = said(setup, result="peeled", pull_N=60.0)[0], said(setup, result="held", pull_N=60.0)[0]
    assert chance(gave, size) == pytest.approx(1.0)
    assert chance(held, size) == pytest.approx(0.5)
    # 60 N on a pair: pi d t sigma / sqrt 3 on each spot.
    strength = setup.strip[0].material.tensile_strength_Pa
    assert strength is not None
    assert np.pi * size * 0.15e-3 * strength / np.sqrt(3.0) == pytest.approx(30.0)


def test_every_row_says_whether_the_wall_opened(setup: Setup) -> None:
    whole, opened = said(setup, result="held")[1], said(setup, result="pierced")[0]
    assert (whole.output, opened.output) == (1, 1)
    assert chance(whole, 0.3) > 0.99
    assert chance(opened, 0.3) < 0.01
    assert chance(whole, 0.9) + chance(opened, 0.9) == pytest.approx(1.0)


def test_the_inner_face_bounds_its_peak(setup: Setup) -> None:
    clean, tinted, dented = (said(setup, result="held", inside=w)[2:] for w in ("clean", "tinted", "dented"))

    def together(rows: list[Observation], peak_K: float) -> float:
        return float(np.prod([chance(one, peak_K) for one in rows]))

    assert together(clean, 400.0) > 0.9 > 0.1 > together(clean, 1000.0)
    assert together(tinted, 980.0) > 0.9
    assert together(dented, 1600.0) > 0.9 > 0.1 > together(dented, 980.0)


def test_repeats_multiply(setup: Setup) -> None:
    one, three = said(setup, result="held")[0], said(setup, result="held", count=3)[0]
    assert chance(three, 3e-4) == pytest.approx(chance(one, 3e-4) ** 3)


def test_a_lapse_keeps_one_odd_row_from_ruling() -> None:
    sure = Observation(0, (0.5,), 1, None, 0.01, 1, 0.0, "")
    wary = replace(sure, outlier_share=0.02)
    assert chance(sure, 0.0) < 1e-12
    assert chance(wary, 0.0) == pytest.approx(0.01)


@given(st.lists(st.floats(100.0, 2000.0), min_size=2, max_size=6), st.floats(0.0, 0.1), st.integers(0, 99))
def test_samples_of_a_trace_share_their_gain(values: list[float], gain: float, seed: int) -> None:
    one = Traced(range(len(values)), tuple(values), gain, 0.02, "")
    noise = 0.02 * max(values)
    random = np.random.default_rng(seed)
    outputs, slopes = random.normal(1000.0, 300.0, (1, len(values))), random.normal(0, 100, (len(values), 2))
    covariance = noise**2 * np.eye(len(values)) + np.outer(outputs[0], outputs[0]) * gain**2
    miss = np.array(values) - outputs[0]
    scaled = np.linalg.slogdet(covariance / noise**2)[1]
    direct = -0.5 * (miss @ np.linalg.solve(covariance, miss) + scaled)
    assert float(one.log_likelihood(outputs)[0]) == pytest.approx(direct, rel=1e-6)
    expected = slopes.T @ np.linalg.solve(covariance, slopes)
    assert one.information(outputs[0], slopes) == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_a_common_gain_does_not_pull_the_fit_away() -> None:
    """A constant current with noise and a gain: the likeliest level is right on average."""
    random, levels = np.random.default_rng(5), np.linspace(850.0, 1150.0, 3001)
    found = []
    for _ in range(300):
        values = 1000.0 * (1.0 + 0.03 * random.normal()) + 20.0 * random.normal(size=24)
        one = Traced(range(24), tuple(values), 0.03, 0.02, "")
        likelihood = one.log_likelihood(np.repeat(levels[:, None], 24, axis=1))
        found.append(levels[np.argmax(likelihood)])
    error = np.std(found) / len(found) ** 0.5
    assert np.mean(found) == pytest.approx(1000.0, abs=3.0 * error)


def test_a_print_and_a_cold_resistance_are_plain_values(setup: Setup) -> None:
    (mark,) = said(setup, print_m=0.5e-3)
    assert (mark.output, mark.value, mark.spread) == (3, 0.5e-3, PLAIN.print_m)
    trial = Trial("t.csv: line 2", (), 0.0, resistance_ohm=2e-3)
    reading = cold_observation(trial, 1, PLAIN)
    assert (reading.value, reading.spread) == (2e-3, pytest.approx(0.05 * 2e-3))
    assert chance(reading, 2e-3) == pytest.approx(1.0)
    assert chance(reading, 2.2e-3) == pytest.approx(np.exp(-2.0))
