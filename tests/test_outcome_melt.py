"""Joint size and penetration, read off made-up levels and made-up moments."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import coarse

from nugget.outcome.melt import (
    NEVER,
    Faying,
    MeltReader,
    Zone,
    equal_diameter,
    innermost,
    outermost,
    positive_share,
)
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState

R = np.linspace(0.025e-3, 0.975e-3, 20)
"""Cell centres."""
WIDE = 2e-3
MODEL = WeldModel(coarse(name="default"))
REST = March(MODEL.setup, MODEL).begin
READER = MeltReader(MODEL)
GRID = MODEL.grid
FAYING = GRID.interfaces[1].above, GRID.interfaces[1].below


def melted(level: float | np.ndarray, radius_m: float | None = None) -> WeldState:
    """A moment with every cell that can melt at a level, and its faying contact at a radius."""
    h = np.where(READER.melts, READER.solidus + level / READER.per_span, REST.enthalpy)
    tip, faying = REST.contacts
    wide = GRID.interfaces[1].cap_m if radius_m is None else radius_m
    levels = np.broadcast_to(level, GRID.shape)
    sides = []
    for row, solidus, span in zip(FAYING, *READER.ranges, strict=True):
        sides.append(np.where(np.isfinite(solidus), solidus + levels[row] * span, 300.0))
    faying = replace(faying, radius_m=wide, above_K=sides[0], below_K=sides[1])
    return replace(REST, enthalpy=h, contacts=(tip, faying))


def joint(state: WeldState, bond_fraction: float, before: tuple[Zone, float, float] | None = None) -> Faying:
    """Diameters after a moment."""
    return READER.at_faying(READER.zone(state, bond_fraction, before), state.contacts[1].radius_m)


def disc(radius_m: float) -> np.ndarray:
    """Levels over 0.5 inside a radius, linear in r squared."""
    return np.broadcast_to(0.5 + 5.0 * (1.0 - (GRID.r / radius_m) ** 2), GRID.shape)


@given(a=st.floats(-5.0, 5.0), b=st.floats(-5.0, 5.0))
def test_the_positive_share_of_a_segment(a: float, b: float) -> None:
    share = float(positive_share(np.array(a), np.array(b)))
    points = np.linspace(a, b, 2001)
    assert share == pytest.approx((points > 0.0).mean(), abs=2e-3) if a or b else share == 1.0
    assert share == float(positive_share(np.array(b), np.array(a)))


@given(radius=st.floats(0.03e-3, 0.95e-3))
def test_a_full_zone_has_its_own_diameter(radius: float) -> None:
    level = 1.0 - (R / radius) ** 2
    assert equal_diameter(level, R, WIDE) == pytest.approx(2.0 * radius, rel=1e-9)


@given(inner=st.floats(0.1e-3, 0.5e-3), width=st.floats(0.01e-3, 0.4e-3))
def test_a_ring_counts_for_its_area(inner: float, width: float) -> None:
    """Within the rounding of its corner, which lies inside a cell."""
    outer = inner + width
    level = (R**2 - inner**2) * (outer**2 - R**2)
    found = math.pi / 4.0 * equal_diameter(level, R, WIDE) ** 2
    cell = math.pi * 2.0 * outer * (R[1] - R[0])
    assert found == pytest.approx(math.pi * (outer**2 - inner**2), abs=2.0 * cell)


@given(rise=st.floats(1e-9, 1e-3))
def test_a_zone_grows_from_nothing(rise: float) -> None:
    """The level of one ring just turns positive: the diameter is small, and continuous."""
    level = np.full(R.size, -1.0)
    level[8] = rise
    assert 0.0 < equal_diameter(level, R, WIDE) < 0.06e-3 * math.sqrt(rise / 1e-3) + 1e-9


@given(edge=st.floats(0.01e-3, 0.9e-3))
def test_nothing_counts_outside_the_contact(edge: float) -> None:
    assert equal_diameter(np.ones(R.size), R, edge) == pytest.approx(2.0 * edge)


def test_nothing_melted_is_nothing() -> None:
    assert equal_diameter(np.full(R.size, -1.0), R, WIDE) == 0.0
    assert outermost(np.full(R.size, -1.0), R) == 0.0


def test_edges_of_a_ring() -> None:
    level = np.full(R.size, -1.0)
    level[5:9] = 1.0, 1.0, 1.0, 3.0
    assert innermost(level, R) == pytest.approx(0.5 * (R[4] + R[5]))
    assert outermost(level, R) == pytest.approx(R[8] + 0.75 * (R[9] - R[8]))


def test_the_edges_of_the_nugget_are_told_as_diameters() -> None:
    r = GRID.r
    ring = np.broadcast_to(np.where((r > 0.2e-3) & (r < 0.5e-3), 1.0, 0.0), GRID.shape)
    found = joint(melted(ring), 0.9)
    last, first = r[r < 0.5e-3][-1], r[r > 0.2e-3][0]
    assert 2.0 * last < found.outer_diameter_m < 2.0 * r[r > 0.5e-3][0]
    assert 2.0 * r[r < 0.2e-3][-1] < found.inner_diameter_m < 2.0 * first
    area = found.outer_diameter_m**2 - found.inner_diameter_m**2
    assert found.nugget_m == pytest.approx(math.sqrt(area), rel=0.05)


def test_edges_of_a_disc_and_of_a_zone_as_wide_as_the_grid() -> None:
    level = 1.0 - (R / 0.5e-3) ** 2
    assert innermost(level, R) == 0.0
    assert outermost(level, R) == pytest.approx(0.5e-3, rel=1e-2)
    assert outermost(np.ones(R.size), R) == R[-1]


def test_level_is_the_liquid_fraction_carried_on() -> None:
    for level in (-0.3, 0.0, 0.5, 1.2):
        found = READER.level(melted(level).enthalpy)
        assert found[READER.melts] == pytest.approx(level, abs=1e-9)
        assert (found[~READER.melts] == NEVER).all()


def test_a_fused_disc() -> None:
    faying = joint(melted(disc(0.4e-3)), 0.9)
    assert faying.nugget_m == pytest.approx(faying.one_side_m)
    assert faying.one_side_m <= faying.bonded_m * (1.0 + 1e-9)
    assert faying.nugget_m == pytest.approx(0.8e-3, rel=1e-6)
    assert faying.outer_diameter_m == pytest.approx(0.8e-3, rel=0.02)
    assert faying.inner_diameter_m == 0.0


def test_a_diameter_is_the_mean_of_what_enthalpy_and_interface_temperature_say() -> None:
    by_enthalpy, by_temperature = melted(disc(0.4e-3)), melted(disc(0.2e-3))
    faying = joint(replace(by_enthalpy, contacts=by_temperature.contacts), 0.9)
    assert faying.both_m == pytest.approx(0.5 * (0.8e-3 + 0.4e-3), rel=1e-6)
    assert faying.one_side_m == pytest.approx(faying.both_m)


def on_steel(below_K: float) -> WeldState:
    """Nickel molten within 0.4 mm on a can at an even temperature."""
    state = melted(disc(0.4e-3))
    h = state.enthalpy.copy()
    below = GRID.interfaces[1].below
    h[: below + 1] = REST.enthalpy[: below + 1]
    tip, faying = state.contacts
    return replace(
        state,
        enthalpy=h,
        contacts=(tip, replace(faying, below_K=np.full(GRID.shape[1], below_K))),
    )


def test_molten_nickel_on_hot_steel_is_a_joint() -> None:
    """The pair mixes in all shares and melts together from 1440 C on; the steel itself need not melt."""
    found = joint(on_steel(1720.0), 0.9)
    assert READER.pair.record.kind == "soluble"
    assert found.nugget_m == pytest.approx(0.8e-3, rel=1e-6)
    assert found.one_side_m == pytest.approx(0.8e-3, rel=1e-6)
    assert found.both_m == 0.0


def test_molten_nickel_on_colder_steel_is_none() -> None:
    found = joint(on_steel(1600.0), 0.9)
    assert found.nugget_m == found.outer_diameter_m == found.inner_diameter_m == 0.0
    assert found.one_side_m == pytest.approx(0.8e-3, rel=1e-6)


@pytest.mark.parametrize(
    ("kind", "one_side", "both"), [("braze", 0.8, 0.8), ("unknown", 0.0, 0.8), ("brittle", 0.0, 0.0)]
)
def test_other_kinds_of_pairs(
    kind: str, one_side: float, both: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A braze counts like a soluble pair; an unknown one must melt on both sides; a brittle one is none."""
    record = replace(READER.pair.record, kind=kind)
    monkeypatch.setattr(READER, "pair", replace(READER.pair, record=record))
    assert joint(on_steel(1720.0), 0.9).nugget_m == pytest.approx(one_side * 1e-3, rel=1e-6)
    assert joint(melted(disc(0.4e-3)), 0.9).nugget_m == pytest.approx(both * 1e-3, rel=1e-6)


