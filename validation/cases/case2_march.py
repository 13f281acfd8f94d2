"""Case 2, simulation and circuit: a wire through melting, a capacitor discharge, the force balance."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.laws import MetallicContact
from nugget.grid.stack import Grid
from nugget.setup.description import Description, Pulse
from nugget.supply.kinds import CapacitorBank, ConstantCurrent
from nugget.weld.march import March
from validation import rig
from validation.case import Case, Check, Drawing, Outcome, at_least, relative, scaled


def _wire(
    source: Any, rho: Any, melting: Any = None, fusion: float = 0.0, **circuit: float
) -> tuple[Description, Grid]:
    metal = rig.matter("wire", k=1e-6, rho=rho, c=550.0, density=8900.0, melting=melting, fusion=fusion)
    layers = [("can", metal, np.linspace(-1e-3, 0, 4), 1e-3), ("strip", metal, np.linspace(0, 1e-3, 4), 1e-3)]
    grid = rig.layered(np.array([0.0, 1e-3]), layers, [rig.contact(2, 1, 1e-3)], bottom="holder")
    return rig.setup(source, train=(Pulse(0.06),), **circuit), grid


def run_wire() -> Outcome:
    from scipy.interpolate import CubicSpline

    rho0, a, j, heat, T0, Tm = 7e-8, 0.0055, 1e9, 8900.0 * 550.0, 300.0, 1728.0
    action = heat / (a * rho0) * math.log(1.0 + a * (Tm - T0))
    early = T0 + (math.exp(a * rho0 * j**2 * 1e-3 / heat) - 1.0) / a
    checks = [
        relative("formula against its guard, action to melting", action, 2.7728196e16, 1e-7, "A2 s/m4"),
        relative("formula against its guard, T after 1 ms", early, 314.87772, 1e-7, "K"),
    ]
    span, fusion, rs, rl = 10.0, 298e3, rho0 * (1 + a * (Tm - T0)), 85e-8
    guard = 8900.0 * fusion * math.log(rl / rs) / (rl - rs)
    checks.append(
        relative("formula against its guard, action through fusion", guard, 3.6389328e15, 1e-7, "A2 s/m4")
    )
    # The model melts over a stated range, so the heat of that range counts as well.
    melt = 8900.0 * (fusion + 550.0 * span) * math.log(rl / rs) / (rl - rs)
    rho = [(200.0, rho0 * (1 - a * 100)), (Tm, rs), (Tm + span, rl), (6000.0, rl)]
    source = ConstantCurrent(j * math.pi * 1e-6)
    given, grid = _wire(source, rho, (Tm, Tm + span), fusion)
    given = replace(given, numerics=replace(given.numerics, tolerance_K=0.02))
    model = rig.model_on(grid, given)
    t, T, h = [], [], []
    for state in rig.every(March(given, model), 0.04):
        t.append(state.time_s)
        T.append(float(state.temperature[1, 0]))
        h.append(float(state.enthalpy[1, 0]))
    time, temperature = np.array(t), np.array(T)
    # Time against enthalpy has no corner within a phase, so a cubic reads it between steps.
    solid = temperature < Tm
    count = int(solid.sum())
    low, high = float(model.tables.solidus_J_m3[0]), float(model.tables.liquidus_J_m3[0])
    start = float(CubicSpline(h[: count + 2], t[: count + 2])(low))
    end = float(np.interp(high, h, t))
    checks.append(relative("time to the solidus", start, action / j**2, 1e-3, "s"))
    checks.append(relative("time through melting", end - start, melt / j**2, 1e-3, "s"))
    # Landing on 1 ms needs a simulation that ends there.
    short = replace(given, train=(Pulse(1e-3),))
    *_, last = rig.every(March(short, rig.model_on(grid, short)), 1e-3)
    checks.append(
        scaled("temperature after 1 ms", float(last.temperature[1, 0]), early, early - T0, 1e-3, "K")
    )

    def draw() -> Any:
        from validation.drawing import axes

        figure, ax = axes("time [ms]", "temperature [K]")
        ax.plot(time * 1e3, temperature, ".", ms=3, label="model")
        x = np.linspace(0.0, action / j**2, 200)
        ax.plot(x * 1e3, T0 + (np.exp(a * rho0 * j**2 * x / heat) - 1.0) / a, "k", lw=0.8, label="exact")
        ax.legend()
        return figure

    return Outcome(
        tuple(checks), (Drawing("wire", "A wire that heats without loss, through melting.", draw),)
    )


FARAD, VOLTS, OHM = 0.1, 20.0, 5e-3
PEAKS = {1e-6: (0.00034033611, 2700.9389), 1e-7: (6.8380725e-05, 3619.0594)}
"""Inductance [H]: when the current of a capacitor into OHM is highest [s], and how high [A]."""


def _discharge(henry: float) -> Callable[[Any], FloatArray]:
    """Current of the capacitor against time."""
    a, w0 = OHM / (2 * henry), 1.0 / math.sqrt(henry * FARAD)
    s = complex(w0**2 - a**2) ** 0.5
    return lambda t: np.real(VOLTS / (s * henry) * np.exp(-a * t) * np.sin(s * t))


def _discharged(henry: float) -> tuple[list[Check], tuple[Any, ...]]:
    """Checks of one inductance, and what is drawn of it."""
    from scipy.optimize import minimize_scalar

    current, label = _discharge(henry), f"L = {henry * 1e6:g} uH"
    when, height = PEAKS[henry]
    t_peak = minimize_scalar(
        lambda t: -float(current(t)), bounds=(0, 1e-3), method="bounded", options={"xatol": 1e-12}
    ).x
    rho = 4e-3 * math.pi * 1e-6 / 2e-3
    given, grid = _wire(CapacitorBank(FARAD, VOLTS, 1e-3), rho, series_H=henry)
    # So much heat capacity that the load stays cold; its resistance is constant anyway.
    given = replace(given, train=(Pulse(5e-3),), numerics=replace(given.numerics, tolerance_K=0.02))
    states = list(rig.every(March(given, rig.model_on(grid, given)), 5e-3))
    t = np.array([m.time_s for m in states])
    i = np.array([m.circuit.current_A for m in states])
    fine = np.linspace(0.0, 5e-3, 200_001)
    exact = current(fine)
    worst = float(np.abs(i - current(t)).max())
    energy, charge = states[-1].energy, states[-1].circuit.charge_C
    action = float(np.trapezoid(exact**2, fine))
    checks = [
        relative(f"formula against its guard, peak, {label}", float(current(t_peak)), height, 1e-7, "A"),
        relative(f"formula against its guard, time, {label}", t_peak, when, 1e-5, "s"),
        relative(f"peak current, {label}", _vertex(t, i), height, 1e-3, "A"),
        scaled(f"worst current of all steps, {label}", worst, 0.0, height, 1e-3, "A", "share of the peak"),
        relative(f"action over 5 ms, {label}", energy.action_A2s, action, 1e-3, "A2 s"),
        relative(f"charge over 5 ms, {label}", charge, float(np.trapezoid(exact, fine)), 1e-3, "C"),
        relative(f"energy over 5 ms, {label}", energy.drawn_J, 0.5 * FARAD * VOLTS**2, 1e-3, "J"),
    ]
    return checks, (label, t, i, exact, fine)


def run_capacitor() -> Outcome:
    found = [_discharged(henry) for henry in PEAKS]
    checks = [check for checks, _ in found for check in checks]
    curves = [curve for _, curve in found]

    def draw() -> Any:
        from validation.drawing import axes

        figure, ax = axes("time [ms]", "current [A]")
        for label, t, i, exact, fine in curves:
            (line,) = ax.plot(t * 1e3, i, ".", ms=4, label=label)
            ax.plot(fine * 1e3, exact, color=line.get_color(), lw=0.8)
        ax.legend(title="dots: model, lines: exact")
        return figure

    return Outcome(
        tuple(checks), (Drawing("capacitor", "Capacitor into a resistance and an inductance.", draw),)
    )


def _vertex(t: FloatArray, value: FloatArray) -> float:
    """Top of the parabola through the largest value and its neighbours."""
    at = int(np.argmax(value))
    three = slice(at - 1, at + 2)
    a, b, c = np.polyfit(t[three] - t[at], value[three], 2)
    return float(c - b**2 / (4.0 * a))


def run_force() -> Outcome:
    """A body that heats evenly and softens: the spot must follow F = pi a^2 H(T)."""
    force, H = 30.0, [(300.0, 1e9), (1300.0, 0.2e9), (1728.0, 0.05e9)]
    metal = rig.matter("softening", k=1e-6, rho=7e-8, c=550.0, density=8900.0, hardness=H)
    r = rig.graded([0.0, 0.8e-3], lambda x: 1.2e-5 + 0.0 * x)
    z = np.linspace(0.0, 0.5e-3, 5)
    layers = [("can", metal, z - 0.5e-3, 0.8e-3), ("strip", metal, z, 0.8e-3)]
    first = math.sqrt(force / (math.pi * 1e9))
    spot = replace(rig.contact(3, len(r) - 1, 0.6e-3, law=MetallicContact()), first_m=first, moves=True)
    grid = rig.layered(r, layers, [spot], bottom="holder")
    given = rig.setup(ConstantCurrent(1.0), train=(Pulse(10e-3),), force_N=force)
    source = grid.volume * 8900.0 * 550.0 * 1e5
    model = rig.heated(grid, given, source)
    checks: list[Check] = []
    points = []
    for state in rig.every(March(given, model), 10e-3):
        T = float(state.temperature[4, 0])
        hardness = float(np.interp(T, *zip(*H, strict=True)))
        points.append((T, state.contacts[0].radius_m, math.sqrt(force / (math.pi * hardness))))
    T, a, exact = map(np.array, zip(*points, strict=True))
    worst = float(np.abs(a / exact - 1.0).max())
    checks.append(scaled("contact radius of an evenly heated body, worst step", worst, 0.0, 1.0, 5e-3))
    checks.append(at_least("growth of the contact over the pulse", float(a[-1] / a[0]), 2.0))
    # The same body under a face that ends at one and a half first radii.
    cap = 1.5 * first
    grid = rig.layered(r, layers, [replace(spot, cap_m=cap)], bottom="holder")
    *_, last = rig.every(March(given, rig.heated(grid, given, source)), 10e-3)
    name = "contact radius of a soft body under a small face"
    checks.append(scaled(name, last.contacts[0].radius_m, cap, cap, 1e-9, "m", "the edge of the face"))
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="2-wire",
        title="Adiabatic Joule heating to melting",
        claim="A wire without losses reaches the solidus, and passes through melting, when the action "
        "integral says.",
        source="Energy balance with rho linear in T, and in the liquid fraction while melting.",
        tolerance="0.1 % of each time: the wire is uniform, so that only the error of the steps is left.",
        run=run_wire,
    ),
    Case(
        key="2-capacitor",
        title="Capacitor discharge with inductance",
        claim="The circuit, simulated with the heat equation, follows the damped discharge.",
        source="Textbook solution of the series R-L-C circuit.",
        tolerance="0.1 % of the peak current: a step may err by 3e-4 of it, and a damped circuit forgets.",
        run=run_capacitor,
    ),
    Case(
        key="2-force",
        title="Force balance of a softening spot",
        claim="In an evenly heated body the contact radius is sqrt(F / (pi H(T))) at every step.",
        source="Definition of indentation hardness (theory: contact).",
        tolerance="0.5 %: the stage stops when the radius is settled to about 0.2 %.",
        run=run_force,
    ),
)
