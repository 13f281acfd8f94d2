"""Contact mechanics written anew (theory: contact): plain and unhurried."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import brentq

from nugget.arrays import FloatArray
from nugget.contact.laws import ContactConditions
from nugget.grid.stack import Interface
from nugget.materials.material import Material
from nugget.setup import Setup
from nugget.setup.description import Layer
from validation.peers.hardness import SLOWEST_1_S, hardness
from validation.peers.stepping import Backward

LORENZ = 2.44e-8
THIN_M = 20e-6
"""A layer below this carries nothing: what lies behind it does."""
HALVINGS = 40


def carriers(setup: Setup, interface: Interface) -> tuple[Material, Material]:
    """The two metals that carry the force at an interface."""
    strip, base = list(setup.strip), list(setup.base)
    if interface.name == "tip":
        return setup.electrode.material, _first_thick(strip)
    upper = _first_thick(strip[::-1])
    return upper, upper if interface.mirrored else _first_thick(base)


def _first_thick(layers: Sequence[Layer]) -> Material:
    return next((layer for layer in layers if layer.thickness_m >= THIN_M), layers[-1]).material


@dataclass
class Spot:
    """One interface: contact radius, share of real contact, resistances.

    `r` and `weights` (areas) describe the points along the radius at which it is evaluated. `step` and
    the two pasts, latest first, say how fast a radius or a share of real contact changes. Before the
    first step it is at rest; a contact without current stays as it is. `apart` is the largest share by
    which the last update asked for other real contact than there was.
    """

    setup: Setup
    interface: Interface
    r: FloatArray
    weights: FloatArray
    gap_W_m2K: float
    radius_m: float = 0.0
    equilibrium_radius_m: float = 0.0
    least_m: float = 0.0
    fraction: FloatArray = field(default_factory=lambda: np.zeros(0))
    least_fraction: FloatArray = field(default_factory=lambda: np.zeros(0))
    electrical: FloatArray = field(default_factory=lambda: np.zeros(0))
    thermal: FloatArray = field(default_factory=lambda: np.zeros(0))
    apart: float = 0.0

    def __post_init__(self) -> None:
        i = self.interface
        self.radius_m = self.equilibrium_radius_m = self.least_m = i.first_m if i.moves else i.cap_m
        self.least_fraction = np.zeros_like(self.r)
        self.fraction = np.ones_like(self.r) if i.law.grows else self.least_fraction
        self.thermal = np.zeros_like(self.r)
        self.metals = carriers(self.setup, i)
        self.step: Backward | None = None
        self.powered = True
        self.radii = (self.radius_m, self.radius_m)
        self.fractions = (self.fraction, self.fraction)

    def sides(
        self, T: tuple[FloatArray, FloatArray], halves: tuple[FloatArray, FloatArray], heat: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Temperatures of both surfaces: half of the heat enters each, the contact passes the rest.

        Unknowns u, v: (T1 - u) / R1 + s/2 = (u - v) / R and (T2 - v) / R2 + s/2 = (v - u) / R.
        """
        (T1, T2), (R1, R2) = T, halves
        s = 0.5 * heat
        R = np.maximum(self.thermal, 1e-30)
        a, b = 1.0 / R1 + 1.0 / R, 1.0 / R2 + 1.0 / R
        p, q = T1 / R1 + s, T2 / R2 + s
        u = (p * b + q / R) / (a * b - 1.0 / R**2)
        return u, (q + u / R) / b

    def update(self, sides: tuple[FloatArray, FloatArray], rho: FloatArray) -> None:
        """Take new surface temperatures [K] and resistivity sum [ohm m] at the present radius."""
        i = self.interface
        self.apart = 0.0
        if self.powered and i.law.grows:
            if i.moves:
                self.equilibrium_radius_m = self._grown(sides)
        elif self.powered:
            share = self._real_contact(sides)
            # Halfway to the last one: more contact is cooler, so harder, and asks for less.
            before = np.where(self.fraction > 0.0, self.fraction, share)
            self.apart = float(np.abs(share / before - 1.0).max())
            self.fraction = np.maximum(self.least_fraction, 0.5 * (share + before))
        self.electrical = i.law.resistance(ContactConditions(*sides, self.fraction, rho))
        mean = 0.5 * (sides[0] + sides[1])
        self.thermal = 1.0 / (self._passed(LORENZ * mean) + self.gap_W_m2K)

    def _passed(self, per_ohm: FloatArray) -> FloatArray:
        """Heat conductance [W/(m2 K)]: spots by their electrons, the film by its lattice as well."""
        film, lattice = (getattr(self.interface.law, k, 0.0) for k in ("film_ohm_m2", "film_W_m2K"))
        if film == 0.0:
            return per_ohm / self.electrical
        spots = np.maximum(self.electrical - film / self.fraction, 0.0)
        through = self.fraction * (per_ohm / film + lattice)
        return np.asarray(per_ohm * through / (per_ohm + spots * through))

    def _softer(self, sides: tuple[FloatArray, FloatArray], rate_1_s: FloatArray) -> FloatArray:
        """Hardness [Pa] of the softer side at each point."""
        factor = self.setup.contact.melt_strength_factor
        one, other = (hardness(m, T, rate_1_s, factor) for m, T in zip(self.metals, sides, strict=True))
        return np.asarray(np.minimum(one, other) * self.setup.contact.hardness)

    def _grown(self, sides: tuple[FloatArray, FloatArray]) -> float:
        """Root of F = 2 pi int H(T(r), (da/dt) / a) r dr between the last radius and the cap."""
        if self.step is None:
            return self.least_m
        step, past, cap = self.step, self.radii, self.interface.cap_m

        def missing(a: float) -> float:
            rate = step.slope(a, past) / a
            return self._carried(self._softer(sides, np.full_like(self.r, rate)), a) - self.setup.force_N

        if missing(self.least_m) >= 0.0:
            return self.least_m
        return cap if missing(cap) <= 0.0 else float(brentq(missing, self.least_m, cap, xtol=1e-11))

    def _carried(self, H: FloatArray, radius_m: float) -> float:
        """Force that is carried inside a radius."""
        edges = np.concatenate([[0.0], np.sqrt(np.cumsum(self.weights) / math.pi)])
        inside = math.pi * np.diff(np.minimum(edges, radius_m) ** 2)
        return float(inside @ H)

    def _real_contact(self, sides: tuple[FloatArray, FloatArray]) -> FloatArray:
        """Root of f = p / H(T, (df/dt) / (2 f)) at each point, at most 1: radii of spots go with sqrt f."""
        pressure = self.setup.force_N / (math.pi * self.radius_m**2)
        low, high = np.maximum(self.least_fraction, 1e-9), np.ones_like(self.r)
        for _ in range(HALVINGS):
            f = 0.5 * (low + high)
            still = np.full_like(f, SLOWEST_1_S)
            rate = still if self.step is None else self.step.slope(f, self.fractions) / (2.0 * f)
            enough = f * self._softer(sides, rate) >= pressure
            low, high = np.where(enough, low, f), np.where(enough, f, high)
        return 0.5 * (low + high)

    def begin(
        self, step: Backward, powered: bool = True, start: tuple[float, FloatArray] | None = None
    ) -> None:
        """Begin a step from what was kept, or a stage from a given radius and share of real contact."""
        self.step, self.powered = step, powered
        if not powered:
            self.radius_m = self.equilibrium_radius_m = self.least_m
        if start is not None:
            radius, fraction = start
            self.radii, self.fractions = (radius, radius), (fraction, fraction)

    def rest(self) -> None:
        """End of the squeeze: real contact is what the force has made of cold metal in its own time."""
        if not self.interface.law.grows:
            self.least_fraction = self.fraction
            self.fractions = self.fraction, self.fraction

    def keep(self) -> None:
        """End of a step: radius and real contact never fall below what they are now."""
        self.least_m, self.least_fraction = self.radius_m, self.fraction
        self.radii = self.radius_m, self.radii[0]
        self.fractions = self.fraction, self.fractions[0]


