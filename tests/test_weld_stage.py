"""What one implicit stage needs, and how it says that it cannot go on."""

from __future__ import annotations

import math
from dataclasses import replace
from unittest import mock

import numpy as np
import pytest
from small import coarse

from nugget.errors import SolverError
from nugget.field.heat import NewtonUpdate
from nugget.outcome.weld import run_weld
from nugget.setup import default_setup
from nugget.weld import model as weld_model
from nugget.weld.active_source import ActiveSource
from nugget.weld.model import WeldModel
from nugget.weld.stage import Iterate, StageProblem, StageResult, StageSolver, StageTolerance, across_kinks
from nugget.weld.state import at_rest

SETUPS = {
    "series": coarse(name="default"),
    "indirect": coarse("arrangement.kind=indirect", "arrangement.return_resistance=0.4 mohm"),
    "mirrored": coarse(name="sheets"),
    "opposed": coarse("strip.thickness=0.8 mm", name="sheets"),
}
MODELS = {name: WeldModel(setup) for name, setup in SETUPS.items()}
EVERY = pytest.mark.parametrize("name", MODELS)


def test_the_load_that_the_source_sees() -> None:
    """Series: two axes in series. Opposed: the whole stack. Indirect: axis and return tip."""
    seen = {name: model.load_ohm(1e-3) for name, model in MODELS.items()}
    expected = {"series": 2e-3, "indirect": 1.4e-3, "mirrored": 2e-3, "opposed": 1e-3}
    assert seen == pytest.approx(expected)


@EVERY
def test_everything_starts_at_ambient(name: str) -> None:
    model = MODELS[name]
    T, _ = model.cells.temperature(model.initial())
    assert pytest.approx(model.setup.ambient_K, abs=0.1) == T[model.grid.active]


@EVERY
def test_the_heat_of_a_current_is_its_square_times_the_resistance(name: str) -> None:
    """Interface heat and the sheet outside included, for the modelled part of the load."""
    model = MODELS[name]
    rest = at_rest(model)
    _, _, sigma, _ = model.cells.properties(rest.temperature)
    solution = model.solve_electric(sigma, rest.contacts)
    heat = model.heat_W(solution, 1500.0, rest.contacts)
    assert heat.sum() + 1500.0**2 * solution.outside_heat == pytest.approx(
        1500.0**2 * solution.resistance_ohm
    )
    assert (heat[~model.grid.active] == 0.0).all()
    assert heat.sum() > 1500.0**2 * solution.heat.sum(), "interfaces heat too"


def test_a_lifted_tip_conducts_nothing_and_the_joint_stays() -> None:
    model = MODELS["series"]
    contacts = at_rest(model).contacts
    closed, lifted = model.thermal_contacts(contacts, True), model.thermal_contacts(contacts, False)
    assert closed[0].contact_fraction.sum() > 0.0
    assert closed[0].gap_W_m2K > 0.0
    assert lifted[0].contact_fraction.sum() == lifted[0].gap_W_m2K == 0.0
    assert (lifted[1].contact_fraction == closed[1].contact_fraction).all()
    assert lifted[1].gap_W_m2K == closed[1].gap_W_m2K


def test_both_tips_of_an_opposed_weld_lift() -> None:
    model = MODELS["opposed"]
    lifted = model.thermal_contacts(at_rest(model).contacts, False)
    conducting = [
        i.name
        for i, thermal_contact in zip(model.grid.interfaces, lifted, strict=True)
        if thermal_contact.contact_fraction.any()
    ]
    assert conducting == ["faying"]


def test_an_error_of_the_tolerance_counts_as_one() -> None:
    """4 MJ/(m3 K) or what the solid holds at its solidus; hot cells are allowed more.

    On another grid it counts as the fronts do, whose share of the cells falls with refinement.
    """
    model = MODELS["series"]
    tolerance = model.setup.numerics.tolerance_K
    warm = np.full(model.grid.shape, model.setup.ambient_K + 1.0)
    off = tolerance * model.tables.sensible_J_m3K[model.index]
    one = math.sqrt(model.setup.numerics.refinement)
    assert model.error_norm(off, warm) == pytest.approx(one, rel=2e-3)
    assert model.error_norm(2.0 * off, warm) == pytest.approx(2.0 * one, rel=2e-3)
    assert model.error_norm(off, warm + 1000.0) < 0.6 * one


def test_an_error_counts_for_more_while_few_cells_are_warm() -> None:
    model = MODELS["series"]
    T, off = np.full(model.grid.shape, model.setup.ambient_K + 1.0), np.zeros(model.grid.shape)
    spot = model.grid.interfaces[0].above, 0
    T[spot], off[spot] = T[spot] + 500.0, 1e9
    early = model.error_norm(off, T)
    late = model.error_norm(off, np.maximum(T, model.setup.ambient_K + 20.0))
    assert early == pytest.approx(late / math.sqrt(weld_model.FEWEST), rel=1e-3)


def test_after_the_current_errors_count_in_temperature_and_most_inside_the_cell() -> None:
    model = MODELS["series"]
    warm = np.full(model.grid.shape, model.setup.ambient_K + 1.0)
    sensible = model.tables.sensible_J_m3K[model.index]
    metal, inside = (np.zeros(model.grid.shape) for _ in range(2))
    metal[model.grid.rows("strip"), 0] = inside[model.grid.rows("separator"), 0] = 1.0
    for where, weight in ((metal, weld_model.COOLING_METAL), (inside, weld_model.COOLING_INSIDE)):
        off = 30.0 * where * sensible
        heated = model.error_norm(off, warm)
        assert model.cooling_norm(off, warm, sensible) == pytest.approx(weight * heated)
        # While it freezes, 30 K worth of heat are 3 K.
        assert model.cooling_norm(off, warm, 10.0 * sensible) == pytest.approx(0.1 * weight * heated)


