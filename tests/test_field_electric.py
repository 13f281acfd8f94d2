"""The field of one ampere: nothing is lost on the way, and all heat adds up to the resistance."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from small import coarse, column_grid, matter

from nugget.contact.laws import MetallicContact
from nugget.contact.spot import coverage
from nugget.field.electric import ElectricalContact, ElectricField, ElectricSolution
from nugget.grid.stack import Grid, Interface, build_grid

SETUPS = {
    "series": coarse(name="default"),
    "indirect": coarse("arrangement.kind=indirect", name="default"),
    "mirrored": coarse(name="sheets"),
    "opposed": coarse("strip.thickness=0.8 mm", name="sheets"),
}
GRIDS = {name: build_grid(setup) for name, setup in SETUPS.items()}
EVERY = pytest.mark.parametrize("name", GRIDS)
WIRE = 1e-3
AREA = math.pi * WIRE**2


def electrical_contacts(grid: Grid, ohm_m2: float = 3e-11) -> list[ElectricalContact]:
    """Contacts of different sizes whose edges lie inside columns."""
    found = []
    for number, interface in enumerate(grid.interfaces):
        radius = (0.45 + 0.2 * number) * interface.cap_m
        covered = coverage(radius, grid.r_faces) * (np.arange(grid.shape[1]) < interface.columns)
        found.append(ElectricalContact(covered, np.full(grid.shape[1], ohm_m2 * (1.0 + number))))
    return found


def uneven(grid: Grid) -> np.ndarray:
    """Conductivities that differ from cell to cell [S/m]."""
    return 1e7 * (0.3 + np.random.default_rng(1).random(grid.shape))


def solved(grid: Grid, ohm_m2: float = 3e-11) -> ElectricSolution:
    return ElectricField(grid).solve(uneven(grid), electrical_contacts(grid, ohm_m2))


def outflow(grid: Grid, solution: ElectricSolution) -> np.ndarray:
    """Net current out of every cell to its neighbours [A], face by face, from the potentials.

    Written without the solver's own conductances, as slowly as it reads.
    """
    sigma, phi, joints = uneven(grid), solution.potential, electrical_contacts(grid)
    net = np.zeros(grid.shape)
    ends = {ground.row: ground.column for ground in grid.grounds}
    conducts = np.array([m.resistivity is not None for m in grid.materials])
    inside = grid.active & conducts[grid.material]

    def pass_on(a: tuple[int, int], b: tuple[int, int], ohm: float) -> None:
        net[a] += (phi[a] - phi[b]) / ohm
        net[b] -= (phi[a] - phi[b]) / ohm

    for i in range(grid.shape[0]):
        for j in range(min(ends.get(i, grid.shape[1] - 1), grid.shape[1] - 1) + 1):
            if not inside[i, j]:
                continue
            if j < ends.get(i, grid.shape[1] - 1) and inside[i, j + 1]:
                half = [0.5 * grid.dr[n] / sigma[i, n] for n in (j, j + 1)]
                pass_on((i, j), (i, j + 1), sum(half) / (2.0 * np.pi * grid.r_faces[j + 1] * grid.dz[i]))
            above = i + 1
            if above < grid.shape[0] and inside[above, j] and j <= ends.get(above, grid.shape[1]):
                per_area = 0.5 * grid.dz[i] / sigma[i, j] + 0.5 * grid.dz[above] / sigma[above, j]
                share = 1.0
                for interface, joint in zip(grid.interfaces, joints, strict=True):
                    if (interface.below, interface.above) == (i, above):
                        per_area += joint.resistance[j]
                        share = joint.contact_fraction[j]
                if share > 0.0:
                    pass_on((i, j), (above, j), per_area / (share * grid.area_z[j]))
    return net


@EVERY
def test_one_ampere_enters_and_leaves_and_nothing_is_lost_on_the_way(name: str) -> None:
    grid = GRIDS[name]
    solution = solved(grid)
    net = outflow(grid, solution)
    assert net[-1].sum() == pytest.approx(1.0), "through the electrode top"
    if grid.grounds:
        out = [(ground.row, ground.column) for ground in grid.grounds]
    else:
        out = [(0, j) for j in range(grid.shape[1])]
    leaving = -sum(net[cell] for cell in out)
    assert leaving == pytest.approx(1.0)
    middle = net.copy()
    middle[-1] = 0.0
    for cell in out:
        middle[cell] = 0.0
    assert np.abs(middle).max() < 1e-9


@EVERY
def test_all_heat_adds_up_to_the_resistance(name: str) -> None:
    """I^2 R for one ampere: cells, interfaces and the sheet outside."""
    grid = GRIDS[name]
    solution = solved(grid)
    joints = sum(
        float((heat * electrical_contact.contact_fraction * grid.area_z).sum())
        for heat, electrical_contact in zip(solution.interface_heat, electrical_contacts(grid), strict=True)
    )
    if grid.bottom == "mirror":
        # The faying heat is that of both halves; half of it belongs to the half that is solved.
        tip, faying = (
            float((heat * electrical_contact.contact_fraction * grid.area_z).sum())
            for heat, electrical_contact in zip(
                solution.interface_heat, electrical_contacts(grid), strict=True
            )
        )
        joints = tip + 0.5 * faying
    assert joints > 0.0
    assert (solution.heat >= 0.0).all()
    assert solution.heat.sum() + joints + solution.outside_heat == pytest.approx(
        solution.resistance_ohm, rel=1e-10
    )


@EVERY
def test_the_potential_falls_from_the_electrode_to_ground(name: str) -> None:
    """No cell lies above the electrode's top or below ground, and one ampere comes in at the top."""
    grid = GRIDS[name]
    solution = solved(grid)
    assert solution.potential.min() >= 0.0
    assert solution.potential.max() <= solution.resistance_ohm
    top = grid.active[-1]
    per_volt = uneven(grid)[-1] * grid.area_z / (0.5 * grid.dz[-1])
    inflow = (per_volt * (solution.resistance_ohm - solution.potential[-1]))[top].sum()
    assert inflow == pytest.approx(1.0, rel=1e-10)


