"""Which metals meet, and what a joint of them holds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nugget.grid.platings import bearing_row
from nugget.grid.stack import build_grid
from nugget.outcome import joint
from nugget.setup import default_setup


def pair_of(*overrides: str) -> joint.FayingPair:
    grid = build_grid(default_setup(list(overrides)))
    return joint.faying_pair(grid, next(i for i in grid.interfaces if i.name == "faying"))


def test_the_metals_that_meet_are_the_surfaces() -> None:
    plain = pair_of()
    assert (plain.upper.name, plain.lower.name) == ("nickel-200", "can-steel")
    assert plain.counted
    plated = pair_of("cell.wall_material=nickel-plated-can")
    assert plated.lower.name == "nickel"
    assert plated.counted


def test_a_plating_that_does_not_join_is_squeezed_out() -> None:
    """Zinc on the strip: the steels behind it meet."""
    zinc = pair_of("strip.material=zinc-coated-steel")
    assert "zinc" not in zinc.upper.name
    assert zinc.counted


def test_aluminium_on_steel_is_named_and_not_counted() -> None:
    found = pair_of("cell.wall_material=aluminium-can")
    assert found.record.kind == "brittle"
    assert not found.counted
    level = found.level(np.full(3, 3000.0), np.full(3, 1.0), np.full(3, 1.0))
    assert (level < 0.0).all()


def test_the_layer_behind_a_plating_carries_the_contact() -> None:
    grid = build_grid(default_setup(["strip.material=nickel-plated-steel"]))
    tip, faying = grid.interfaces
    for row, way in ((tip.below, -1), (faying.above, +1)):
        plating = grid.materials[grid.material[row, 0]].name
        behind = grid.materials[grid.material[bearing_row(grid, row, way), 0]].name
        assert (plating, behind) == ("nickel", "low-carbon-steel")
    assert bearing_row(grid, tip.above, +1) == tip.above, "a thick layer carries itself"


def test_dissolving_goes_with_the_root_of_time() -> None:
    """sqrt(4 x 5e-9 x 5e-3) is 10 um."""
    assert joint.dissolved_depth(np.array([0.0, 5e-3, 20e-3])) == pytest.approx([0.0, 1e-5, 2e-5])


def test_shear_parts_the_nugget_or_the_strip_whichever_is_weaker() -> None:
    tau = 380e6 / math.sqrt(3.0)
    assert joint.shear_force(0.4e-3, 0.15e-3, 380e6) == pytest.approx(0.25 * math.pi * 0.4e-3**2 * tau)
    assert joint.shear_force(0.8e-3, 0.15e-3, 380e6) == pytest.approx(math.pi * 0.8e-3 * 0.15e-3 * tau)


def test_peel_of_thin_nickel_is_what_practice_asks_for() -> None:
    """20 to 50 N a pair for 0.15 mm."""
    assert 20.0 < 2.0 * joint.peel_force(0.7e-3, 0.15e-3, 380e6) < 50.0
    shear = joint.shear_force(0.7e-3, 0.15e-3, 380e6)
    assert shear / joint.peel_force(0.7e-3, 0.15e-3, 380e6) == pytest.approx(7.0), "4 to 7, published"


def test_a_small_nugget_peels_as_easily_as_it_shears() -> None:
    """Where the nugget parts and not the strip it holds a share of its shear too."""
    for diameter_m in (0.1e-3, 0.3e-3, 0.9e-3):
        shear = joint.shear_force(diameter_m, 0.15e-3, 380e6)
        assert joint.peel_force(diameter_m, 0.15e-3, 380e6) <= shear / 4.0