def test_no_stage_of_an_ordinary_weld_is_given_up() -> None:
    """Cells that hop over both ends of melting would swing for ever, were they not halved."""
    same = {"pulse.0.duration": "9 ms", "numerics.refinement": 0.5}
    given_up, solve = [], StageSolver.solve

    def counted(self: StageSolver, problem: StageProblem) -> StageResult:
        try:
            return solve(self, problem)
        except SolverError as failure:
            given_up.append(failure)
            raise

    with mock.patch.object(StageSolver, "solve", counted):
        for volts in ("12 V", "13 V"):
            run_weld(default_setup().with_({**same, "source.open_circuit_voltage": volts}))
    assert not given_up


def test_stored_heat_is_that_of_the_active_cells() -> None:
    model = MODELS["series"]
    total = sum(
        np.pi * b.radius_m**2 * (model.grid.z_faces[b.end] - model.grid.z_faces[b.start])
        for b in model.grid.layer_rows
    )
    assert model.stored(np.full(model.grid.shape, 2e6)) == pytest.approx(2e6 * total)


def stage(
    model: WeldModel,
    h: np.ndarray,
    tau: float = 1e-5,
    on: bool = True,
    tolerance: StageTolerance | None = None,
) -> StageResult:
    rest = at_rest(model)
    _, _, sigma = model.cells.conductivities(rest.temperature)
    source = ActiveSource(model.setup.circuit, model.setup.train[0], 0.0) if on else None
    begin = replace(rest, time_s=2e-3 - tau, enthalpy=h, electric=model.solve_electric(sigma, rest.contacts))
    return StageSolver(model, tolerance).solve(StageProblem.implicit_euler(begin, tau, source))


@EVERY
def test_a_stage_balances_energy_and_the_circuit(name: str) -> None:
    """h - tau f(h) = start, and V = I (R + load) + L I / tau from rest."""
    model, tau = MODELS[name], 2e-5
    start = model.initial()
    found = stage(model, start, tau)
    flows = found.powers
    gained = model.stored(found.enthalpy - start) / tau
    spent = flows.holder_W + flows.air_W + flows.outside_W
    assert gained == pytest.approx(flows.load_W - spent, rel=1e-9)
    circuit = model.setup.circuit
    assert flows.action_A2 == pytest.approx(found.current_A**2)
    assert flows.charge_A == found.current_A
    assert flows.returned_W == pytest.approx(flows.action_A2 * found.load_ohm)
    stored = circuit.series_H * flows.action_A2 / tau if circuit.source.drive == "voltage" else 0.0
    resistive = flows.action_A2 * circuit.series_ohm + flows.returned_W
    assert flows.drawn_W == pytest.approx(resistive + stored)


def test_without_a_source_nothing_flows_and_nothing_heats() -> None:
    model = MODELS["series"]
    found = stage(model, model.initial(), on=False)
    assert (found.electric, found.current_A, found.load_ohm, found.emf_V) == (None, 0.0, 0.0, 0.0)
    assert np.abs(found.enthalpy - model.initial())[model.grid.active].max() < 400.0, (
        "a ten-thousandth of a kelvin"
    )


def test_a_stage_that_does_not_settle_says_so() -> None:
    with pytest.raises(SolverError, match="at 2 ms: a stage did not settle within 1 iterations"):
        stage(MODELS["series"], MODELS["series"].initial(), 1e-3, tolerance=StageTolerance(iterations=1))


def test_a_temperature_that_is_no_number_ends_the_stage() -> None:
    model = MODELS["series"]
    h = model.initial()
    h[0, 0] = np.inf
    with np.errstate(all="ignore"), pytest.raises(SolverError, match="not a number"):
        stage(model, h, on=False)


def test_cells_at_a_kink_are_balanced_on_their_own() -> None:
    """A cell that a linear step carries past its solidus keeps the heat it got, not the temperature."""
    model, tau = MODELS["series"], 1e-5
    rest = at_rest(model)
    k_r, k_z, _, _ = model.cells.properties(rest.temperature)
    conducting = model.heat.conduction(k_r, k_z, model.thermal_contacts(rest.contacts, True))
    cell = model.grid.rows("strip").start, 0
    h = rest.enthalpy.copy()
    h[cell] = 1.5 * model.tables.solidus_J_m3[model.index[cell]]
    iterate = Iterate.at(model, h)
    linear = iterate.temperature.copy()
    linear[cell] += 400.0
    found = across_kinks(model, conducting, NewtonUpdate(linear, h, 0.0, 0.0), iterate, tau)
    better = found.enthalpy
    moved = np.argwhere(better != h)
    assert [tuple(place) for place in moved] == [cell]
    after, capacity = model.cells.temperature(better)
    assert np.array_equal(found.temperature, after)
    assert np.array_equal(found.capacity, capacity)
    inertia, coupling = model.heat.volume[cell] / tau, conducting.coupling[cell]
    left = inertia * better[cell] + coupling * after[cell]
    assert left == pytest.approx(inertia * h[cell] + coupling * linear[cell], rel=1e-6)
