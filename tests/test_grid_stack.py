"""The grid of one weld: every layer in its place, fine where the contacts are."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from nugget.grid.layout import ROLL_FIRST_M, electrode_pieces
from nugget.grid.stack import Grid, build_grid, is_symmetric
from nugget.setup import Setup, default_setup, preset

PRESETS = ("default", "18650-positive", "32700-negative", "coupon", "empty-can", "sheets")
SETUPS: dict[str, Setup] = {name: preset(name) for name in PRESETS}
SETUPS["indirect"] = default_setup(["arrangement.kind=indirect"])
SETUPS["plated"] = default_setup(
    ["strip.material=nickel-plated-steel", "cell.wall_material=nickel-plated-can"]
)
# Longer and thinner than the ranges of a single layer.
SETUPS["long shank"] = default_setup(["electrode.shank_length=1000 mm", "electrode.tip_length=0.0002 mm"])
SETUPS["unequal"] = preset("sheets", ["strip.thickness=0.8 mm"])
GRIDS = {name: build_grid(setup) for name, setup in SETUPS.items()}
EVERY = pytest.mark.parametrize("name", GRIDS)
SERIES = ("default", "plated", "coupon")


def names(grid: Grid) -> list[str]:
    return [interface.name for interface in grid.interfaces]


@EVERY
def test_bands_fill_the_rows_from_bottom_to_top(name: str) -> None:
    grid = GRIDS[name]
    assert grid.layer_rows[0].start == 0
    assert grid.layer_rows[-1].end == grid.shape[0]
    assert all(below.end == above.start for below, above in pairwise(grid.layer_rows))
    assert (grid.dr > 0.0).all()
    assert (grid.dz > 0.0).all()


@EVERY
def test_every_layer_has_its_thickness_and_its_volume(name: str) -> None:
    setup, grid = SETUPS[name], GRIDS[name]
    upper = [(layer.thickness_m, layer.radius_m) for layer in reversed(setup.strip)]
    lower = [(layer.thickness_m, layer.radius_m) for layer in reversed(setup.base)]
    tip = [(piece.thickness_m, piece.radius_m) for piece in electrode_pieces(setup)]
    expected = lower + upper + tip
    if grid.bottom == "mirror":
        expected = upper + tip
    elif setup.arrangement == "opposed":
        expected = tip[::-1] + expected
    assert len(grid.layer_rows) == len(expected)
    for band, (thickness, radius) in zip(grid.layer_rows, expected, strict=True):
        rows = slice(band.start, band.end)
        assert grid.z_faces[band.end] - grid.z_faces[band.start] == pytest.approx(thickness)
        held = float(np.where(grid.active[rows], grid.volume[rows], 0.0).sum())
        assert held == pytest.approx(math.pi * radius**2 * thickness)
        assert {grid.materials[k].name for k in np.unique(grid.material[rows]) if k >= 0} == {
            band.material.name
        }


@EVERY
def test_height_zero_is_the_faying_surface(name: str) -> None:
    grid = GRIDS[name]
    faying = grid.interfaces[names(grid).index("faying")]
    assert grid.z_faces[faying.above] == 0.0
    assert faying.above == grid.rows("strip").start
    assert faying.mirrored == (grid.bottom == "mirror")


@EVERY
def test_interfaces_join_neighbouring_rows_and_fit_on_them(name: str) -> None:
    grid = GRIDS[name]
    for interface in grid.interfaces:
        assert interface.above - interface.below == (0 if interface.mirrored else 1)
        assert grid.active[[interface.above, interface.below], : interface.columns].all()
        assert 0.0 < interface.first_m <= interface.cap_m
        assert interface.cap_m <= grid.r_faces[interface.columns] * (1.0 + 1e-9)


def test_each_arrangement_has_its_interfaces_and_its_bottom() -> None:
    assert names(GRIDS["default"]) == ["tip", "faying"]
    assert names(GRIDS["unequal"]) == ["tip", "faying", "lower tip"]
    bottoms = {name: grid.bottom for name, grid in GRIDS.items()}
    assert bottoms == {
        "default": "insulated",
        "18650-positive": "insulated",
        "32700-negative": "insulated",
        "coupon": "free",
        "empty-can": "free",
        "sheets": "mirror",
        "indirect": "insulated",
        "plated": "insulated",
        "long shank": "insulated",
        "unequal": "holder",
    }


def test_the_first_contact_is_what_the_softer_side_needs_to_carry_the_force() -> None:
    setup, grid = SETUPS["default"], GRIDS["default"]
    softer = min(
        float(m.hardness(setup.ambient_K))
        for m in (setup.strip[0].material, setup.base[0].material)
        if m.hardness is not None
    )
    faying = grid.interfaces[1]
    assert faying.first_m == pytest.approx(math.sqrt(setup.force_N / (math.pi * softer)))
    assert 0.05e-3 < faying.first_m < 0.2e-3, "about 0.1 mm at 30 N on nickel"


def test_the_contact_edge_is_resolved_from_its_first_radius_to_the_cap() -> None:
    grid = GRIDS["default"]
    first = [interface.first_m for interface in grid.interfaces]
    fine = grid.dr[grid.r_faces[1:] <= 1.5 * min(first)]
    assert (fine <= min(first) / 8.0 * (1.0 + 1e-9)).all()
    cap = max(interface.cap_m for interface in grid.interfaces)
    swept = grid.dr[grid.r_faces[1:] <= cap * (1.0 + 1e-9)]
    assert (swept[1:] / swept[:-1] <= 1.06).all(), "5 % a cell"


def test_rows_are_finest_at_the_contacts() -> None:
    grid = GRIDS["default"]
    for interface in grid.interfaces:
        assert grid.dz[interface.above] <= min(i.first_m for i in grid.interfaces) / 8.0 * 1.2
        assert grid.dz[interface.below] <= min(i.first_m for i in grid.interfaces) / 8.0 * 1.2
    strip = grid.rows("strip")
    assert strip.stop - strip.start >= 8


def test_the_roll_starts_fine_where_heat_enters() -> None:
    grid = GRIDS["default"]
    roll = grid.rows("roll")
    assert grid.dz[roll][-1] <= ROLL_FIRST_M * 1.5
    assert (np.diff(grid.dz[roll]) <= 0.0).all()


@pytest.mark.parametrize("factor", [0.8, 1.25])
def test_the_radius_factor_stands_for_hardness_and_leaves_the_tip_as_it_is(factor: float) -> None:
    setup = SETUPS["default"]
    scaled = build_grid(setup.with_({"contact.radius_factor": factor * setup.contact.radius_factor}))
    harder = build_grid(setup.with_({"contact.hardness_factor": factor**-2}))
    for one, other, nominal in zip(
        scaled.interfaces, harder.interfaces, GRIDS["default"].interfaces, strict=True
    ):
        assert one.first_m == pytest.approx(other.first_m)
        assert one.cap_m == nominal.cap_m


def test_a_worn_flat_is_where_both_contacts_start() -> None:
    grid = build_grid(default_setup(["electrode.worn_flat=0.9 mm"]))
    for interface in grid.interfaces:
        assert interface.first_m == pytest.approx(0.45e-3)
        assert interface.cap_m == pytest.approx(0.75e-3)
        assert interface.moves


def test_a_rounded_tip_widens_as_a_cone_and_a_flat_one_does_not() -> None:
    def widths(form: str) -> list[float]:
        grid = build_grid(default_setup([f"electrode.tip_shape={form}"]))
        return [b.radius_m for b in grid.layer_rows if b.role in ("tip", "shank")]

    assert widths("rounded") == pytest.approx([0.75e-3, 1.0e-3, 1.25e-3, 1.5e-3])
    assert widths("flat") == pytest.approx([0.75e-3, 1.5e-3])
    height = [
        float(build_grid(default_setup([f"electrode.tip_shape={f}"])).z_faces[-1])
        for f in ("rounded", "flat")
    ]
    assert height[0] == pytest.approx(height[1])


def test_flat_faces_touch_all_over_and_spread() -> None:
    setup = preset("sheets", ["contact.faying_radius_allowance=0.3 mm"])
    tip, faying = build_grid(setup).interfaces
    assert tip.first_m == tip.cap_m == setup.face_radius_m
    assert faying.first_m == faying.cap_m == pytest.approx(setup.face_radius_m + 0.3e-3)
    assert not tip.moves


def test_rows_are_fine_where_a_tip_under_kilonewtons_widens() -> None:
    """Two rows there overstated the load of a coupon by 3 %."""
    setup, grid = SETUPS["unequal"], GRIDS["unequal"]
    for tip, shank in (("tip", "shank"), ("lower tip", "lower shank")):
        neck = max(grid.rows(tip).start, grid.rows(shank).start)
        assert (grid.dz[neck - 1 : neck + 1] <= 0.3 * setup.face_radius_m).all()


@pytest.mark.parametrize("name", SERIES)
def test_a_series_weld_is_grounded_in_strip_and_can(name: str) -> None:
    setup, grid = SETUPS[name], GRIDS[name]
    rows = {ground.row for ground in grid.grounds}
    strip, can = grid.rows("strip"), grid.rows("can")
    assert rows == set(range(strip.start, strip.stop)) | set(range(can.start, can.stop))
    for ground in grid.grounds:
        edge = grid.r_faces[ground.column + 1]
        layer = next(b for b in grid.layer_rows if b.start <= ground.row < b.end)
        assert edge == pytest.approx(min(setup.spacing_m, 0.9 * layer.radius_m))
        assert ground.planar_factor > 0.0


def test_an_indirect_weld_is_grounded_on_the_can_alone() -> None:
    grid = GRIDS["indirect"]
    can = grid.rows("can")
    assert {ground.row for ground in grid.grounds} == set(range(can.start, can.stop))


def test_a_cut_strip_is_not_grounded() -> None:
    grid = build_grid(default_setup(["strip.shunt_fraction=0"]))
    assert {ground.row for ground in grid.grounds} == set(
        range(grid.rows("can").start, grid.rows("can").stop)
    )


def test_opposed_tips_have_no_ground_in_the_sheets() -> None:
    assert GRIDS["sheets"].grounds == GRIDS["unequal"].grounds == ()


def test_only_equal_sheets_are_mirrored() -> None:
    assert is_symmetric(SETUPS["sheets"])
    assert not is_symmetric(SETUPS["unequal"])
    other = preset("sheets", ["cell.wall_material=can-steel"])
    assert not is_symmetric(other)


def test_cells_beside_a_layer_are_air() -> None:
    grid = GRIDS["default"]
    for band in grid.layer_rows:
        outside = grid.r_faces[1:] > band.radius_m * (1.0 + 1e-9)
        assert not grid.active[band.start : band.end, outside].any()
        assert grid.active[band.start : band.end, ~outside].all()


def test_one_material_in_many_layers_is_tabulated_once() -> None:
    names = [material.name for material in GRIDS["plated"].materials]
    assert len(names) == len(set(names))
    assert len(GRIDS["plated"].layer_rows) > len(names)


def test_refinement_divides_every_spacing() -> None:
    fine = build_grid(default_setup(["numerics.refinement=2"]))
    coarse = GRIDS["default"]
    assert fine.shape[0] == pytest.approx(2 * coarse.shape[0], rel=0.1)
    assert fine.shape[1] == pytest.approx(2 * coarse.shape[1], rel=0.1)
    assert [(b.role, b.radius_m) for b in fine.layer_rows] == [
        (b.role, b.radius_m) for b in coarse.layer_rows
    ]
