"""Case 2, contacts: growth at a rate, enclosed melt, what counts as a joint, carried heat, stirred melt."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from nugget.constants import LORENZ_V2_K2
from nugget.contact.laws import MetallicContact
from nugget.grid.stack import Grid
from nugget.materials.library import get
from nugget.materials.material import Material
from nugget.materials.strength import Strength
from nugget.outcome.melt import MeltReader
from nugget.outcome.recorder import Recorder
from nugget.setup.description import Pulse
from nugget.supply.kinds import ConstantCurrent
from nugget.weld.active_source import ActiveSource
from nugget.weld.interface_model import ContactStart, Surroundings
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.stage import StageSolver, StageTolerance
from nugget.weld.state import at_rest
from nugget.weld.stepper import GAMMA, ONWARD
from validation import rig
from validation.bench import bench
from validation.case import Case, Check, Drawing, Outcome, at_least, holds, relative, scaled

FORCE_N, COLD_PA = 30.0, 1e9
TIGHT = StageTolerance(change=1e-6, radius=1e-9, iterations=80)
RISE_K_S, CAPACITY_J_M3K = 1e5, 8900.0 * 550.0
"""A body that heats evenly by 1000 K in 10 ms."""


def _body(metal: Material, cap_m: float, melt_factor: float = 1.0) -> WeldModel:
    """Two bodies under force that heat evenly."""
    r = rig.graded([0.0, 1.2 * cap_m], lambda x: 1.2e-5 + 0.0 * x)
    z = np.linspace(0.0, 0.5e-3, 5)
    layers = [("can", metal, z - 0.5e-3, 2.0 * cap_m), ("strip", metal, z, 2.0 * cap_m)]
    first = math.sqrt(FORCE_N / (math.pi * COLD_PA))
    spot = replace(rig.contact(3, len(r) - 1, cap_m, law=MetallicContact()), first_m=first, moves=True)
    grid = rig.layered(r, layers, [spot], bottom="holder")
    given = rig.setup(ConstantCurrent(1.0), train=(Pulse(10e-3),), force_N=FORCE_N)
    given = replace(given, contact=replace(given.contact, melt_strength_factor=melt_factor))
    return rig.heated(grid, given, grid.volume * CAPACITY_J_M3K * RISE_K_S)


def _heated_body(metal: Material, cap_m: float, melt_factor: float = 1.0) -> list[tuple[float, float, float]]:
    """Time [s], temperature [K] and contact radius [m] of two bodies that heat evenly under force."""
    model = _body(metal, cap_m, melt_factor)
    # Steps of a size: nothing but the contact would keep the march's own steps short.
    sizes = np.full(200, 50e-6)
    states = rig.fixed_steps(StageSolver(model, TIGHT), at_rest(model), sizes, model.setup.train[0])
    return [(s.time_s, float(s.temperature[4, 0]), s.contacts[0].radius_m) for s in states]


def run_creep() -> Outcome:
    """F = pi a^2 H0 exp(-b T) (e / e0)^m with e = (da/dt) / a has a closed solution at a steady rise."""
    m, slow, fall = 0.15, 1e-3, 4e-3
    T = np.arange(300.0, 1340.0, 2.0)
    soft = list(zip(T, COLD_PA * np.exp(-fall * (T - 300.0)), strict=True))
    metal = rig.matter("creeping", k=1e-6, rho=7e-8, c=550.0, density=8900.0, hardness=soft)
    metal = replace(metal, strength=Strength(exponent=m, slow_rate_1_s=slow))
    t, _, a = map(np.array, zip(*_heated_body(metal, 1.2e-3), strict=True))
    n, b = 1.0 / m, fall * RISE_K_S
    first = math.sqrt(FORCE_N / (math.pi * COLD_PA))
    grown = 2.0 * slow * np.expm1(n * b * t) / b
    exact = first * (1.0 + grown) ** (0.5 / n)
    balance = first * np.exp(0.5 * b * t)
    worst = float(np.abs(a / exact - 1.0).max())
    checks = (
        scaled("contact radius of an evenly heated body, worst step", worst, 0.0, 1.0, 5e-3),
        at_least("growth of the contact over the pulse", float(a[-1] / a[0]), 2.0),
        at_least("guard: without the rate it were wider by", float(balance[-1] / exact[-1]), 1.5),
    )

    def draw() -> Any:
        from validation.drawing import axes

        figure, ax = axes("time [ms]", "contact radius [mm]")
        ax.plot(t * 1e3, exact * 1e3, "k", label="exact")
        ax.plot(t * 1e3, a * 1e3, ".", label="model")
        ax.plot(t * 1e3, balance * 1e3, "k:", label="balance under slow load")
        ax.legend()
        return figure

    return Outcome(checks, (Drawing("creep", "A spot that grows as its metal creeps.", draw),))


def _melting(at_solidus_Pa: float) -> Material:
    metal = rig.matter(
        "melting", k=1e-6, rho=7e-8, c=550.0, density=8900.0, melting=(1100.0, 1110.0), fusion=1.0,
        hardness=[(300.0, COLD_PA), (1100.0, at_solidus_Pa)],
    )  # fmt: skip
    return replace(metal, strength=Strength(exponent=0.1))


def _widening_over_melt() -> Check:
    """A contact that finds itself on melt: ``(a / a_1)^(2/m)`` grows evenly, by ``2 e_m / m``."""
    at_solidus, m, slow_up_to_1_s = 0.4e9, 0.18, 100.0
    model = _body(_melting(at_solidus), 1.2e-3)
    contact, cells = model.contact_models[0], np.ones(model.grid.shape)
    nothing = np.zeros(model.grid.shape[1])
    state = contact.first_touch(Surroundings(300.0 * cells, cells))
    first, last = state.radius_m, math.sqrt(FORCE_N / (math.pi * at_solidus))
    t, worst, molten = 0.0, 0.0, Surroundings(1300.0 * cells, cells)
    for dt in np.geomspace(1e-8, 2e-5, 250):
        start = ContactStart.of(state, t + GAMMA * dt, GAMMA * dt)
        middle = contact.evaluate(molten, nothing, start)
        t += dt
        state = contact.evaluate(molten, nothing, start.onward(middle, ONWARD, t))
        exact = (first / last) ** (2.0 / m) + 2.0 * slow_up_to_1_s * t / m
        worst = max(worst, abs(state.radius_m / (last * min(1.0, exact) ** (0.5 * m)) - 1.0))
    return scaled("contact radius while it widens over melt, worst step", worst, 0.0, 1.0, 5e-3)


def run_enclosed_melt() -> Outcome:
    """Molten metal in a contact carries what it does at its solidus, slowly loaded, and no less."""
    at_solidus = 0.1e9
    metal = _melting(at_solidus)
    checks: list[Check] = [_widening_over_melt()]
    for factor in (1.0, 1.5):
        _, T, a = _heated_body(metal, 1.2e-3, factor)[-1]
        exact = math.sqrt(FORCE_N / (math.pi * factor * at_solidus))
        checks.append(at_least("guard: temperature at the end over the liquidus", T / 1110.0, 1.05))
        checks.append(relative(f"contact radius on melt, factor {factor:g}", a, exact, 5e-3, "m"))
    return Outcome(tuple(checks))


def _joined(upper: Material, lower: Material, temperature_K: float, radius_m: float) -> tuple[float, float]:
    """Nugget diameter by the rule of the pair, and molten on both sides [m], of bodies at one temperature."""
    r = np.linspace(0.0, 1e-3, 41)
    z = np.linspace(0.0, 0.3e-3, 7)
    layers = [("can", lower, z - 0.3e-3, 1e-3), ("strip", upper, z, 1e-3)]
    grid = rig.layered(r, layers, [rig.contact(5, 40, radius_m)], bottom="insulated")
    given = replace(rig.setup(ConstantCurrent(1.0)), ambient_K=temperature_K)
    model = rig.model_on(grid, given)
    reader = MeltReader(model)
    found = reader.at_faying(reader.zone(at_rest(model), 0.9), radius_m)
    return found.nugget_m, found.both_m


PAIRS = (
    ("nickel-200", "can-steel", 1690.0, False, "below nickel's melting point"),
    ("nickel-200", "can-steel", 1750.0, True, "nickel is molten and steel is not: they mix"),
    ("copper-etp", "can-steel", 1450.0, True, "copper is molten and steel is not: a braze"),
    ("aluminium", "can-steel", 1200.0, False, "aluminium is molten on steel: brittle"),
)
"""Upper and lower metal, temperature [K] of both, whether that is a joint, and why."""


def run_pair() -> Outcome:
    radius = 0.5e-3
    checks: list[Check] = []
    for upper, lower, T, joined, why in PAIRS:
        nugget, both = _joined(get(upper), get(lower), T, radius)
        name = f"{upper} on {lower} at {T:g} K"
        wanted = 2.0 * radius if joined else 0.0
        checks.append(scaled(f"{name}: joint", nugget, wanted, 2.0 * radius, 0.01, "m", why))
        checks.append(holds(f"guard: {name}: not molten on both sides", both == 0.0))
    return Outcome(tuple(checks))


J_A_M2, LENGTH_M, K_W_MK = 1e9, 0.2e-3, 50.0
SEEBECK_V_K = (-20e-6, 6e-6)
"""Of the lower and the upper slab, about nickel on iron and as large as any pair of weld metals."""


def _junction() -> Grid:
    lower, upper = (
        replace(rig.matter(name, k=K_W_MK, rho=1e-14), seebeck=rig.curve(S))
        for name, S in zip(("lower", "upper"), SEEBECK_V_K, strict=True)
    )
    z = np.linspace(0.0, LENGTH_M, 25)
    layers = [("can", lower, z - LENGTH_M, 1e-3), ("strip", upper, z, 1e-3)]
    return rig.layered(np.linspace(0.0, 1e-3, 5), layers, [rig.contact(23, 4, 1e-3)], bottom="holder")


def run_peltier() -> Outcome:
    """Two slabs between holders at T0: the junction settles at T0 / (1 - +-j dS l / (2 k))."""
    checks: list[Check] = []
    grid = _junction()
    current = J_A_M2 * float(grid.area_z.sum())
    for name, sign in (("positive", 1), ("negative", -1), ("mean", 0)):
        given = rig.setup(ConstantCurrent(current), train=(Pulse(1.0),), polarity=sign)
        stage = rig.steady(rig.model_on(grid, given), ActiveSource(given.circuit, given.train[0], 0.0))
        side = 0.5 * float(stage.contacts[0].above_K[0] + stage.contacts[0].below_K[0])
        share = sign * J_A_M2 * (SEEBECK_V_K[1] - SEEBECK_V_K[0]) * LENGTH_M / (2.0 * K_W_MK)
        exact = 300.0 / (1.0 - share)
        checks.append(scaled(f"junction, {name} tip", side, exact, 10.0, 0.01, "K", "scale 10 K"))
    return Outcome(tuple(checks))


FILM_OHM_M2, LATTICE_W_M2K = 1e-12, 3e7
FILM_BODY_W_MK, FILM_BODY_M = 400.0, 20e-6
"""Bodies so thin and so conducting that the film stops a good part of the heat."""


def _leap_K(q_W_m3: float, conductance_W_m2K: float) -> float:
    """Fall over the film between two bodies with cold far ends, the lower one heated evenly.

    Its flux F obeys q l^2 / (2 k) = F (2 l / k + 1 / h).
    """
    each = FILM_BODY_M / FILM_BODY_W_MK
    flux = 0.5 * q_W_m3 * FILM_BODY_M * each / (2.0 * each + 1.0 / conductance_W_m2K)
    return flux / conductance_W_m2K


def run_film() -> Outcome:
    """Heat crosses a film by its electrons and by its lattice, side by side."""
    q, checks = 2e12, list[Check]()
    body = rig.matter("body", k=FILM_BODY_W_MK, rho=1e-14)
    z = np.linspace(0.0, FILM_BODY_M, 25)
    layers = [("can", body, z - FILM_BODY_M, 1e-3), ("strip", body, z, 1e-3)]
    for lattice in (0.0, LATTICE_W_M2K):
        law = MetallicContact(FILM_OHM_M2, lattice)
        contacts = [rig.contact(23, 4, 1e-3, law=law)]
        grid = rig.layered(np.linspace(0.0, 1e-3, 5), layers, contacts, bottom="holder")
        heat = q * grid.volume
        heat[24:] = 0.0
        given = rig.setup(ConstantCurrent(1.0), train=(Pulse(1.0),))
        source = ActiveSource(given.circuit, given.train[0], 0.0)
        touching = rig.steady(rig.heated(grid, given, heat), source).contacts[0]
        upper, lower = float(touching.above_K[0]), float(touching.below_K[0])
        electrons = LORENZ_V2_K2 * 0.5 * (upper + lower) / FILM_OHM_M2
        exact = _leap_K(q, electrons + lattice)
        name = f"fall over the film, lattice {lattice:g} W/(m2 K)"
        checks.append(relative(name, lower - upper, exact, 5e-3, "K"))
    return Outcome(tuple(checks))


COARSE = ["numerics.refinement=0.5"]
MOLTEN_M = ((0.0, 0.3e-3, 0.6e-3), (0.25e-3, 0.45e-3, 0.2e-3), (0.0, 0.0, 0.0))
"""Inner and outer radius of what is molten through, and the widest round hole that fits."""


def run_hole() -> Outcome:
    """A disc has its diameter, a ring no more than its width: what a hole would have to fit into."""
    march = March(bench(COARSE))
    model, start = march.model, at_rest(march.model)
    rows, r, tables = model.grid.rows("strip"), model.grid.r, model.tables
    checks = []
    for inner, outer, wide in MOLTEN_M:
        h, inside = start.enthalpy.copy(), (r > inner) & (r < outer)
        h[rows, inside] = tables.liquidus_J_m3[model.index[rows, inside]]
        recorder = Recorder(march)
        recorder.add(replace(start, enthalpy=h))
        found = float(recorder.history()["strip_hole_m"][0])
        cell = 2.0 * float(np.diff(model.grid.r_faces)[r < 0.5e-3].max())
        name = f"widest hole in a strip that is molten from {inner * 1e3:g} to {outer * 1e3:g} mm"
        checks.append(scaled(name, found, wide, cell, 1.0, "m", "scale: a cell at each edge"))
    return Outcome(tuple(checks))


def run_stirring() -> Outcome:
    """A molten slab, heated evenly between holders: its middle is q l^2 / (8 s k) above them."""
    checks: list[Check] = []
    q, length, hot = 1e12, 0.4e-3, 1500.0
    metal = rig.matter("melt", k=K_W_MK, melting=(1000.0, 1010.0), fusion=1e5)
    z = np.linspace(-0.5 * length, 0.5 * length, 65)
    layers = [("can", metal, z[:33], 1e-3), ("strip", metal, z[32:], 1e-3)]
    grid = rig.layered(np.linspace(0.0, 1e-3, 5), layers, [rig.contact(31, 4, 1e-3)], bottom="holder")
    for factor in (1.0, 4.0):
        given = rig.held(replace(rig.setup(ConstantCurrent(1.0), stirring=factor), ambient_K=hot), hot)
        given = replace(given, train=(Pulse(1.0),))
        stage = rig.steady(
            rig.heated(grid, given, q * grid.volume), ActiveSource(given.circuit, given.train[0], 0.0)
        )
        exact = q * length**2 / (8.0 * factor * K_W_MK)
        rise = float(stage.temperature.max()) - hot
        checks.append(relative(f"rise of the middle, stirring factor {factor:g}", rise, exact, 5e-3, "K"))
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="2-creep",
        title="Growth of a spot at a rate",
        claim="A spot in metal whose strength goes by a power of the rate and falls exponentially with "
        "temperature follows the closed solution of the rate equation while the body heats evenly.",
        source="F = pi a^2 H(T, (da/dt)/a) integrated by hand (theory: contact).",
        tolerance="0.5 %, as for the balance of forces; steps of 50 us.",
        run=run_creep,
    ),
    Case(
        key="2-enclosed-melt",
        title="Melt in a contact",
        claim="A contact whose metal has molten all through is as large as its hardness at the solidus under "
        "slow load says, times the factor on it, and widens towards that as the closed solution for a "
        "strength that goes by the 0.18th power of the rate beyond 100 1/s.",
        source="Definition of indentation hardness (theory: contact).",
        tolerance="0.5 %, as for a solid spot.",
        run=run_enclosed_melt,
    ),
    Case(
        key="2-pair",
        title="What counts as a joint",
        claim="With one side molten, metals that mix or braze are joined over the whole contact, those that "
        "form brittle compounds are not.",
        source="Phase diagrams: nickel and iron, copper and iron, aluminium and iron.",
        tolerance="1 % of the contact's diameter: half of the numerical error that a diameter may have.",
        run=run_pair,
    ),
    Case(
        key="2-peltier",
        title="Heat that the current carries across a junction",
        claim="The junction of two metals between cold holders warms or cools by the sign of the current.",
        source="Peltier heat (S_above - S_below) T j against conduction through two slabs.",
        tolerance="0.1 K on about 16 K: one per cent of the smallest effect seen.",
        run=run_peltier,
    ),
    Case(
        key="2-film",
        title="Heat through a film",
        claim="Between two thin bodies, one of them heated, the fall of temperature over the film is that of "
        "its electrons and its lattice side by side.",
        source="Steady conduction in two slabs with a conductance L T / r + h between them.",
        tolerance="0.5 %: slabs of 24 cells are exact to rounding, the gas beside the metal passes 0.03 %.",
        run=run_film,
    ),
    Case(
        key="2-hole",
        title="A hole in the strip",
        claim="Of a strip that is molten through, the widest round hole has the diameter of a disc and the "
        "width of a ring.",
        source="Geometry: the hole must lie in the liquid.",
        tolerance="A cell at each edge: the liquid is set cell by cell.",
        run=run_hole,
    ),
    Case(
        key="2-stirring",
        title="Stirred melt",
        claim="A molten slab conducts heat by the stirring factor better.",
        source="Steady conduction in a slab that is heated evenly.",
        tolerance="0.5 %: the step of a cell's temperature at a wall of 64 cells is far below.",
        run=run_stirring,
    ),
)