def test_melt_on_the_joined_surface_is_timed() -> None:
    first = READER.zone(replace(on_steel(1720.0), time_s=1e-3), 0.9)
    later = READER.zone(replace(on_steel(1720.0), time_s=3e-3), 0.9, (first, 1e-3, 1e-3))
    last = READER.zone(replace(melted(-1.0), time_s=4e-3), 0.9, (later, 1e-3, 3e-3))
    assert last.wet_s[0] == pytest.approx(2e-3)
    assert last.wet_s[GRID.r > 0.5e-3].max() == 0.0


def test_what_has_fused_stays_fused() -> None:
    """A ring that moves outwards leaves its inside frozen, and welded."""
    before = READER.zone(melted(disc(0.4e-3)), 0.9), GRID.interfaces[1].cap_m, 0.0
    assert joint(melted(-1.0), 0.9, before).nugget_m == pytest.approx(0.8e-3, rel=1e-6)
    assert joint(melted(disc(0.5e-3)), 0.9, before).nugget_m == pytest.approx(1.0e-3, rel=1e-6)


def test_what_was_molten_before_the_contact_came_is_not_fused() -> None:
    before = READER.zone(melted(disc(0.6e-3), radius_m=0.3e-3), 0.9), 0.3e-3, 0.0
    frozen = melted(-1.0, radius_m=0.6e-3)
    assert joint(frozen, 0.9, before).nugget_m < 0.6e-3 + 3.0 * GRID.dr[GRID.r < 0.7e-3].max()