def test_insulators_and_sheets_behind_their_ground_take_no_part() -> None:
    grid = GRIDS["series"]
    solution = solved(grid)
    interior = slice(grid.rows("roll").start, grid.rows("disc").stop)
    assert (solution.heat[interior] == 0.0).all()
    for ground in grid.grounds:
        assert (solution.heat[ground.row, ground.column + 1 :] == 0.0).all()
        assert solution.heat[ground.row, ground.column] > 0.0


def test_only_a_grounded_sheet_heats_outside_the_model() -> None:
    assert solved(GRIDS["series"]).outside_heat > 0.0
    assert solved(GRIDS["opposed"]).outside_heat == 0.0


def test_a_wire_has_its_textbook_resistance() -> None:
    grid = column_grid([("tip", matter(), [0.0, 1e-3, 4e-3, 1e-2])], r_faces=[0.0, 0.4e-3, WIRE])
    solution = ElectricField(grid).solve(np.full(grid.shape, 1e7), [])
    assert solution.resistance_ohm == pytest.approx(1e-7 * 1e-2 / AREA)
    share = np.diff([0.0, 1e-3, 4e-3, 1e-2]) / 1e-2
    assert solution.heat.sum(axis=1) == pytest.approx(share * solution.resistance_ohm)


def joined(covered: float, ohm_m2: float, mirrored: bool = False) -> tuple[Grid, ElectricSolution]:
    """Two wires end to end, 5 mm each (one of them when mirrored), joined over a share of the end."""
    law = MetallicContact()
    faying = Interface("faying", 0 if mirrored else 1, 0, 1, WIRE, WIRE, False, law)
    upper = ("strip", matter(), [0.0, 5e-3])
    layers = [upper] if mirrored else [("can", matter(), [-5e-3, 0.0]), upper]
    grid = column_grid(layers, [0.0, WIRE], [faying], "mirror" if mirrored else "holder")
    electrical_contact = ElectricalContact(np.array([covered]), np.array([ohm_m2]))
    return grid, ElectricField(grid).solve(np.full(grid.shape, 1e7), [electrical_contact])


def test_an_interface_stands_in_series() -> None:
    _, solution = joined(1.0, 1e-9)
    assert solution.resistance_ohm == pytest.approx((1e-7 * 1e-2 + 1e-9) / AREA)
    assert solution.interface_heat[0] == pytest.approx(1e-9 / AREA**2)


def test_current_crowds_into_the_covered_share() -> None:
    """The half cells beside the contact carry it through half of their area."""
    _, solution = joined(0.5, 1e-9)
    expected = (1e-7 * 5e-3 + (1e-7 * 5e-3 + 1e-9) / 0.5) / AREA
    assert solution.resistance_ohm == pytest.approx(expected)
    assert solution.interface_heat[0] == pytest.approx(1e-9 / (0.5 * AREA) ** 2)


def test_half_of_a_mirrored_stack_resists_half() -> None:
    _, half = joined(0.7, 1e-9, mirrored=True)
    _, whole = joined(0.7, 1e-9)
    assert 2.0 * half.resistance_ohm == pytest.approx(whole.resistance_ohm)
    assert half.interface_heat[0] == pytest.approx(whole.interface_heat[0])


@EVERY
def test_resistance_and_heat_follow_the_resistivity(name: str) -> None:
    """Twice the conductivity and half the film: half the load, the same pattern."""
    grid = GRIDS[name]
    field = ElectricField(grid)
    one = field.solve(uneven(grid), electrical_contacts(grid))
    half = field.solve(2.0 * uneven(grid), electrical_contacts(grid, 1.5e-11))
    assert half.resistance_ohm == pytest.approx(0.5 * one.resistance_ohm)
    assert half.heat == pytest.approx(0.5 * one.heat, rel=1e-8, abs=1e-12 * one.heat.max())


def test_a_smaller_contact_resists_more() -> None:
    grid = GRIDS["series"]
    field, whole = ElectricField(grid), electrical_contacts(grid)
    smaller = [
        replace(electrical_contact, contact_fraction=0.5 * electrical_contact.contact_fraction)
        for electrical_contact in whole
    ]
    assert field.solve(uneven(grid), smaller).resistance_ohm > field.solve(uneven(grid), whole).resistance_ohm


def test_a_grid_of_insulators_carries_nothing_and_says_so() -> None:
    plastic = matter("plastic", rho=None)
    grid = column_grid([("can", plastic, [-1e-3, 0.0]), ("tip", plastic, [0.0, 1e-3])])
    field = ElectricField(grid)
    with pytest.raises(ArithmeticError, match="no current can flow"):
        field.solve(np.full(grid.shape, 1e7), [])
