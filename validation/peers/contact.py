"""Contact mechanics written anew (theory: contact): plain and unhurried."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.laws import ContactConditions
from nugget.grid.stack import Interface
from nugget.setup import Setup

LORENZ = 2.44e-8


@dataclass
class Spot:
    """One interface: contact radius, share of real contact, resistances.

    `r` and `weights` (areas) describe the points along the radius at which it is evaluated.
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

    def __post_init__(self) -> None:
        i = self.interface
        self.radius_m = self.equilibrium_radius_m = self.least_m = i.first_m if i.moves else i.cap_m
        self.least_fraction = np.zeros_like(self.r)
        self.fraction = np.ones_like(self.r) if i.law.grows else self.least_fraction
        self.thermal = np.zeros_like(self.r)

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

    def update(self, hardness: FloatArray, sides: tuple[FloatArray, FloatArray], rho: FloatArray) -> None:
        """Take new hardness [Pa], surface temperatures and resistivity sum at the present radius."""
        i, contact, force = self.interface, self.setup.contact, self.setup.force_N
        H = hardness * contact.hardness_factor
        mean = 0.5 * (sides[0] + sides[1])
        if i.law.grows:
            if i.moves:
                wanted = contact.radius_factor * self._carrying(H, force, i.cap_m / contact.radius_factor)
                self.equilibrium_radius_m = max(wanted, self.least_m)
        else:
            pressure = force / (math.pi * self.radius_m**2)
            share = np.minimum(1.0, pressure / np.maximum(H, 1e-3 * pressure))
            # Halfway to the last one: more contact is cooler, so harder, and asks for less.
            before = np.where(self.fraction > 0.0, self.fraction, share)
            self.fraction = np.maximum(self.least_fraction, 0.5 * (share + before))
        self.electrical = i.law.resistance(ContactConditions(*sides, self.fraction, rho))
        self.thermal = 1.0 / (LORENZ * mean / self.electrical + self.gap_W_m2K)

    def _carrying(self, H: FloatArray, force: float, cap: float) -> float:
        """Radius inside which the hardness adds up to the force."""
        edges = np.concatenate([[0.0], np.sqrt(np.cumsum(self.weights) / math.pi)])
        left = force
        for n, h in enumerate(H):
            inner, outer = edges[n], min(edges[n + 1], cap)
            ring = math.pi * (outer**2 - inner**2) * h
            if ring >= left:
                return math.sqrt(inner**2 + left / (math.pi * h))
            left -= ring
            if edges[n + 1] >= cap:
                return cap
        return cap

    def keep(self) -> None:
        """End of a step: radius and real contact never fall below what they are now."""
        self.least_m, self.least_fraction = self.radius_m, self.fraction


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
