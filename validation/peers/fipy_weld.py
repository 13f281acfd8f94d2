"""The coupled weld marched with FiPy's fields; linearisation and time stepping are written here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.setup import Setup
from validation.peers.contact import Balance
from validation.peers.fipy_terms import SpotFields
from validation.peers.stepping import Backward, current_A, load_ohm

SHARE = 1.0 - 1.0 / np.sqrt(2.0)
"""Length of a stage over that of its step."""


@dataclass(frozen=True)
class State:
    """One instant: time, temperatures [K], current, load, contact radii."""

    time_s: float
    temperature: FloatArray
    current_A: float
    load_ohm: float
    radii_m: tuple[float, ...]


@dataclass(frozen=True)
class Past:
    """The last two enthalpies [J/m3] and currents [A], latest first."""

    time_s: float
    h: tuple[FloatArray, FloatArray]
    amps: tuple[float, float]


class FipyWeld(SpotFields):
    """March one setup with FiPy: each step settled to `settled_K`, contacts to a share `settled_radius`.

    Real contact under flat faces is settled as radii are: what a step leaves open of it lags behind for good,
    and the shorter the steps the faster the contact has to grow to make up for it, so the harder it is.
    """

    def __init__(
        self,
        setup: Setup,
        settled_K: float = 0.1,
        settled_radius: float = 2e-4,
        sweeps: int = 40,
        solver: str = "LinearLUSolver",
    ) -> None:
        super().__init__(setup, solver)
        self.settled_K, self.settled_radius, self.sweeps = settled_K, settled_radius, sweeps

    def march(self, phases: list[tuple[FloatArray, bool]]) -> Iterator[State]:
        """Step through phases of (step sizes [s], source on) by backward differentiation; yield states."""
        T, past = self._rest()
        h = past.h[0]
        balance = Balance(self.spots)
        before = tuple(s.radius_m for s in self.spots)
        for steps, on in phases:
            last: float | None = None
            for dt in steps:
                step = Backward.of(float(dt), last)
                for spot in self.spots:
                    spot.begin(step, on)
                now = tuple(s.radius_m for s in self.spots)
                if last is not None:
                    self._widen_to(now, before, float(dt) / last)
                before = now
                guess = h
                if last is not None:
                    guess = h + (h - past.h[1]) * float(dt) / last
                    T = np.where(self.grid.active, self.properties.temperature(guess), T)
                h, T, amps, load = self._settle(step, past, guess, T, on, balance)
                past = Past(past.time_s + float(dt), (h, past.h[0]), (amps, past.amps[0]))
                last = float(dt)
                balance.next_step()
                yield State(past.time_s, T, amps, load, tuple(s.radius_m for s in self.spots))
            past = Past(past.time_s, past.h, (0.0, 0.0))

    def march_in_stages(self, phases: list[tuple[FloatArray, bool]]) -> Iterator[State]:
        """Step through the phases by the two-stage formula that the model marches with.

        Each stage is one backward step of ``SHARE dt``: the first from the state, the second from what
        the first one's slope makes of it (Alexander, SIAM Journal on Numerical Analysis 14, 1977).
        """
        T, past = self._rest()
        balance = Balance(self.spots)
        for steps, on in phases:
            slope = bend = np.zeros(self.grid.shape)
            growth = (0.0,) * len(self.spots)
            for dt in map(float, steps):
                h, amps, old = past.h[0], past.amps[0], tuple(s.radius_m for s in self.spots)
                tau, rest = SHARE * dt, (1.0 - SHARE) * dt
                step = Backward(tau)
                kept = [(s.radius_m, s.fraction) for s in self.spots]
                for spot, at in zip(self.spots, kept, strict=True):
                    spot.begin(step, on, at)
                self._widen_to(old, tuple(a - g for a, g in zip(old, growth, strict=True)), tau)
                guess = h + tau * (slope + 0.5 * tau * bend)
                first, T, middle, _ = self._settle(step, past, guess, self._at(guess, T), on, balance)
                rate = (first - h) / tau
                bend = (rate - slope) / tau
                start = h + rest * rate
                drawn = amps + rest * (middle - amps) / tau
                inner = tuple(s.radius_m for s in self.spots)
                balance.next_stage()
                for spot, (radius, fraction) in zip(self.spots, kept, strict=True):
                    onward = rest / tau
                    gained = spot.radius_m - radius, spot.fraction - fraction
                    spot.begin(step, on, (radius + onward * gained[0], fraction + onward * gained[1]))
                self._widen_to(old, inner, -1.0 / SHARE)
                guess = h + dt * (slope + 0.5 * dt * bend)
                begin = Past(past.time_s + rest, (start, start), (drawn, drawn))
                last, T, amps, load = self._settle(step, begin, guess, self._at(guess, T), on, balance)
                slope = (last - start) / tau
                bend = (slope - rate) / rest
                growth = tuple((s.radius_m - b) / rest for s, b in zip(self.spots, inner, strict=True))
                past = Past(past.time_s + dt, (last, last), (amps, amps))
                balance.next_step()
                yield State(past.time_s, T, amps, load, tuple(s.radius_m for s in self.spots))
            past = Past(past.time_s, past.h, (0.0, 0.0))

    def _rest(self) -> tuple[FloatArray, Past]:
        """Temperatures and past of the weld before its first step."""
        T = np.full(self.grid.shape, self.setup.ambient_K)
        h = self.properties.enthalpy(T)
        for _ in range(3):
            self.update_spots(T, [np.zeros(self.grid.shape[1]) for _ in self.spots])
        for spot in self.spots:
            spot.rest()
        return T, Past(0.0, (h, h), (0.0, 0.0))

    def _at(self, h: FloatArray, T: FloatArray) -> FloatArray:
        return np.where(self.grid.active, self.properties.temperature(h), T)

    def _widen_to(self, now: tuple[float, ...], other: tuple[float, ...], steps: float) -> None:
        """Continue the line from `other` through `now` by so many of its lengths, as a first guess."""
        for spot, a, b in zip(self.spots, now, other, strict=True):
            spot.radius_m = max(spot.least_m, min(a + (a - b) * steps, spot.interface.cap_m))

    def _settle(
        self, step: Backward, past: Past, guess: FloatArray, T: FloatArray, on: bool, balance: Balance
    ) -> tuple[FloatArray, FloatArray, float, float]:
        """Solve one step with the contact radii it asks for: enthalpy, temperature, current, load."""
        off = np.inf
        for _ in range(60):
            guess, T, amps, load, off = self._relax(step, past, guess, T, on)
            apart = max(balance.settle(), self._apart())
            if apart < self.settled_radius and off < 5.0 * self.settled_K:
                return guess, T, amps, load
        raise ArithmeticError(f"no solution at {past.time_s + step.dt:g} s: {off:g} K apart")

    def _apart(self) -> float:
        """By how much, as a share, the real contact of any spot is off what was asked for last."""
        return max(spot.apart for spot in self.spots)

    def _relax(
        self, step: Backward, past: Past, guess: FloatArray, T: FloatArray, on: bool
    ) -> tuple[FloatArray, FloatArray, float, float, float]:
        """Sweep one step at the present contact radii: enthalpy, temperature, current, load, change."""
        grid, amps, load, off = self.grid, 0.0, 0.0, np.inf
        time = past.time_s + step.dt
        for n in range(self.sweeps):
            power = np.zeros(grid.shape)
            if on:
                ampere = self.electric(T, self.contacts())
                load = load_ohm(self.setup, ampere.resistance_ohm, self.mirrored)
                amps = current_A(self.setup, time, step, past.amps, load)
                self.update_spots(T, [amps**2 * q for q in ampere.interface_W_m2])
                power = self.heat_W(ampere, amps, T, self.contacts())
            else:
                self.update_spots(T, [np.zeros(grid.shape[1]) for _ in self.spots])
            capacity = np.where(grid.active, self.properties.capacity(T), 1.0)
            stored = (step.a * guess + step.b * past.h[0] + step.c * past.h[1]) / step.dt
            source = np.where(grid.active, power / grid.volume - stored, 0.0)
            faces = self.conduction(T, self.contacts(), True)
            solved = self.warm(T, faces, step.a * capacity, source, step.dt)
            # At the kinks of melting plain Newton steps may swing for ever.
            weight = 1.0 if n < 8 else 0.5 if n < 16 else 0.25
            guess = guess + weight * capacity * np.where(grid.active, solved - T, 0.0)
            fresh = np.where(grid.active, self.properties.temperature(guess), T)
            off = float(np.abs(fresh - T).max())
            T = fresh
            # Kinks of the curves may leave a few tenths of a kelvin that swing.
            if off < self.settled_K * (1.0 if n < 15 else 5.0) and self._apart() < self.settled_radius:
                break
        return guess, T, amps, load, off
