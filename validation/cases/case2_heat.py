"""Case 2, heat part: disc source and constant flux against time, solidification, annulus, fin."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.outcome.melt import MeltReader
from nugget.setup.description import Pulse
from nugget.supply.kinds import ConstantCurrent
from nugget.weld.active_source import ActiveSource
from nugget.weld.march import March
from validation import rig
from validation.case import Case, Drawing, Outcome, relative, scaled

K, STORAGE, Q = 80.0, 8900.0 * 500.0, 1e8
ALPHA = K / STORAGE


def ierfc(x: float) -> float:
    """First integral of the complementary error function."""
    return math.exp(-(x**2)) / math.sqrt(math.pi) - x * math.erfc(x)


def disc_centre(z: float, t: float, a: float) -> float:
    """Rise on the axis under a uniform disc source on a half space (Carslaw and Jaeger)."""
    root = 2.0 * math.sqrt(ALPHA * t)
    return Q * root / K * (ierfc(z / root) - ierfc(math.hypot(z, a) / root))


def disc_mean(t: float, a: float) -> float:
    """Mean rise over the disc."""
    from scipy.integrate import quad
    from scipy.special import erf, j1

    root = math.sqrt(ALPHA * t) / a
    value = quad(lambda x: (j1(x) / x) ** 2 * erf(x * root), 0.0, 400.0, limit=2000)[0]
    return float(2.0 * Q * a / K * value)


def flux_rise(x: float, t: float) -> float:
    """Rise of a half space under a constant flux."""
    root = 2.0 * math.sqrt(ALPHA * t)
    return 2.0 * Q / K * math.sqrt(ALPHA * t / math.pi) * math.exp(
        -((x / root) ** 2)
    ) - Q * x / K * math.erfc(x / root)


def _surface_heated(
    r: FloatArray, z: FloatArray, heated_m: float, times: tuple[float, ...]
) -> tuple[rig.HeatedModel, dict[float, FloatArray]]:
    """Simulate a half space whose surface is the insulated bottom; rises at `times` [K]."""
    body = rig.matter(k=K, c=500.0, density=8900.0)
    cut = len(z) // 2
    layers = [("can", body, z[: cut + 1], r[-1]), ("strip", body, z[cut:], r[-1])]
    grid = rig.layered(r, layers, [rig.contact(cut - 1, len(r) - 1, r[-1])])
    marks = np.diff(np.concatenate([[0.0], times]))
    train = tuple(Pulse(float(d)) for d in marks)
    given = rig.setup(ConstantCurrent(1.0), train=train)
    given = replace(given, numerics=replace(given.numerics, tolerance_K=0.05))
    source = np.zeros(grid.shape)
    source[0] = Q * grid.area_z * (grid.r < heated_m)
    model = rig.heated(grid, given, source)
    found = {}
    for state in rig.every(March(given, model), times[-1]):
        for t in times:
            if abs(state.time_s - t) < 1e-12:
                found[t] = state.temperature - 300.0
    return model, found


def run_disc() -> Outcome:
    from scipy.interpolate import CubicSpline

    a = 0.5e-3
    r = rig.graded([0.0, a, 12.0 * a], lambda x: a / 80 + 0.06 * np.abs(x - a))
    z = rig.graded([0.0, 12.0 * a], lambda x: a / 80 + 0.04 * x)
    times = (1e-4, 1e-3, 1e-2)
    model, rise = _surface_heated(r, z, a, times)
    grid = model.grid
    lift = Q * 0.5 * grid.dz[0] / K
    checks = [
        relative("formula against its guard, centre 1 ms", disc_centre(0.0, 1e-3, a), 188.50008, 1e-6, "K"),
        relative("formula against its guard, mean 1 ms", disc_mean(1e-3, a), 160.76682, 1e-5, "K"),
    ]
    curves: dict[float, tuple[FloatArray, FloatArray]] = {}
    for t in times:
        # From cell centres to the axis and to the surface: even in r, flux Q at the surface.
        r0, r1 = grid.r[:2]
        axis = rise[t][:, 0] + (rise[t][:, 0] - rise[t][:, 1]) * r0**2 / (r1**2 - r0**2)
        checks.append(
            relative(f"centre of the disc, {t * 1e3:g} ms", axis[0] + lift, disc_centre(0.0, t, a), 0.01, "K")
        )
        curves[t] = grid.z, axis
    weight = grid.area_z * (grid.r < a)
    mean = float((rise[1e-3][0] * weight).sum() / weight.sum() + lift)
    checks.append(relative("mean over the disc, 1 ms", mean, disc_mean(1e-3, a), 0.01, "K"))
    for depth in (1.0, 2.0):
        value = float(CubicSpline(*curves[1e-2])(depth * a))
        checks.append(
            relative(f"axis at z = {depth:g} a, 10 ms", value, disc_centre(depth * a, 1e-2, a), 0.01, "K")
        )

    def draw() -> Any:
        from validation.drawing import axes

        figure, ax = axes("depth on the axis [mm]", "rise [K]")
        for t, (depth, value) in curves.items():
            keep = depth < 2e-3
            (line,) = ax.plot(depth[keep] * 1e3, value[keep], "o", ms=3, label=f"{t * 1e3:g} ms")
            exact = [disc_centre(float(x), t, a) for x in depth[keep]]
            ax.plot(depth[keep] * 1e3, exact, color=line.get_color())
        ax.legend()
        return figure

    caption = "Disc source on a half space: model (dots) and exact solution (lines)."
    return Outcome(tuple(checks), (Drawing("disc-source", caption, draw),))


def run_flux() -> Outcome:
    z = rig.graded([0.0, 6e-3], lambda x: 2e-6 + 0.03 * x)
    _, rise = _surface_heated(np.array([0.0, 1e-3]), z, 1.0, (1e-3, 1e-2))
    centres = 0.5 * (z[1:] + z[:-1])
    lift = Q * 0.5 * (z[1] - z[0]) / K
    checks = [relative("formula against its guard, surface 1 ms", flux_rise(0.0, 1e-3), 189.11678, 1e-6, "K")]
    for t, depth in ((1e-3, 0.0), (1e-3, 0.1e-3), (1e-3, 0.3e-3), (1e-2, 0.0), (1e-2, 0.3e-3)):
        column = rise[t][:, 0]
        value = column[0] + lift if depth == 0.0 else float(np.interp(depth, centres, column))
        top = flux_rise(0.0, t)
        name = f"depth {depth * 1e3:g} mm, {t * 1e3:g} ms"
        checks.append(scaled(name, value, flux_rise(depth, t), top, 0.01, "K", "share of the surface rise"))
    return Outcome(tuple(checks))


# Neumann's problem, nickel-like numbers.
DENSITY, FUSION, MELTS = 8000.0, 298e3, 1728.0
SOLID, LIQUID = (70.0, 650.0), (60.0, 663.0)


def neumann(wall_K: float, far_K: float) -> tuple[float, float]:
    """Return lambda and the diffusivity at the wall; front at 2 lambda sqrt(alpha t)."""
    from scipy.optimize import brentq

    (k_n, c_n), (k_f, c_f) = (SOLID, LIQUID) if wall_K < MELTS else (LIQUID, SOLID)
    near, far = k_n / (DENSITY * c_n), k_f / (DENSITY * c_f)
    nu = math.sqrt(near / far)
    drive = abs(MELTS - wall_K)

    def miss(x: float) -> float:
        left = math.exp(-(x**2)) / math.erf(x)
        ratio = k_f / k_n * math.sqrt(near / far) * abs(far_K - MELTS) / drive
        left -= ratio * math.exp(-((x * nu) ** 2)) / math.erfc(x * nu)
        return left - x * math.sqrt(math.pi) * FUSION / (c_n * drive)

    return float(brentq(miss, 1e-3, 3.0)), near


def neumann_K(x: FloatArray, t: float, wall_K: float, far_K: float) -> FloatArray:
    """Exact temperature at depth `x` from the wall."""
    from scipy.special import erf, erfc

    lam, near = neumann(wall_K, far_K)
    k, c = LIQUID if wall_K < MELTS else SOLID
    far = k / (DENSITY * c)
    root_n, root_f = 2.0 * math.sqrt(near * t), 2.0 * math.sqrt(far * t)
    inner = wall_K + (MELTS - wall_K) * erf(x / root_n) / math.erf(lam)
    outer = far_K + (MELTS - far_K) * erfc(x / root_f) / math.erfc(lam * math.sqrt(near / far))
    return np.asarray(np.where(x < lam * root_n, inner, outer), dtype=np.float64)


def freeze(
    wall_K: float, far_K: float, times: tuple[float, ...], mushy_K: float
) -> list[tuple[float, FloatArray, FloatArray]]:
    """March Neumann's problem; return front, depths and temperatures at `times`."""
    low, high = MELTS - 0.5 * mushy_K, MELTS + 0.5 * mushy_K
    body = rig.matter(
        k=[(low, SOLID[0]), (high, LIQUID[0])],
        c=[(low, SOLID[1]), (high, LIQUID[1])],
        density=DENSITY,
        melting=(low, high),
        fusion=FUSION,
    )
    depth = rig.graded([0.0, 6e-3], lambda x: 3e-6 + 0.004 * x)
    z = -depth[::-1]
    cut = len(z) // 4
    layers = [("can", body, z[: cut + 1], 1e-3), ("strip", body, z[cut:], 1e-3)]
    grid = rig.layered(np.array([0.0, 1e-3]), layers, [rig.contact(cut - 1, 1, 1e-3)])
    marks = np.diff(np.concatenate([[0.0], times]))
    train = tuple(Pulse(float(d)) for d in marks)
    given = rig.held(rig.setup(ConstantCurrent(0.0), ambient_K=far_K, train=train), wall_K)
    # With steps of 1 K any change of the solver moves the front after 1 ms by up to 0.4 %.
    given = replace(given, numerics=replace(given.numerics, tolerance_K=0.5))
    model = rig.heated(grid, given, np.zeros(grid.shape))
    reader = MeltReader(model)
    found, now = [], 0.0
    for state in rig.every(March(given, model), times[-1]):
        if any(abs(state.time_s - t) < 1e-10 for t in times) and state.time_s > now:
            now = state.time_s
            level = (reader.level(state.enthalpy)[:, 0] - 0.5)[::-1]
            x = -grid.z[::-1]
            at = int(np.flatnonzero(np.diff(np.sign(level)))[0])
            front = x[at] + (x[at + 1] - x[at]) * level[at] / (level[at] - level[at + 1])
            found.append((float(front), x, state.temperature[::-1, 0]))
    return found


