"""Melt through the strip under the tip: where steps end must not decide about it."""

from __future__ import annotations

import numpy as np
import pytest

from nugget.outcome.melt import equal_diameter
from nugget.outcome.strip_through import FREEZING_S, NEARLY, THROUGH, Cover, through_diameter

FACES = np.linspace(0.0, 1e-3, 51)
CENTRES = 0.5 * (FACES[1:] + FACES[:-1])
FROM_M, SPEED_M_S = 0.3e-3, 0.1


def moving_tip(step_s: float, freezing_steps: int = 0) -> list[Cover]:
    """A tip that moves out over molten strip, which freezes under it within some steps."""
    covers = []
    for k in range(int(1.5e-3 / step_s) + 1):
        radius_m = FROM_M + SPEED_M_S * k * step_s
        frozen_m = FROM_M + SPEED_M_S * max(k - freezing_steps, 0) * step_s
        molten = np.where(frozen_m < CENTRES, 1.0, 0.0)
        covers.append(Cover(k * step_s, radius_m, molten))
    return covers


def largest(covers: list[Cover]) -> float:
    return max(through_diameter(covers[: k + 1], CENTRES, FACES) for k in range(len(covers)))


def at_ends_of_steps(covers: list[Cover]) -> float:
    return max(equal_diameter(c.molten_share - THROUGH, CENTRES, c.radius_m) for c in covers)


def test_steps_of_any_size_find_the_same_width() -> None:
    found = [largest(moving_tip(step_s, k)) for step_s, k in ((5e-6, 2), (25e-6, 0), (50e-6, 0), (50e-6, 1))]
    outer_m = FROM_M + SPEED_M_S * 1.5e-3
    ring_m = 2.0 * np.sqrt(outer_m**2 - (outer_m - SPEED_M_S * FREEZING_S) ** 2)
    assert found == pytest.approx([ring_m] * len(found), rel=0.15)
    chance = [at_ends_of_steps(moving_tip(50e-6, k)) for k in (0, 1)]
    assert chance[1] - chance[0] > 0.5 * ring_m, "what is liquid as a step ends depends on the step"


@pytest.mark.parametrize("seed", range(5))
def test_it_is_never_less_than_what_is_liquid_at_the_moment(seed: int) -> None:
    random = np.random.default_rng(seed)
    times = np.cumsum(random.uniform(1e-6, 2e-4, 30))
    radii = np.cumsum(random.uniform(0.0, 3e-5, 30))
    covers = [
        Cover(t, a, random.uniform(0.95, 1.05, 50).clip(0, 1)) for t, a in zip(times, radii, strict=True)
    ]
    for k, cover in enumerate(covers):
        liquid = equal_diameter(cover.molten_share - THROUGH, CENTRES, cover.radius_m)
        assert through_diameter(covers[: k + 1], CENTRES, FACES) >= liquid


def test_a_tip_that_is_lifted_takes_nothing_from_what_was_under_it() -> None:
    """The circle of 0.1 ms ago counts, and what the tip has left since is not taken off it."""
    molten = np.where(CENTRES < 0.2e-3, 0.95, 0.0)
    covers = [Cover(0.0, 0.4e-3, molten), Cover(1e-5, 0.4e-3, molten), Cover(2e-5, 0.0, molten)]
    assert through_diameter(covers, CENTRES, FACES) >= 0.0


def test_a_pool_in_the_middle_counts_for_what_it_is() -> None:
    molten = np.where(CENTRES < 0.2e-3, 1.0, 0.0)
    alone = through_diameter([Cover(0.0, 0.4e-3, molten)], CENTRES, FACES)
    later = through_diameter([Cover(t, 0.4e-3, molten) for t in (0.0, 5e-5, 1e-3)], CENTRES, FACES)
    assert later == alone == pytest.approx(0.4e-3, rel=0.1)


def test_nothing_counts_that_is_not_nearly_through_or_was_covered_long_ago() -> None:
    dry = np.full(50, NEARLY)
    growing = [Cover(k * 1e-5, 0.3e-3 + k * 1e-6, dry) for k in range(20)]
    assert largest(growing) == 0.0
    wet, frozen = np.ones(50), np.zeros(50)
    long_ago = [Cover(0.0, 0.3e-3, wet), Cover(1e-5, 0.4e-3, wet)]
    still = [Cover(1e-5 + k * FREEZING_S, 0.4e-3, frozen) for k in (1.0, 2.0)]
    assert through_diameter(long_ago + still, CENTRES, FACES) == 0.0
    assert through_diameter(long_ago, CENTRES, FACES) == pytest.approx(0.8e-3, rel=0.05)
