"""Case 3, space: manufactured solutions for the electric and the heat operator."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.spot import heat_partition
from nugget.field.electric import ElectricalContact, ElectricField
from nugget.field.heat import HeatField, ThermalContact
from nugget.grid.stack import Grid
from validation import rig
from validation.case import Case, Check, Drawing, Outcome, at_least, at_most, informative

SIZE = 1e-3
JOIN = 0.5 * SIZE
LEVELS = (12, 24, 48, 96)


@dataclass(frozen=True)
class Made:
    """A field u = C(r) F(z) with coefficient s (1 + 0.4 C(r) Q(z)), times `ratio` above the joint.

    C = cos(pi r / R), Q = sin(2 pi z / H): the sides are insulated and Q vanishes at the joint.
    Below, F = cos(1.3 z / H), whose slope is zero at the insulated bottom. Above, F takes over
    flux and value with the jumps of a resistance per area `resistance` and of a heat `source`
    C(r) in the interface, half to each side.
    """

    scale: float
    ratio: float = 1.0
    resistance: float = 0.0
    source: float = 0.0
    anisotropy: float = 1.0

    def parts(self, z: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """F and its first two derivatives."""
        b = 1.3 / SIZE
        low = np.cos(b * z), -b * np.sin(b * z), -(b**2) * np.cos(b * z)
        d, slope = math.cos(b * JOIN), -b * math.sin(b * JOIN)
        share = (self.scale * slope - self.source) / (self.ratio * self.scale * slope)
        start = d + self.resistance * (self.scale * slope - 0.5 * self.source)
        high = start + (low[0] - d) * share, low[1] * share, low[2] * share
        above = z > JOIN
        return tuple(np.where(above, u, v) for u, v in zip(high, low, strict=True))  # type: ignore[return-value]

    def coefficient(self, r: FloatArray, z: FloatArray) -> FloatArray:
        wave = 1.0 + 0.4 * np.cos(math.pi * r / SIZE) * np.sin(2.0 * math.pi * z / SIZE)
        return self.scale * wave * np.where(z > JOIN, self.ratio, 1.0)

    def field(self, r: FloatArray, z: FloatArray) -> FloatArray:
        return np.cos(math.pi * r / SIZE) * self.parts(z)[0]

    def minus_divergence(self, r: FloatArray, z: FloatArray) -> FloatArray:
        """-div(s grad u), with s times `anisotropy` along r."""
        a, w = math.pi / SIZE, 2.0 * math.pi / SIZE
        C, C1, C2 = np.cos(a * r), -a * np.sin(a * r), -(a**2) * np.cos(a * r)
        F, F1, F2 = self.parts(z)
        s = self.coefficient(r, z)
        step = self.scale * np.where(z > JOIN, self.ratio, 1.0)
        s_r, s_z = step * 0.4 * C1 * np.sin(w * z), step * 0.4 * C * w * np.cos(w * z)
        along = self.anisotropy * (s_r * C1 * F + s * (C2 + C1 / r) * F)
        return -(along + s_z * C * F1 + s * C * F2)


def _grid(n: int, graded: bool) -> Grid:
    x = np.linspace(0.0, 1.0, n + 1)
    r = SIZE * (x + 0.12 * np.sin(2.0 * np.pi * x) / np.pi if graded else x)
    half = JOIN * np.linspace(0.0, 1.0, n // 2 + 1)
    if graded:
        half = half + 0.1 * JOIN * np.sin(np.pi * half / JOIN) / np.pi
    metal = rig.matter()
    layers = [("can", metal, half, SIZE), ("strip", metal, half + JOIN, SIZE)]
    return rig.layered(r, layers, [rig.contact(n // 2 - 1, n, SIZE)])


def electric_error(n: int, made: Made, graded: bool) -> float:
    """Root mean square error of the potential, as a share of its amplitude."""
    grid = _grid(n, graded)
    r, z = grid.r[None, :], grid.z[:, None]
    sigma = made.coefficient(r, z)
    field = ElectricField(grid)
    ones = np.ones(n)
    # The operator of the field with a source and the exact potential on top.
    operator = field.operator(sigma, [ElectricalContact(ones, made.resistance * ones)])
    rhs = made.minus_divergence(r, z) * grid.volume
    g_top = field.top / (field.faces.half_z[-1] / sigma[-1])
    rhs[-1] += g_top * made.field(grid.r, np.full(n, SIZE))
    return _norm(operator.factors.solve(rhs) - made.field(r, z), grid)


def heat_error(n: int, made: Made, graded: bool) -> float:
    """The same for the temperature of one endless implicit stage."""
    grid = _grid(n, graded)
    r, z = grid.r[None, :], grid.z[:, None]
    k = made.coefficient(r, z)
    heat = HeatField(grid, 300.0, 300.0, 0.0)
    ones = np.ones(n)
    thermal_contacts = [ThermalContact(ones, made.resistance * ones, 0.0)]
    conduction = heat.conduction(made.anisotropy * k, k, thermal_contacts)
    power = made.minus_divergence(r, z) * grid.volume
    power[-1] += conduction.g_top * (made.field(grid.r, np.full(n, SIZE)) - 300.0)
    above = n // 2
    halves = tuple(0.5 * grid.dz[row] / k[row] for row in (above, above - 1))
    share = heat_partition((halves[0], halves[1]), made.resistance * ones)
    interface = made.source * np.cos(math.pi * grid.r / SIZE) * grid.area_z
    power[above] += share * interface
    power[above - 1] += (1.0 - share) * interface
    step = rig.linear_step(heat, conduction, np.ones(grid.shape), 1e15, np.zeros(grid.shape), power)
    return _norm(step.temperature_K - made.field(r, z), grid)


def _norm(difference: FloatArray, grid: Grid) -> float:
    return float(np.sqrt((difference**2 * grid.volume).sum() / grid.volume.sum()))


def order(errors: list[float]) -> float:
    """Observed order between the two finest grids (each halves the spacing)."""
    return math.log2(errors[-2] / errors[-1])


SMOOTH = Made(5.0, anisotropy=0.4)
# Above the joint three times the conductivity; jump about a third of the amplitude.
JUMP = Made(5.0, ratio=3.0, resistance=4e-5)
SOURCE = Made(5.0, ratio=3.0, resistance=4e-5, source=3e3, anisotropy=0.4)


def run_space() -> Outcome:
    problems: dict[str, tuple[Callable[[int, Made, bool], float], Made, bool]] = {
        "electric, smooth, even grid": (electric_error, Made(5.0), False),
        "electric, smooth, graded grid": (electric_error, Made(5.0), True),
        "heat, smooth, even grid": (heat_error, SMOOTH, False),
        "heat, smooth, graded grid": (heat_error, SMOOTH, True),
        "electric, across an interface": (electric_error, JUMP, True),
        "heat, across an interface that heats": (heat_error, SOURCE, True),
    }
    checks: list[Check] = []
    lines = {}
    for name, (solve, made, graded) in problems.items():
        errors = [solve(n, made, graded) for n in LEVELS]
        lines[name] = errors
        if "smooth" in name:
            checks.append(at_least(f"order, {name}", order(errors), 1.9))
        else:
            checks.append(informative(f"order, {name}", order(errors), 2.0, "", "reported, no limit"))
        checks.append(
            at_most(f"error on the finest grid, {name}", errors[-1], 1e-3, "", "share of the amplitude")
        )

    def draw() -> Any:
        from validation.drawing import axes, mark_counts

        figure, ax = axes("cells along each side", "error / amplitude")
        for name, errors in lines.items():
            ax.loglog(LEVELS, errors, "o-", label=name)
        ax.loglog(
            LEVELS, [0.1 * (LEVELS[0] / n) ** 2 * lines[next(iter(lines))][0] * 10 for n in LEVELS], "k--"
        )
        mark_counts(ax, LEVELS)
        ax.legend(fontsize=7, title="dashed: second order")
        return figure

    return Outcome(tuple(checks), (Drawing("order", "Manufactured solutions.", draw),))


CASES = (
    Case(
        key="3-space",
        title="Order in space",
        claim="Electric and heat operator are second order with smooth coefficients (graded grid, "
        "anisotropic conductivity), and stay so across an interface with a jump of conductivity, a "
        "resistance and its own heat.",
        source="Method of manufactured solutions (ASME V&V 20); solutions made up here.",
        tolerance="Order at least 1.9 with smooth coefficients: two by construction, a tenth for grids that "
        "are not yet fine; error on 96 x 96 cells at most 0.1 % of the amplitude, so that a wrong but "
        "convergent scheme does not pass.",
        run=run_space,
    ),
)