def run_neumann() -> Outcome:
    checks, profiles = [], []
    guards = {(300.0, 2000.0): 0.75201924, (2500.0, 300.0): 0.28873942, (300.0, MELTS): 0.92439365}
    for (wall, far), guard in guards.items():
        name = "solidification" if wall < far else "melting"
        lam, near = neumann(wall, far)
        checks.append(relative(f"formula lambda, wall {wall:g} K, far {far:g} K", lam, guard, 1e-6))
        start = far + (5.0 if far == MELTS else 0.0)
        for t, (front, x, T) in zip((1e-3, 1e-2), freeze(wall, start, (1e-3, 1e-2), 10.0), strict=True):
            exact = 2.0 * lam * math.sqrt(near * t)
            label = f"front, {name} (wall {wall:g} K, far {far:g} K), {t * 1e3:g} ms"
            checks.append(relative(label, front, exact, 0.01, "m"))
            if t == 1e-2:
                profiles.append((f"{name}, {wall:g} to {far:g} K", x, T, neumann_K(x, t, wall, far)))
                for depth in (0.1e-3, 1e-3):
                    value = float(np.interp(depth, x, T))
                    reference = float(neumann_K(np.array([depth]), t, wall, far)[0])
                    note = "share of the temperature span"
                    label = f"temperature at {depth * 1e3:g} mm, {name} (far {far:g} K), 10 ms"
                    checks.append(scaled(label, value, reference, abs(far - wall), 0.01, "K", note))

    def draw() -> Any:
        from validation.drawing import axes

        figure, ax = axes("depth [mm]", "temperature [K]")
        for label, x, T, exact in profiles:
            (line,) = ax.plot(x * 1e3, T, label=label)
            ax.plot(x * 1e3, exact, "k--", lw=0.8)
            line.set_alpha(0.8)
        ax.set_xlim(0.0, 2.0)
        ax.legend(title="dashed: exact", fontsize=8)
        return figure

    return Outcome(tuple(checks), (Drawing("neumann", "Neumann's problem after 10 ms.", draw),))


