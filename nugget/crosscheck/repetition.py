"""One weld marched again with FiPy over the steps and contacts of another march."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.crosscheck.fipy_fields import Ampere, Contact, FipyFields, exposed_area
from nugget.crosscheck.properties import CellProperties
from nugget.crosscheck.recording import Recorded
from nugget.errors import SolverError
from nugget.grid.stack import Grid
from nugget.setup import Setup
from nugget.setup.description import Pulse
from nugget.weld.phases import phases
from nugget.weld.stage import StageResult

GAMMA = 1.0 - 1.0 / math.sqrt(2.0)
"""Length of a stage over that of its step (Alexander, SIAM J. Numer. Anal. 14 (1977) 1006)."""
SETTLED_K, SETTLED_SHARE = 0.1, 1e-3
"""A stage has settled when its last change is below both together: a Newton step leaves far less."""
MOST_SWEEPS = 30
SAME_S = 1e-10
"""Instants that are no further apart are one."""


@dataclass(frozen=True)
class Stage:
    """What one stage of the repetition found."""

    enthalpy: FloatArray
    temperature: FloatArray
    current_A: float
    load_ohm: float
    heat_W: float
    ampere: Ampere | None


class Repetition:
    """The repeated weld: its own enthalpy, current and charge, from the first step on.

    Attributes
    ----------
    T, h : ndarray, shape (nz, nr)
        Temperature [K] and enthalpy [J/m3] after the last step.
    current_A, charge_C, load_ohm : float
    ampere : Ampere or None
        Field of one ampere at the end of the last step, None without current.
    heat_J : float
        Heat made so far in what the grid holds, and behind its grounds.
    """

    def __init__(self, setup: Setup, grid: Grid) -> None:
        self.setup, self.grid = setup, grid
        self.properties = CellProperties(grid.materials, np.maximum(grid.material, 0), setup.stirring)
        gap = float(setup.contact.gas.conductivity_z(setup.ambient_K)) / setup.contact.stand_off_m
        self.fields = FipyFields(grid, self.properties, setup.electrode.holder_temperature_K, gap)
        self.loss = np.where(grid.active, setup.heat_transfer_W_m2K * exposed_area(grid) / grid.volume, 0.0)
        self.fields.loss.setValue(self.loss.ravel())
        self.T = np.full(grid.shape, setup.ambient_K)
        self.h = self.start = self.properties.enthalpy(self.T)
        self.phases = phases(setup)
        self.current_A = self.charge_C = self.load_ohm = self.heat_J = 0.0
        self.ampere: Ampere | None = None

    @property
    def stored_J(self) -> float:
        """Gain of enthalpy since the start [J]."""
        gain = np.where(self.grid.active, (self.h - self.start) * self.grid.volume, 0.0)
        return float(gain.sum())

    def step(self, recorded: Recorded) -> None:
        """Repeat one step with the contacts of its two stages."""
        before, (first, second), after = recorded.before, recorded.stages, recorded.after
        time, dt = before.time_s, after.time_s - before.time_s
        tau, rest = GAMMA * dt, (1.0 - GAMMA) * dt
        if self._switched_off(time):
            self.current_A = 0.0
        # Where the march went is a first guess; what a stage settles to does not depend on it.
        guess = self.h + first.enthalpy - before.enthalpy
        start = (self.current_A, self.charge_C)
        one = self._stage(time + tau, tau, self.h, guess, start, first, after.tip_closed)
        rate = (one.enthalpy - self.h) / tau
        drift = (one.current_A - start[0]) / tau
        start = (start[0] + rest * drift, start[1] + rest * one.current_A)
        guess = self.h + second.enthalpy - before.enthalpy
        begin = self.h + rest * rate
        two = self._stage(time + dt, tau, begin, guess, start, second, after.tip_closed)
        self.h, self.T, self.load_ohm = two.enthalpy, two.temperature, two.load_ohm
        self.ampere = two.ampere
        self.heat_J += rest * one.heat_W + tau * two.heat_W
        if second.electric is not None:
            self.charge_C = start[1] + tau * two.current_A
        # A thyristor goes out at current zero: that is the march's to say.
        on = second.electric is not None and after.circuit.current_A != 0.0
        self.current_A = two.current_A if on else 0.0

    def _switched_off(self, time_s: float) -> bool:
        """Whether a pulse ends at this instant, and its current with it."""
        if self.setup.circuit.source.turns_off_at_zero:
            return False
        ends = [p.pulse_start_s + p.pulse.duration_s for p in self.phases if p.pulse is not None]
        return any(abs(end - time_s) < SAME_S for end in ends)

    def _pulse(self, time_s: float) -> tuple[Pulse, float]:
        """The latest pulse that has begun, and its start [s]."""
        begun = [p for p in self.phases if p.pulse is not None and p.pulse_start_s < time_s + SAME_S]
        last = begun[-1]
        assert last.pulse is not None
        return last.pulse, last.pulse_start_s

    def _current(self, time_s: float, tau_s: float, start: tuple[float, float], load_ohm: float) -> float:
        """Current at the end of a stage: ``L (I - I0) / tau + (R + load) I = V(t) - (q0 + tau I) / C``."""
        circuit = self.setup.circuit
        pulse, begun = self._pulse(time_s)
        local = time_s - begun
        asked = pulse.envelope(min(local, pulse.duration_s)) * circuit.source.value(local)
        if circuit.source.drive == "current":
            return asked
        inertia, elastance = circuit.series_H / tau_s, circuit.source.elastance_per_F
        volts = asked - elastance * start[1] + inertia * start[0]
        return volts / (inertia + tau_s * elastance + circuit.series_ohm + load_ohm)

    def _load(self, model_ohm: float) -> float:
        """What the source sees of the modelled resistance (theory: circuit)."""
        arrangement = self.setup.arrangement
        if arrangement == "opposed":
            return 2.0 * model_ohm if self.fields.mirrored else model_ohm
        return model_ohm + self.setup.return_ohm if arrangement == "indirect" else 2.0 * model_ohm

    def _stage(
        self,
        time_s: float,
        tau_s: float,
        start: FloatArray,
        guess: FloatArray,
        circuit: tuple[float, float],
        given: StageResult,
        tip_closed: bool,
    ) -> Stage:
        """Solve ``h - tau f(h) = start`` by Newton's method, charge and heat in turn."""
        fields, grid, properties = self.fields, self.grid, self.properties
        contacts = [Contact(c.contact_fraction, c.electrical, c.thermal) for c in given.contacts]
        h, T = guess, np.where(grid.active, properties.temperature(guess), self.T)
        amps = load = made = 0.0
        ampere = None
        for sweep in range(MOST_SWEEPS):
            power = np.zeros(grid.shape)
            if given.electric is not None:
                ampere = fields.electric(T, contacts)
                load = self._load(ampere.resistance_ohm)
                amps = self._current(time_s, tau_s, circuit, load)
                made = amps**2 * ampere.resistance_ohm
                power = fields.heat_W(ampere, amps, T, contacts)
            capacity = np.where(grid.active, properties.capacity(T), 1.0)
            source = np.where(grid.active, power / grid.volume - (h - start) / tau_s, 0.0)
            source += self.loss * self.setup.ambient_K
            solved = fields.warm(T, fields.conduction(T, contacts, tip_closed), capacity, source, tau_s)
            # At the kinks of melting plain Newton steps may swing for ever.
            weight = 1.0 if sweep < 6 else 0.5 if sweep < 14 else 0.25
            h = h + weight * capacity * np.where(grid.active, solved - T, 0.0)
            fresh = np.where(grid.active, properties.temperature(h), T)
            change = float(np.abs(fresh - T).max())
            T = fresh
            if change < SETTLED_K + SETTLED_SHARE * float(np.abs(T - self.setup.ambient_K).max()):
                return Stage(h, T, amps, load, made, ampere)
        raise SolverError(time_s, f"the repetition with FiPy did not settle: {change:.3g} K")
