"""Case 2, coupled part: Kohlrausch's relation, slabs with a contact, annulus with current."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from nugget.constants import LORENZ_V2_K2
from nugget.contact.spot import heat_partition
from nugget.field.electric import ElectricalContact, ElectricField
from nugget.field.heat import HeatField, ThermalContact
from nugget.grid.stack import Grid, Ground
from nugget.setup.description import Pulse
from nugget.supply.kinds import ConstantCurrent, ConstantVoltage
from nugget.weld.active_source import ActiveSource
from validation import rig
from validation.case import Case, Check, Drawing, Outcome, relative, scaled

L = LORENZ_V2_K2


def _neck(k: float, film: float, cells: int) -> Grid:
    """Two cylinders of a Wiedemann-Franz metal that touch in a neck with a film."""
    a, b = 0.3e-3, 1e-3
    rho = [(T, L * T / k) for T in (200.0, 6000.0)]
    metal = rig.matter("Wiedemann-Franz metal", k=k, rho=rho, hardness=1e9)
    r = rig.graded([0.0, a, b], lambda x: a / cells + 0.15 * np.abs(x - a))
    up = rig.graded([0.0, b], lambda z: a / cells + 0.15 * np.abs(z))
    contact = rig.contact(len(up) - 2, len(r) - 1, a, law=rig.Perfect(film))
    half = len(up) // 2
    layers = [("can", metal, -up[::-1], b), ("strip", metal, up[: half + 1], b), ("tip", metal, up[half:], b)]
    return rig.layered(r, layers, [contact], bottom="holder")


def run_kohlrausch() -> Outcome:
    checks: list[Check] = []
    volts, T0 = 0.4, 300.0
    peak = math.sqrt(T0**2 + volts**2 / (4.0 * L))
    quarter = math.sqrt(T0**2 + volts**2 * 3.0 / (16.0 * L))
    checks.append(relative("formula against its guard, T max", peak, 1315.0453, 1e-7, "K"))
    checks.append(relative("formula against its guard, T at a quarter", quarter, 1148.6985, 1e-7, "K"))
    clouds = []
    for label, film in (("neck", 1e-20), ("neck with a film", 2e-11)):
        grid = _neck(50.0, film, 24)
        given = rig.setup(ConstantVoltage(volts), train=(Pulse(1.0),))
        # No gas beside the neck, and none within it: heat follows the current only.
        given = replace(given, contact=replace(given.contact, stand_off_m=1e9))
        model = rig.model_on(grid, given)
        stage = rig.steady(model, ActiveSource(given.circuit, given.train[0], 0.0))
        phi = stage.electric.potential * stage.current_A
        exact = np.sqrt(T0**2 + np.maximum(phi * (volts - phi), 0.0) / L)
        error = np.abs(stage.temperature - exact).max() / (peak - T0)
        checks.append(
            scaled(f"{label}: worst cell of T(phi)", error, 0.0, 1.0, 0.005, "", "share of the rise")
        )
        top = float(stage.temperature.max())
        checks.append(scaled(f"{label}: hottest cell", top, float(exact.max()), peak - T0, 0.005, "K"))
        contact = stage.contacts[0]
        inside = contact.contact_fraction == 1.0
        j = stage.electric.interface_heat[0] ** 0.5 / film**0.5 * stage.current_A
        if film > 1e-15:
            drop = float((film * j)[inside].mean())
            side = math.sqrt(T0**2 + (0.25 * volts**2 - 0.25 * drop**2) / L)
            value = float(0.5 * (contact.above_K + contact.below_K)[inside].mean())
            checks.append(scaled(f"{label}: sides of the interface", value, side, peak - T0, 0.005, "K"))
        clouds.append((label, phi.ravel() / volts, stage.temperature.ravel()))

    def draw() -> Any:
        from validation.drawing import axes

        figure, ax = axes("potential / voltage", "temperature [K]")
        x = np.linspace(0.0, 1.0, 101)
        ax.plot(x, np.sqrt(T0**2 + volts**2 * x * (1.0 - x) / L), "k", label="exact")
        for (label, phi, T), style in zip(clouds, ({"ms": 6.0}, {"ms": 2.0}), strict=True):
            ax.plot(phi, T, ".", **style, label=label)
        ax.legend(markerscale=2.0)
        return figure

    drawing = Drawing("kohlrausch", "Temperature against potential in every cell of a heated neck.", draw)
    return Outcome(tuple(checks), (drawing,))


SLABS = ((70.0, 3e-7, 0.15e-3), (35.0, 6e-7, 0.3e-3))
J, R_C, H_C = 1e9, 2e-10, 1e6


def slab_sides(j: float, r_c: float, h: float) -> tuple[float, float]:
    """Exact interface temperatures of two slabs, outer faces at 300 K, interface heat half to each."""
    (k1, rho1, l1), (k2, rho2, l2) = SLABS
    q1, q2, s = rho1 * j**2, rho2 * j**2, 0.5 * r_c * j**2
    # T1i = T0 + A l1 - q1 l1^2 / (2 k1), and the same for B in slab 2; two flux balances.
    rows = [[-k1 - h * l1, h * l2], [h * l1, -k2 - h * l2]]
    lift = h * (q2 * l2**2 / (2 * k2) - q1 * l1**2 / (2 * k1))
    right = [-q1 * l1 - s + lift, -q2 * l2 - s - lift]
    a, b = np.linalg.solve(np.array(rows), np.array(right))
    return 300.0 + a * l1 - q1 * l1**2 / (2 * k1), 300.0 + b * l2 - q2 * l2**2 / (2 * k2)


def _slab_grid(r_c: float, n: int = 24) -> Grid:
    (k1, rho1, l1), (k2, rho2, l2) = SLABS
    one, two = rig.matter("one", k=k1, rho=rho1), rig.matter("two", k=k2, rho=rho2)
    layers = [
        ("can", one, np.linspace(-l1, 0.0, n + 1), 1e-3),
        ("strip", two, np.linspace(0.0, l2, n + 1), 1e-3),
    ]
    contact = rig.contact(n - 1, 4, 1e-3, law=rig.Perfect(r_c))
    return rig.layered(np.linspace(0.0, 1e-3, 5), layers, [contact], bottom="holder")


def run_slabs() -> Outcome:
    exact1, exact2 = slab_sides(J, R_C, H_C)
    checks = [
        relative("formula against its guard, side 1", exact1, 812.39111, 1e-7, "K"),
        relative("formula against its guard, side 2", exact2, 929.00697, 1e-7, "K"),
    ]
    # The operators by themselves, with the stated conductance.
    grid = _slab_grid(R_C)
    current = J * grid.area_z.sum()
    index = grid.material
    sigma = 1.0 / np.array([SLABS[0][1], SLABS[1][1]])[index]
    k = np.array([SLABS[0][0], SLABS[1][0]])[index]
    full = np.ones(4)
    solution = ElectricField(grid).solve(sigma, [ElectricalContact(full, R_C * full)])
    heat = HeatField(grid, 300.0, 300.0, 0.0)
    halves = tuple(0.5 * grid.dz[row] / k[row] for row in (24, 23))
    share = heat_partition((halves[0], halves[1]), full / H_C)
    power = current**2 * solution.heat
    interface = current**2 * solution.interface_heat[0] * grid.area_z
    power[24] += share * interface
    power[23] += (1.0 - share) * interface
    thermal_contacts = [ThermalContact(full, full / H_C, 0.0)]
    conduction = heat.conduction(k, k, thermal_contacts)
    capacity, T = np.full(grid.shape, 4e6), np.full(grid.shape, 300.0)
    step = rig.linear_step(heat, conduction, capacity, 1e9, T, power)
    T = step.temperature_K
    rise = exact2 - 300.0
    for n, (k1, rho1, length) in enumerate(SLABS):
        # T = T0 + A x - q x^2 / 2k from the outer face; compare every cell.
        x = (grid.z - grid.z_faces[0])[:24] if n == 0 else (grid.z_faces[-1] - grid.z)[24:]
        side = (exact1, exact2)[n]
        q = rho1 * J**2
        slope = (side - 300.0 + q * length**2 / (2 * k1)) / length
        exact = 300.0 + slope * x - q * x**2 / (2 * k1)
        found = T[:24, 0] if n == 0 else T[24:, 0]
        name = f"slab {n + 1}, worst cell (operators)"
        checks.append(
            scaled(name, float(np.abs(found - exact).max()), 0.0, rise, 1e-3, "K", "share of the rise")
        )
    total = sum(rho * length for _, rho, length in SLABS) * J**2 + R_C * J**2
    area = grid.area_z.sum()
    checks.append(relative("heat to both holders (operators)", step.holder_W / area, total, 1e-6, "W/m2"))
    checks.append(relative("formula: generation against its guard", total, 4.25e8, 1e-9, "W/m2"))
    checks += _coupled_slabs()
    return Outcome(tuple(checks))


def _coupled_slabs() -> list[Check]:
    """The coupled model, whose contact conducts by Wiedemann-Franz and gas."""
    checks: list[Check] = []
    for r_c in (R_C, 2e-9):
        grid = _slab_grid(r_c)
        current = J * grid.area_z.sum()
        given = rig.setup(ConstantCurrent(float(current)), train=(Pulse(1.0),))
        model = rig.model_on(grid, given)
        stage = rig.steady(model, ActiveSource(given.circuit, given.train[0], 0.0))
        contact = stage.contacts[0]
        gas = float(given.contact.gas.conductivity_z(given.ambient_K)) / given.contact.stand_off_m
        sides = 500.0, 500.0
        for _ in range(200):
            h = L * 0.5 * sum(sides) / r_c + gas
            sides = slab_sides(J, r_c, h)
        rise = max(sides) - 300.0
        for side, value, exact in zip((1, 2), (contact.below_K[0], contact.above_K[0]), sides, strict=True):
            name = f"slab side {side}, coupled model, r_c = {r_c:g} ohm m2"
            checks.append(scaled(name, float(value), exact, rise, 1e-3, "K", "share of the rise"))
        ohm = (sum(rho * length for _, rho, length in SLABS) + r_c) / float(grid.area_z.sum())
        checks.append(
            relative(f"resistance, r_c = {r_c:g} ohm m2", stage.electric.resistance_ohm, ohm, 1e-6, "ohm")
        )
    return checks


def run_joule_annulus() -> Outcome:
    k, rho, t, r1, r2, amps = 70.0, 3e-7, 0.15e-3, 0.5e-3, 5e-3, 300.0
    u = rho * amps * math.log(r2 / r1) / (2.0 * math.pi * t)
    top = u**2 / (8.0 * rho * k)
    checks = [
        relative("formula against its guard, voltage", u, 0.21988068, 1e-7, "V"),
        relative("formula against its guard, highest rise", top, 287.78282, 1e-7, "K"),
    ]
    sheet, hub = rig.matter("sheet", k=k, rho=rho), rig.matter("hub", k=1e9, rho=1e-16)
    rim = rig.matter("rim", k=1e9, rho=None)
    r = rig.graded([0.0, r1, r2, 1.1 * r2], lambda x: 0.015e-3 + 0.01 * x)
    z = np.array([0.0, t])
    inner = int(np.searchsorted(r, r1 * (1 - 1e-9)))
    outer = int(np.searchsorted(r, r2 * (1 - 1e-9)))
    grid = rig.layered(
        r, [("can", sheet, z, 2 * r2), ("strip", rim, z + t, 2 * r2)], [rig.contact(0, len(r) - 1, 2 * r2)],
        [Ground(0, outer - 1, 0.0)],
    )  # fmt: skip
    index = grid.material.copy()
    index[:, :inner] = 2
    index[0, outer:] = 1
    index[1, inner:outer] = -1
    grid = replace(grid, material=index, materials=(sheet, rim, hub))
    given = rig.setup(ConstantCurrent(amps), train=(Pulse(1.0),))
    model = rig.model_on(grid, given)
    stage = rig.steady(model, ActiveSource(given.circuit, given.train[0], 0.0))
    checks.append(relative("voltage across the annulus", amps * stage.electric.resistance_ohm, u, 1e-3, "V"))
    rise = stage.temperature[0] - 300.0
    x = np.log(grid.r[inner:outer])
    exact = 4.0 * top * (x - math.log(r1)) * (math.log(r2) - x) / math.log(r2 / r1) ** 2
    worst = float(np.abs(rise[inner:outer] - exact).max())
    checks.append(
        scaled("worst cell of the profile", worst, 0.0, top, 1e-3, "K", "share of the highest rise")
    )
    checks.append(relative("highest rise", float(rise.max()), top, 1e-3, "K"))
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="2-kohlrausch",
        title="Kohlrausch relation in a heated neck",
        claim="With k rho = L T the temperature of every point of a steady conductor follows from its "
        "potential, whatever the shape: T^2 = T0^2 + phi (U - phi) / L, across a film as well.",
        source="F. Kohlrausch, Ann. Phys. 306 (1900) 132; R. Holm, Electric Contacts, 4th ed., Springer "
        "1967.",
        tolerance="0.5 % of the highest rise, a quarter of the whole numerical error that a weld may have "
        "(theory: numerics); guards 1e-7, as formulas are closed.",
        run=run_kohlrausch,
    ),
    Case(
        key="2-slabs",
        title="Slabs with contact resistance",
        claim="Two slabs with Joule heat, an interface that heats (half to each side) and conducts badly: "
        "the operators with a stated conductance, and the coupled model with its own (Wiedemann-Franz plus "
        "gas).",
        source="One-dimensional heat equation, solved in closed form here.",
        tolerance="0.1 % of the interface's rise: smooth and one-dimensional, so that only a second-order "
        "error of the grid and the end of the iteration are left.",
        run=run_slabs,
    ),
    Case(
        key="2-joule-annulus",
        title="Annulus with radial current and cold edges",
        claim="Radial current out to the ground and radial conduction agree with the logarithmic solution.",
        source="Closed form in ln r: rise = U^2 / (8 rho k) at the geometric mean radius.",
        tolerance="0.1 %: smooth and one-dimensional, so that only a second-order error of the grid is left.",
        run=run_joule_annulus,
    ),
)