def run_annulus() -> Outcome:
    k, t, r1, r2, flow_K = 70.0, 0.15e-3, 0.5e-3, 5e-3, 1000.0
    exact_W = 2.0 * math.pi * k * t * flow_K / math.log(r2 / r1)
    checks = [relative("formula against its guard", exact_W, 28.651903, 1e-7, "W")]
    # A hub and a rim that conduct perfectly; the rim's post carries the heat to the holder.
    sheet, ideal = rig.matter("sheet", k=k, rho=3e-7), rig.matter("ideal", k=1e9, rho=None)
    r = rig.graded([0.0, r1, r2, 1.2 * r2], lambda x: 0.02e-3 + 0.02 * x)
    z = np.array([0.0, t])
    grid = rig.layered(
        r, [("can", sheet, z, 2 * r2), ("strip", ideal, z + t, 2 * r2)], [rig.contact(0, len(r) - 1, r2)]
    )
    index = grid.material.copy()
    middle = (grid.r > r1) & (grid.r < r2)
    index[0, ~middle] = grid.materials.index(ideal)
    index[1, grid.r < r2] = -1
    grid = replace(grid, material=index)
    given = rig.setup(ConstantCurrent(1.0), train=(Pulse(1.0),))
    source = np.zeros(grid.shape)
    source[0, 0] = exact_W
    model = rig.heated(grid, given, source)
    # The post must touch: contact everywhere.
    model.contact_models[0].interface = replace(model.contact_models[0].interface, cap_m=2.0 * r2)
    stage = rig.steady(model, ActiveSource(given.circuit, given.train[0], 0.0))
    rise = stage.temperature[0] - 300.0
    checks.append(relative("rise of the hub for the exact heat", rise[0], flow_K, 1e-3, "K"))
    fraction = (np.interp(math.sqrt(r1 * r2), grid.r, rise) - rise[-1]) / flow_K
    checks.append(scaled("share of the rise at the geometric mean radius", fraction, 0.5, 1.0, 1e-3))
    return Outcome(tuple(checks))


