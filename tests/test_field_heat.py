"""The heat operator: symmetric, and every iterate balances energy to rounding."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from small import coarse, column_grid, matter

from nugget.contact.laws import MetallicContact
from nugget.contact.spot import coverage
from nugget.field.heat import STALE, Conduction, HeatField, ThermalContact
from nugget.grid.layout import electrode_pieces
from nugget.grid.stack import Grid, Interface, build_grid

AMBIENT, HOLDER, FILM = 293.0, 310.0, 40.0
GRIDS = {
    "cell": build_grid(coarse("cell.conductance_below=2e4 W/(m2 K)", name="default")),
    "coupon": build_grid(coarse()),
    "mirrored": build_grid(coarse(name="sheets")),
    "opposed": build_grid(coarse("strip.thickness=0.8 mm", name="sheets")),
}
EVERY = pytest.mark.parametrize("name", GRIDS)


def thermal_contacts(grid: Grid, gap: float = 5000.0) -> list[ThermalContact]:
    return [
        ThermalContact(
            coverage(0.55 * i.cap_m, grid.r_faces) * (np.arange(grid.shape[1]) < i.columns),
            np.full(grid.shape[1], 2e-7),
            gap,
        )
        for i in grid.interfaces
    ]


def field(grid: Grid, film: float = FILM) -> HeatField:
    return HeatField(grid, AMBIENT, HOLDER, film)


def conduction(heat: HeatField) -> Conduction:
    """Conductivities that differ along r and z and from cell to cell."""
    random = np.random.default_rng(3)
    k_r, k_z = (20.0 + 300.0 * random.random(heat.grid.shape) for _ in range(2))
    return heat.conduction(k_r, k_z, thermal_contacts(heat.grid))


def some_field(grid: Grid, seed: int) -> np.ndarray:
    return 300.0 + 1000.0 * np.random.default_rng(seed).random(grid.shape)


@EVERY
def test_the_operator_is_symmetric(name: str) -> None:
    """What a warm cell sends to another is what it would get from it."""
    heat = field(GRIDS[name])
    conducting, none = conduction(heat), np.zeros(heat.grid.shape)
    still = heat.net(conducting, none, none.copy())  # what ambient and holder send at 0 K
    x, y = some_field(heat.grid, 4), some_field(heat.grid, 5)
    Kx = heat.net(conducting, x, none.copy()) - still
    Ky = heat.net(conducting, y, none.copy()) - still
    assert (y * Kx).sum() == pytest.approx((x * Ky).sum(), rel=1e-11)
    assert (x * Kx).sum() < 0.0


@EVERY
def test_what_leaves_one_cell_enters_another(name: str) -> None:
    """Without losses nothing but the holder takes heat, and the sum over all cells says how much."""
    heat = field(GRIDS[name], film=0.0)
    conducting, T = conduction(heat), some_field(GRIDS[name], 4)
    power = np.where(heat.active, 1e-3, 0.0)
    holder = float((conducting.g_top * (T[-1] - HOLDER)).sum())
    if conducting.g_bottom is not None:
        holder += float((conducting.g_bottom * (T[0] - HOLDER)).sum())
    total = heat.net(conducting, T, power.copy()).sum()
    assert total == pytest.approx(power.sum() - holder, rel=1e-9)


@EVERY
def test_an_even_field_stays_even(name: str) -> None:
    heat = HeatField(GRIDS[name], AMBIENT, AMBIENT, FILM)
    T = np.full(heat.grid.shape, AMBIENT)
    assert np.abs(heat.net(conduction(heat), T, np.zeros(heat.grid.shape))).max() < 1e-9


@pytest.mark.parametrize("stale", [False, True])
@EVERY
def test_every_newton_step_balances_energy(name: str, stale: bool) -> None:
    """Gain of enthalpy = heat put in - holder - air, also with an operator from another state."""
    heat, tau = field(GRIDS[name]), 1e-4
    conducting = conduction(heat)
    capacity = np.full(heat.grid.shape, 4e6)
    old = conducting
    if stale:
        old = heat.conduction(
            np.full(heat.grid.shape, 90.0), np.full(heat.grid.shape, 15.0), thermal_contacts(heat.grid)
        )
    operator = heat.factor(old, capacity, tau)
    T, start = some_field(heat.grid, 4), 4e6 * some_field(heat.grid, 5)
    power = np.where(heat.active, 5.0 * some_field(heat.grid, 6) / 1300.0, 0.0)
    step = operator.newton(conducting, start, (4e6 * T, T), power.copy())
    gain = float((heat.volume * (step.enthalpy_J_m3 - start)).sum()) / tau
    scale = float((heat.volume * np.abs(step.enthalpy_J_m3 - start)).sum()) / tau
    assert gain == pytest.approx(power.sum() - step.holder_W - step.air_W, abs=1e-11 * scale)


@EVERY
def test_a_newton_step_solves_a_linear_stage_at_once(name: str) -> None:
    heat, tau = field(GRIDS[name]), 1e-3
    conducting, capacity = conduction(heat), np.full(heat.grid.shape, 4e6)
    operator = heat.factor(conducting, capacity, tau)
    T = some_field(heat.grid, 4)
    start = capacity * T
    power = np.where(heat.active, 0.1, 0.0)
    step = operator.newton(conducting, start, (start, T), power.copy())
    left = heat.volume * (start - step.enthalpy_J_m3) / tau + heat.net(conducting, step.temperature_K, power)
    assert np.abs(left[heat.active]).max() < 1e-8 * np.abs(heat.volume * start / tau).max()


def test_the_operator_is_kept_while_it_hardly_changes() -> None:
    heat = field(GRIDS["coupon"])
    conducting, capacity = conduction(heat), np.full(heat.grid.shape, 4e6)
    kept = heat.factor(conducting, capacity, 1e-4)
    assert heat.operator(conducting, capacity * (1.0 + 0.3 * STALE), 1e-4, kept) is kept
    assert heat.solver.factorisations == 1
    assert heat.operator(conducting, capacity, 2e-4, kept) is not kept, "another step size"
    assert heat.solver.factorisations == 2
    capacity = capacity.copy()
    capacity[5, 0] *= 30.0
    assert heat.operator(conducting, capacity, 1e-4, kept) is not kept, "one cell began to melt"
    assert heat.solver.factorisations == 3


def test_an_operator_outlives_later_ones() -> None:
    heat = field(GRIDS["coupon"])
    conducting, capacity = conduction(heat), np.full(heat.grid.shape, 4e6)
    change = some_field(heat.grid, 7)
    operator = heat.factor(conducting, capacity, 1e-4)
    once = operator.damped(change)
    others = [heat.factor(conducting, capacity, tau) for tau in (1e-6, 1e-5, 1e-3)]
    assert all((other.damped(change) != once).any() for other in others)
    assert (operator.damped(change) == once).all()


@EVERY
def test_damping_keeps_slow_changes_and_takes_fast_ones(name: str) -> None:
    """One lonely cell spreads over its neighbours within a long stage, and not within a short one."""
    grid = GRIDS[name]
    heat = field(grid, 0.0)
    given = conduction(heat)
    lonely = np.zeros(grid.shape)
    middle = tuple(np.argwhere(grid.active)[grid.active.sum() // 2])
    lonely[middle] = 1e6
    left = {}
    for tau in (1e-9, 1e-1):
        operator = heat.factor(given, np.full(grid.shape, 4e6), tau)
        left[tau] = float(operator.damped(lonely)[middle])
    assert left[1e-9] == pytest.approx(1e6, rel=0.01)
    assert 0.0 < left[1e-1] < 2e5


def wire(interface_below: float | None = None, interfaces: tuple[Interface, ...] = ()) -> HeatField:
    lower = ("can", matter(), [-2e-3, -1e-3, 0.0])
    upper = ("tip", matter(), [0.0, 1e-3, 2e-3])
    grid = column_grid([lower, upper], [0.0, 1e-3], interfaces)
    layer_rows = (grid.layer_rows[0], replace(grid.layer_rows[1], conductance_below_W_m2K=interface_below))
    return HeatField(replace(grid, layer_rows=layer_rows), AMBIENT, HOLDER, 0.0)


def test_conductances_are_half_cells_in_series() -> None:
    heat = wire()
    k_z = np.array([[10.0], [40.0], [40.0], [20.0]])
    made = heat.conduction(k_z, k_z, [])
    area = math.pi * 1e-6
    assert made.g_z[:, 0] == pytest.approx(
        [area / (0.5e-3 / 10 + 0.5e-3 / 40), area / (1e-3 / 40), area / (0.5e-3 / 40 + 0.5e-3 / 20)]
    )
    assert made.g_top == pytest.approx(area / (0.5e-3 / 20))


def test_a_conductance_below_a_layer_stands_in_series() -> None:
    k = np.full((4, 1), 50.0)
    made = wire(2e4).conduction(k, k, [])
    assert made.g_z[1, 0] == pytest.approx(math.pi * 1e-6 / (1e-3 / 50.0 + 1.0 / 2e4))


def test_an_interface_conducts_by_its_contact_and_by_the_gas_beside_it() -> None:
    faying = Interface("faying", 2, 1, 1, 1e-3, 1e-3, False, MetallicContact())
    heat, k = wire(interfaces=(faying,)), np.full((4, 1), 50.0)

    def across(covered: float, gap: float) -> float:
        thermal_contact = ThermalContact(np.array([covered]), np.array([3e-6]), gap)
        return float(heat.conduction(k, k, [thermal_contact]).g_z[1, 0]) / (math.pi * 1e-6)

    series = 1e-3 / 50.0
    assert across(1.0, 5000.0) == pytest.approx(1.0 / (series + 3e-6))
    assert across(0.0, 5000.0) == pytest.approx(1.0 / (series + 1.0 / 5000.0))
    assert across(0.25, 5000.0) == pytest.approx(0.25 * across(1.0, 0.0) + 0.75 * across(0.0, 5000.0))
    assert across(0.0, 0.0) == 0.0, "a lifted tip"


def lossy(name: str) -> float:
    heat = HeatField(GRIDS[name], AMBIENT, AMBIENT, 1.0)
    return float(heat.g_air.sum())


def test_free_surfaces_lose_heat_and_rims_do_not() -> None:
    """Strip top beside the tip, sides and steps of the electrode; of a coupon also the lower face."""
    setup = coarse()
    pieces = electrode_pieces(setup)
    tip = pieces[0].radius_m
    strip, can = setup.strip[0].radius_m, setup.base[0].radius_m
    sides = 2.0 * math.pi * sum(piece.radius_m * piece.thickness_m for piece in pieces)
    steps = sum(b.radius_m**2 - a.radius_m**2 for a, b in pairwise(pieces))
    faces = math.pi * (strip**2 - tip**2 + steps + can**2 - strip**2 + can**2)
    assert lossy("coupon") == pytest.approx(sides + faces)


def test_the_roll_is_closed_below() -> None:
    grid = GRIDS["cell"]
    heat = HeatField(grid, AMBIENT, AMBIENT, 1.0)
    assert (heat.g_air[grid.rows("roll")].sum(axis=1)[:-1] == 0.0).all()