class Balance:
    """Finds the radii of all spots together: Broyden's method, its matrix remembered between steps."""

    def __init__(self, spots: list[Spot]) -> None:
        self.spots = spots
        self.inverse = np.eye(len(spots)) / 3.0
        self.last: tuple[FloatArray, FloatArray] | None = None

    def settle(self) -> float:
        """Move all radii once; return the largest relative miss before the move."""
        x = np.array([s.radius_m for s in self.spots])
        miss = np.array([s.equilibrium_radius_m for s in self.spots]) - x
        if self.last is not None:
            step, turn = x - self.last[0], self.last[1] - miss
            scale = float(step @ self.inverse @ turn)
            if abs(scale) > 1e-3 * float(step @ step):
                gain = np.outer(step - self.inverse @ turn, step @ self.inverse) / scale
                self.inverse = self.inverse + gain
        move = self.inverse @ miss
        # Never further than the answer itself, and in its direction: the matrix may be stale.
        move = np.where(miss >= 0.0, np.clip(move, 0.03 * miss, miss), np.clip(move, miss, 0.03 * miss))
        for spot, a, m in zip(self.spots, x, move, strict=True):
            spot.radius_m = max(spot.least_m, float(a + m))
        self.last = x, miss
        return float(np.abs(miss / x).max())

    def next_stage(self) -> None:
        self.last = None

    def next_step(self) -> None:
        self.next_stage()
        for spot in self.spots:
            spot.keep()