def run_fin() -> Outcome:
    from scipy.special import i0, i1, k0, k1

    film, k, t, r1, r2, hub_K = 50.0, 70.0, 0.15e-3, 0.5e-3, 10e-3, 500.0
    m = math.sqrt(2.0 * film / (k * t))
    det = i0(m * r1) * k1(m * r2) + k0(m * r1) * i1(m * r2)
    a, b = hub_K * k1(m * r2) / det, hub_K * i1(m * r2) / det
    exact_W = -2.0 * math.pi * r1 * k * t * m * (a * i1(m * r1) - b * k1(m * r1))
    tip = a * i0(m * r2) + b * k0(m * r2)
    sheet = rig.matter("sheet", k=k)
    r = rig.graded([0.0, r1, r2], lambda x: 0.02e-3 + 0.02 * x)
    z = np.array([0.0, 0.5 * t, t])
    # Air above and below; the electrode is a stub of insulator that closes the hub's top.
    stub = rig.matter("stub", k=1e-9)
    layers = [("can", sheet, z[:2], r2), ("strip", sheet, z[1:], r2), ("tip", stub, np.array([t, 2 * t]), r1)]
    grid = rig.layered(r, layers, [rig.contact(0, len(r) - 1, r2)], bottom="free")
    given = replace(rig.setup(ConstantCurrent(1.0), train=(Pulse(1.0),)), heat_transfer_W_m2K=film)
    source = np.zeros(grid.shape)
    hub = grid.r < r1
    # The hub's own lower face loses heat as well.
    area = math.pi * r1**2
    source[0] = np.where(hub, (exact_W + film * area * hub_K) * grid.area_z / area, 0.0)
    model = rig.heated(grid, given, source)
    model.source_W = source
    stage = rig.steady(model, ActiveSource(given.circuit, given.train[0], 0.0))
    rise = stage.temperature[0] - 300.0
    at_hub = float(np.interp(r1, grid.r, rise))
    checks = [
        relative("rise at the hub's rim for the exact heat", at_hub, hub_K, 0.01, "K"),
        relative("rise at the outer rim", rise[-1], float(tip), 0.01, "K"),
        relative("heat to the air", stage.powers.air_W, source.sum(), 1e-6, "W"),
    ]
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="2-disc-source",
        title="Disc heat source on a half space",
        claim="The heat operator and the simulation follow a uniform disc source in space and time.",
        source="H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., Oxford 1959, section "
        "10.5.",
        tolerance="1 %, half of the whole numerical error that a weld may have (theory: numerics).",
        run=run_disc,
    ),
    Case(
        key="2-flux",
        title="Constant flux into a half space",
        claim="The simulation follows a suddenly applied flux.",
        source="Carslaw and Jaeger, section 2.9.",
        tolerance="1 % of the surface rise, the limit of the disc source.",
        run=run_flux,
    ),
    Case(
        key="2-neumann",
        title="Two-phase solidification and melting",
        claim="The front of a freezing melt, a melting solid and a melt at its melting point moves as "
        "Neumann found.",
        source="Carslaw and Jaeger, section 11.2.",
        tolerance="1 % of the front's depth, half of the whole numerical error that a weld may have; the "
        "model melts over a stated 10 K. The melt at its melting point starts 5 K above it, at the liquidus "
        "of that range.",
        run=run_neumann,
    ),
    Case(
        key="2-annulus",
        title="Heat through an annulus",
        claim="Radial conduction in a sheet follows the logarithmic law.",
        source="Textbook: Q = 2 pi k t dT / ln(r2 / r1).",
        tolerance="0.1 %: smooth and one-dimensional, so that only a second-order error of the grid is left.",
        run=run_annulus,
    ),
    Case(
        key="2-fin",
        title="Sheet that loses heat to the air",
        claim="The loss to air from both faces of a disc around a hot hub.",
        source="Annular fin with modified Bessel functions, textbook result.",
        tolerance="1 %: air loss is a minor term of a weld.",
        run=run_fin,
    ),
)