def test_fusion_ends_at_the_contact_edge() -> None:
    faying = joint(melted(disc(0.6e-3), radius_m=0.3e-3), 0.9)
    assert faying.nugget_m == pytest.approx(0.6e-3)
    assert faying.outer_diameter_m == pytest.approx(0.6e-3)


@pytest.mark.parametrize(("fraction", "bonds"), [(0.5, True), (0.9, False)])
def test_a_solid_bond_needs_its_share_of_the_lower_melting_point(fraction: float, bonds: bool) -> None:
    state = melted(-5.0)
    tip, faying = state.contacts
    warm = np.full(GRID.shape[1], 1000.0)
    state = replace(state, contacts=(tip, replace(faying, above_K=warm + 300.0, below_K=warm)))
    found = joint(state, fraction)
    assert found.nugget_m == 0.0
    assert found.bonded_m == pytest.approx(2.0 * GRID.interfaces[1].cap_m if bonds else 0.0)


@pytest.mark.parametrize(
    ("radius", "level", "molten"), [(1.0, 0.6, True), (0.9, 0.6, False), (1.0, 0.4, False)]
)
def test_the_rim_counts_once_the_contact_is_at_its_cap(radius: float, level: float, molten: bool) -> None:
    state = melted(level, radius * GRID.interfaces[1].cap_m)
    assert READER.rim_is_molten(state) is molten


@pytest.mark.parametrize("role", ["strip", "can"])
def test_the_melted_share_of_a_layer(role: str) -> None:
    """Level falls evenly from 1 at the faying surface to -0.25 at the far face: 40 % is above 0.5."""
    rows = GRID.rows(role)
    low, high = GRID.z_faces[rows.start], GRID.z_faces[rows.stop]
    depth = np.abs(GRID.z) / (high - low)
    share = READER.melted_share(melted((1.0 - 1.25 * depth)[:, None]), rows)
    columns = GRID.active[rows].all(axis=0)
    assert share[columns] == pytest.approx(0.4, abs=1e-6)
    assert READER.melted_share(melted(0.6), rows)[columns] == pytest.approx(1.0)
    assert READER.melted_share(melted(0.4), rows)[columns] == pytest.approx(0.0)


def test_heat_beyond_the_boiling_point_is_vapour() -> None:
    h = REST.enthalpy.copy()
    place = GRID.rows("strip").start, 0
    h[place] = MODEL.tables.boiling_J_m3[GRID.material[place]] + 1e9
    assert READER.vapour_J(replace(REST, enthalpy=h)) == pytest.approx((1e9 * GRID.volume[place], 0.0))
    wall = GRID.rows("can").stop - 1, 0
    h[wall] = MODEL.tables.boiling_J_m3[GRID.material[wall]] + 2e9
    expected = 1e9 * GRID.volume[place] + 2e9 * GRID.volume[wall], 2e9 * GRID.volume[wall]
    assert READER.vapour_J(replace(REST, enthalpy=h)) == pytest.approx(expected)
    assert READER.vapour_J(REST) == (0.0, 0.0)


def test_a_mirrored_joint_has_two_equal_sides() -> None:
    model = WeldModel(coarse(name="sheets"))
    reader, rest = MeltReader(model), March(model.setup, model).begin
    h = np.where(reader.melts, reader.solidus + 0.8 / reader.per_span, rest.enthalpy)
    upper, lower = reader.side_levels(replace(rest, enthalpy=h), 1)
    assert upper is lower
    assert upper[0] == pytest.approx(0.8)
