"""Kernels against the numpy that they stand for, on random input: the same to rounding."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.compiled.seam import serve
from nugget.contact.growth import grown_radius
from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.electric import ElectricalContact, ElectricField
from nugget.field.heat import HeatField, ThermalContact
from nugget.materials.property_tables import RATES, RATES_1_S, CellTables, PropertyTables
from nugget.setup import Setup, preset
from nugget.weld.interface_model import ContactModel, ContactStart, Surroundings
from nugget.weld.model import WeldModel
from tests.test_field_linear import operator

pytestmark = pytest.mark.skipif(not serve(), reason="no compiled kernels in this process")

ROUNDING = 1e-12
"""Sums of a few numbers in another order; of a solver, times the condition of well-scaled operators."""
SETUPS = {
    "can": preset("coupon", ["numerics.refinement=0.3"]),
    "series": preset("default", ["numerics.refinement=0.25"]),
}
seeds = st.integers(0, 2**32 - 1)


def alike(found: object, wanted: object) -> None:
    """Two results of the same kind, every number in them."""
    if isinstance(wanted, np.ndarray):
        assert isinstance(found, np.ndarray)
        assert found.shape == wanted.shape
        largest = float(np.abs(wanted).max(initial=0.0))
        assert np.abs(found - wanted).max(initial=0.0) <= ROUNDING * largest
    elif isinstance(wanted, float):
        assert found == pytest.approx(wanted, rel=ROUNDING)
    elif isinstance(wanted, tuple | list):
        assert isinstance(found, tuple | list)
        for one, other in zip(found, wanted, strict=True):
            alike(one, other)
    else:
        assert found is wanted


@given(rows=st.integers(1, 30), columns=st.integers(1, 30), seed=seeds)
def test_the_solver(rows: int, columns: int, seed: int) -> None:
    from nugget.field.compiled_solver import CompiledSolver

    diagonal, along_r, along_z, _ = operator(rows, columns, seed)
    b = np.random.default_rng(seed).random((rows, columns))
    compiled, plain = (kind(rows, columns) for kind in (CompiledSolver, CheckerboardSolver))
    for _ in range(2):  # arrays that have served before serve as well
        found = compiled.factor(diagonal, along_r, along_z).solve(b)
        assert found == pytest.approx(plain.factor(diagonal, along_r, along_z).solve(b), rel=1e-11)


@pytest.mark.parametrize("shape", [(2, 7), (120, 121), (121, 124)])
def test_the_fastest_solver_of_any_width(shape: tuple[int, int]) -> None:
    """Beyond the widest panel LAPACK goes on."""
    from nugget.field.compiled_solver import fastest_solver

    diagonal, along_r, along_z = np.full(shape, 5.0), np.ones((shape[0], shape[1] - 1)), np.ones(shape)[1:]
    b = np.random.default_rng(0).random(shape)
    solver = fastest_solver(*shape)
    assert (type(solver) is CheckerboardSolver) == (min(shape) > 120)
    found = solver.factor(diagonal, along_r, along_z).solve(b)
    assert found == pytest.approx(CheckerboardSolver(*shape).factor(diagonal, along_r, along_z).solve(b))


@pytest.mark.parametrize("spoilt", [-1.0, 0.0])
@pytest.mark.parametrize("at", [(0, 0), (4, 2), (3, 2)])
def test_what_is_not_positive_definite_is_refused(spoilt: float, at: tuple[int, int]) -> None:
    from nugget.field.compiled_solver import CompiledSolver

    diagonal, along_r, along_z, _ = operator(5, 3, 0)
    diagonal[at] = spoilt
    solver = CompiledSolver(5, 3)
    with pytest.raises(ArithmeticError, match="not positive definite"):
        solver.factor(diagonal, along_r, along_z)
    with pytest.raises(ArithmeticError, match="not positive definite"):
        solver.factor(np.full((5, 3), 0.1), along_r, along_z)
    whole, along_r, along_z, dense = operator(5, 3, 1)  # and the next one is as good as ever
    found = solver.factor(whole, along_r, along_z).solve(np.ones((5, 3)))
    assert found.ravel() == pytest.approx(np.linalg.solve(dense, np.ones(15)))


@pytest.fixture(scope="module", params=SETUPS)
def model(request: pytest.FixtureRequest) -> WeldModel:
    return WeldModel(SETUPS[request.param].si)


def plain_cells(cells: CellTables) -> CellTables:
    return CellTables(**{one.name: getattr(cells, one.name) for one in fields(CellTables)})


@given(seed=seeds)
def test_look_ups(model: WeldModel, seed: int) -> None:
    """Far below the tables and far above them, too."""
    random = np.random.default_rng(seed)
    compiled, plain = model.cells, plain_cells(model.cells)
    assert type(compiled) is not type(plain)
    h = random.uniform(-2e9, 4e10, model.grid.shape)
    T = random.uniform(100.0, 8000.0, model.grid.shape)
    alike(compiled.temperature(h), plain.temperature(h))
    alike(compiled.state(h), plain.state(h))
    for ask in ("properties", "conductivities", "electrical", "conductivity_z"):
        alike(getattr(compiled, ask)(T), getattr(plain, ask)(T))
    where = random.random(model.grid.shape) < 0.1
    alike(compiled.some(where).temperature(h[where]), plain.some(where).temperature(h[where]))


def test_a_temperature_that_is_no_number_stays_none(model: WeldModel) -> None:
    found = model.cells.state(np.full(model.grid.shape, math.nan))
    assert np.isnan(found[0]).all()
    assert np.isnan(found[2]).all()


@given(seed=seeds)
def test_heat(model: WeldModel, seed: int) -> None:
    from nugget.field.compiled_heat import CompiledHeatField

    random, shape = np.random.default_rng(seed), model.grid.shape
    given_K = model.heat.ambient_K, model.heat.holder_K, 10.0
    plain, compiled = (
        HeatField(model.grid, *given_K),
        CompiledHeatField(model.grid, *given_K, CheckerboardSolver),
    )
    k_r, k_z = random.uniform(0.1, 400.0, (2, *shape))
    contacts = [
        ThermalContact(random.random(shape[1]), random.uniform(1e-9, 1e-3, shape[1]), gap)
        for gap in random.choice([0.0, 500.0], len(model.grid.interfaces)).tolist()
    ]
    h, start = random.uniform(0.0, 1e10, (2, *shape))
    T, capacity, heat = (
        random.uniform(300, 2000, shape),
        random.uniform(1e6, 1e8, shape),
        random.random(shape),
    )
    found = []
    for field in (compiled, plain):
        conduction = field.conduction(k_r, k_z, contacts)
        operator = field.factor(conduction, capacity, 1e-5)
        update = operator.newton(conduction, start, (h, T), heat)
        found.append(
            (
                (conduction.g_r, conduction.g_z, conduction.g_top, conduction.g_bottom, conduction.coupling),
                (operator.diagonal, field.net(conduction, T, heat), operator.damped(h)),
                (update.temperature_K, update.enthalpy_J_m3, update.air_W),
            )
        )
    alike(*found)


def test_a_newton_step_to_nowhere_is_seen_in_what_the_air_takes(model: WeldModel) -> None:
    """Wherever it is: a stage asks no more than that."""
    shape = model.grid.shape
    still = [ThermalContact(np.zeros(shape[1]), np.ones(shape[1]), 0.0) for _ in model.grid.interfaces]
    conduction = model.heat.conduction(np.ones(shape), np.ones(shape), still)
    operator, start = model.heat.factor(conduction, np.full(shape, 1e6), 1e-5), np.ones(shape)
    start[0, 0] = math.inf
    with np.errstate(all="ignore"):
        update = operator.newton(conduction, start, (np.ones(shape), np.ones(shape)), np.ones(shape))
    assert not math.isfinite(update.air_W)


@given(seed=seeds)
def test_charge(model: WeldModel, seed: int) -> None:
    from nugget.field.compiled_electric import CompiledElectricField

    random, (nz, nr) = np.random.default_rng(seed), model.grid.shape
    both = [kind(model.grid, CheckerboardSolver) for kind in (CompiledElectricField, ElectricField)]
    sigma = random.uniform(1e5, 1e8, (nz, nr))
    contacts = [
        ElectricalContact(np.linspace(1.0, 0.0, nr), random.uniform(1e-13, 1e-9, nr))
        for _ in model.grid.interfaces
    ]
    found, factors = [], both[1].operator(sigma, contacts).factors
    for field in both:
        # With the same factors: such a matrix makes more of the last bit of an entry than sums do.
        operator = replace(field.operator(sigma, contacts), factors=factors)
        solution = operator.one_ampere()
        sums = solution.resistance_ohm, solution.outside_heat, solution.interface_heat
        fields_of_it = solution.heat, solution.potential
        found.append(((operator.g_r, operator.g_z, operator.g_bottom, operator.g_ground), sums, fields_of_it))
    alike(*found)


@given(seed=seeds)
def test_the_norm(model: WeldModel, seed: int) -> None:
    random, shape = np.random.default_rng(seed), model.grid.shape
    change, T = random.normal(0.0, 1e7, shape), random.uniform(290.0, 1500.0, shape)
    capacity = random.uniform(1e6, 1e8, shape)
    found = model.error_norm(change, T), model.cooling_norm(change, T, capacity)
    T_lost = T.copy()
    T_lost[-1, -1] = math.nan
    assert math.isnan(model.error_norm(change, T_lost))
    kept, model._compiled_norm = model._compiled_norm, None
    try:
        alike(found, (model.error_norm(change, T), model.cooling_norm(change, T, capacity)))
    finally:
        model._compiled_norm = kept


def contacts_of(setup: Setup) -> list[tuple[ContactModel, ContactModel]]:
    """Each contact of a weld, compiled and plain."""
    model = WeldModel(setup.si)
    pairs = []
    for compiled in model.contact_models:
        plain = ContactModel(setup.si, model.grid, compiled.interface, model.tables)
        plain.sides, plain.carrying = plain_cells(plain.sides), plain_cells(plain.carrying)
        assert type(compiled) is not ContactModel
        pairs.append((compiled, plain))
    return pairs


PAIRS = {name: contacts_of(setup) for name, setup in SETUPS.items() if serve()}


@pytest.mark.parametrize("name", SETUPS)
@given(seed=seeds, hottest=st.sampled_from([400.0, 1500.0, 2500.0]), tau_s=st.sampled_from([1e-6, 1e-4]))
def test_contacts(name: str, seed: int, hottest: float, tau_s: float) -> None:
    """At rest, then growing; with and without melt, polarity and limits of the radius."""
    random = np.random.default_rng(seed)
    for compiled, plain in PAIRS[name]:
        shape = int(compiled.interface.above) + 1, len(compiled.exists)
        fall = np.linspace(hottest, 300.0, shape[1]) + np.zeros(shape)
        around = Surroundings(fall + random.uniform(-5.0, 5.0, shape), random.uniform(5.0, 400.0, shape))
        heat, first = random.uniform(0.0, 1e9, shape[1]), plain.first_touch(around)
        alike(tuple(vars(compiled.first_touch(around)).values()), tuple(vars(first).values()))
        start = ContactStart.of(first, 1e-4, tau_s)
        tried = first.radius_m * random.uniform(1.0, 1.2)
        for radius in (None, tried):
            found, wanted = (m.evaluate(around, heat, start, radius) for m in (compiled, plain))
            alike(tuple(vars(found).values()), tuple(vars(wanted).values()))
        surfaces = np.ascontiguousarray(around.temperature_K[[-1, -2]])
        alike(compiled.hardness(surfaces)[3:9], plain.hardness(surfaces)[3:9])


@given(seed=seeds, force=st.floats(0.1, 500.0), growth=st.floats(0.5, 2.0), tau=st.floats(1e-7, 1.0))
def test_the_rate_equation(seed: int, force: float, growth: float, tau: float) -> None:
    """Of hardness that rises with the rate, from any first guess."""
    from nugget.weld.compiled_contacts import CompiledSofterSide

    random, nr = np.random.default_rng(seed), 12
    soft = random.uniform(1e7, 1e9, (2, nr)) * np.ones((RATES, 1, 1))
    rows = soft * (RATES_1_S[:, None, None] / 1e-3) ** random.uniform(0.0, 0.2)
    # One row of a table for each side and column, with nothing gained to the next.
    table = np.concatenate([rows, np.zeros_like(rows)]).transpose(1, 2, 0).ravel()
    base = np.arange(2 * nr).reshape(2, nr) * 2 * RATES
    side = CompiledSofterSide(table, base, np.zeros((2, 2, nr)), np.ones(RATES), np.ones(nr))
    wanted = rows.min(axis=1)
    alike(side[:], wanted)
    faces = np.linspace(0.0, 1e-3, nr + 1)
    start = float(random.uniform(1e-5, 5e-4))
    for likely in (0.0, start * growth):
        given_m = RATES_1_S, faces, (start, tau), (1e-6, 9e-4), likely
        # Both searches end where the force is met to 1e-9.
        assert grown_radius(force, side, *given_m) == pytest.approx(
            grown_radius(force, wanted, *given_m), rel=1e-7
        )


def test_readings_of_melt() -> None:
    from nugget.compiled import seam
    from nugget.outcome import melt

    random = np.random.default_rng(0)
    r = np.sort(random.uniform(1e-5, 2e-3, 20))
    for edge in (1e-6, float(r[0]), 4e-4, float(r[7]), 1.0):
        levels = random.normal(0.0, 1.0, (2, 4, 20))
        found = melt.equal_diameters(levels, r, edge)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(melt, "serve", lambda: False)
            alike(found, melt.equal_diameters(levels, r, edge))
    assert seam.serve()


def test_the_melted_share_of_a_layer() -> None:
    from nugget.outcome import melt
    from nugget.weld.march import March

    march = March(preset("coupon", ["numerics.refinement=0.3"]))
    reader, state = melt.MeltReader(march.model), next(iter(march))
    random = np.random.default_rng(1)
    hot = replace(state, enthalpy=random.uniform(0.0, 1.5e10, march.model.grid.shape))
    for band in march.model.grid.layer_rows:
        rows = slice(band.start, band.end)
        found = reader.melted_share(hot, rows)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(melt, "serve", lambda: False)
            alike(found, reader.melted_share(hot, rows))


def test_tables_of_one_material_too() -> None:
    cells = PropertyTables.build(WeldModel(SETUPS["can"].si).grid.materials[:1]).cells(
        np.zeros(3, dtype=np.intp)
    )
    alike(cells.temperature(np.zeros(3)), plain_cells(cells).temperature(np.zeros(3)))
