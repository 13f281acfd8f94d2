"""The cap of a positive end and the gasket at its rim, against exact solutions and the whole cell."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small import coarse

from nugget.followup.cell_parts import whole_cell
from nugget.followup.repeated import heat_left_J
from nugget.outcome.cap import (
    FIRST_S,
    LAST_S,
    course,
    diffusivity_m2_s,
    outside_factor,
    rim_over_mean,
    spot_radius_m,
)
from nugget.outcome.verdict import broken_limits
from nugget.outcome.weld import Weld, run_weld
from nugget.whole_cell import respond

WITHIN = 0.15
"""What the cap's temperatures may differ by from the transient of the whole cell, set before it was seen."""
CAP = coarse("pulse.0.duration=3 ms", "hold_time=100 ms", name="18650-positive")


@pytest.fixture(scope="module")
def weld() -> Weld:
    return run_weld(CAP)


def _factor(weld: Weld) -> float:
    return outside_factor(heat_left_J(weld.figures), weld.figures["outside_heat_J"])


def test_heat_at_the_middle_reaches_the_rim_as_from_an_instant_source() -> None:
    """Late the rim is at the mean; early it sees the line source of an endless plane, gathered by a wall.

    A straight wall doubles it; one that bends round the source does a little more.
    """
    radius, diffusivity = 3e-3, 1e-5
    early = 0.05 * radius**2 / diffusivity
    line = math.exp(-(radius**2) / (4 * diffusivity * early)) / (4 * math.pi * diffusivity * early)
    found = rim_over_mean(0.0, radius, diffusivity, 1, np.array([early, 9.0]))
    assert 2.0 < found[0] / (math.pi * radius**2) / line < 2.6
    assert found[1] == pytest.approx(1.0, abs=1e-9)


def test_of_a_pair_the_rim_sees_half_of_each() -> None:
    after = np.array([0.05, 0.1, 0.3])
    near, pair = (rim_over_mean(2e-3, 3.5e-3, 1.3e-5, spots, after) for spots in (1, 2))
    assert (near > pair).all()
    assert (pair > 1.0).all()


def test_the_rim_agrees_with_the_whole_cell() -> None:
    after = np.array([0.1, 0.15, 0.2, 0.5, 1.0, 5.0])
    answer = respond(whole_cell(CAP), spot_radius_m(CAP), CAP.face_radius_m)
    rim = CAP.base[0].radius_m
    near, far = (answer.rise("wall", rim * (1 - 1e-6), angle, after) for angle in (0.0, math.pi))
    mean = 2.0 * np.interp(np.log(after), np.log(answer.times_s), answer.mean("wall", rim))
    found = rim_over_mean(spot_radius_m(CAP), rim, diffusivity_m2_s(CAP), CAP.spots, after)
    assert found == pytest.approx((near + far) / mean, rel=WITHIN)
    assert (found >= 0.99 * (near + far) / mean).all(), "never cooler than it is"


def test_the_mean_agrees_with_the_whole_cell(weld: Weld) -> None:
    """The heat that the weld left behind, in the real cap with its strip, from when the tips have lifted."""
    after = np.array([0.2, 0.5, 1.0, 5.0, 10.0])
    answer = respond(whole_cell(CAP), spot_radius_m(CAP), CAP.face_radius_m)
    rim = CAP.base[0].radius_m
    mean = np.interp(np.log(after), np.log(answer.times_s), answer.mean("wall", rim))
    expected = heat_left_J(weld.figures) * mean
    time, found, _ = course(CAP, weld.history["time_s"], weld.history["wall_mean_K"], _factor(weld))
    assert np.interp(after, time, found) - CAP.ambient_K == pytest.approx(expected, rel=WITHIN)


def test_the_cap_is_watched_for_ten_seconds_with_the_heat_of_both_spots(weld: Weld) -> None:
    factor = _factor(weld)
    assert factor > 1.0
    time, mean, rim = course(CAP, weld.history["time_s"], weld.history["wall_mean_K"], factor)
    assert (time[0], time[-1]) == (FIRST_S, LAST_S)
    one = np.interp(CAP.train_s + FIRST_S, weld.history["time_s"], weld.history["wall_mean_K"])
    assert mean[0] - CAP.ambient_K == pytest.approx(2.0 * factor * (one - CAP.ambient_K))
    assert (rim >= mean).all()
    figures = weld.figures
    assert figures["gasket_peak_K"] >= rim.max() > figures["cap_mean_K"] > CAP.ambient_K
    assert figures["cap_mean_K"] == pytest.approx(mean.max())
    assert list(figures["cap_course"]) == ["0.1 s", "0.2 s", "0.5 s", "1 s", "2 s", "5 s", "10 s"]


def test_a_hot_gasket_is_harm(weld: Weld) -> None:
    limit = next(one for one in CAP.limits if one.id == "gasket_temperature")
    assert limit.severity == "harm"
    hot = weld.figures | {"gasket_peak_K": limit.value + 1.0}
    assert "gasket_temperature" in {one.id for one in broken_limits(CAP, hot)}


def test_a_negative_end_has_no_cap() -> None:
    setup = coarse(name="default")
    assert not setup.sealed
    assert "gasket_temperature" not in {one.id for one in setup.limits}
