"""The circuit: ``L dI/dt = V(t, charge) - I R`` coupled to the load at every stage."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from nugget.setup.description import Circuit, Pulse

SAMPLES = 65
"""Instants at which a pulse is looked at for its largest voltage: within a twentieth for half a sine."""


@dataclass(frozen=True)
class CircuitState:
    """Circuit state: current [A], charge drawn [C], current direction that may flow (0: none)."""

    current_A: float = 0.0
    charge_C: float = 0.0
    direction: int = 0


@dataclass(frozen=True)
class ActiveSource:
    """The source during one pulse that began at `start_s`."""

    circuit: Circuit
    pulse: Pulse
    start_s: float

    def emf(self, time_s: float) -> float:
        """Voltage [V] or current [A] asked of the source at `time_s`, slopes included."""
        local = time_s - self.start_s
        return self.pulse.envelope(min(local, self.pulse.duration_s)) * self.circuit.source.value(local)

    @cached_property
    def largest(self) -> float:
        """Largest voltage [V] or current [A] that this pulse asks of the source, as samples tell."""
        parts = np.linspace(0.0, self.pulse.duration_s, SAMPLES)
        return max(abs(self.emf(self.start_s + float(t))) for t in parts)

    def prospective_A(self, load_ohm: float) -> float:
        """Current [A] of the order that the pulse can drive through a load."""
        if self.circuit.source.drive == "current":
            return self.largest
        holds_back = self.circuit.series_H / self.pulse.duration_s
        return self.largest / (self.circuit.series_ohm + load_ohm + holds_back)

    def stored_J(self, volts: float) -> float:
        """Energy [J] that is left in a capacitor bank at its voltage; of other sources, without end."""
        elastance = self.circuit.source.elastance_per_F
        return 0.5 * volts**2 / elastance if elastance > 0.0 else math.inf

    def voltage(self, time_s: float, current_A: float, charge_C: float, load_ohm: float) -> float:
        """Voltage [V] of the ideal source behind its own resistance and inductance."""
        if self.circuit.source.drive == "current":
            return current_A * (load_ohm + self.circuit.series_ohm)
        return self.emf(time_s) - charge_C * self.circuit.source.elastance_per_F

    def current(self, time_s: float, tau_s: float, start: CircuitState, load_ohm: float) -> float:
        """Current [A] at the end of an implicit stage.

        Parameters
        ----------
        time_s : float
            Time of the stage.
        tau_s : float
            Implicit coefficient times the step.
        start : CircuitState
            Current and charge that the stage starts from.
        load_ohm : float
            Load seen by the source.
        """
        if self.circuit.source.drive == "current":
            return self.emf(time_s)
        elastance = self.circuit.source.elastance_per_F
        storing = self.circuit.series_H / tau_s
        push = self.emf(time_s) - elastance * start.charge_C + storing * start.current_A
        return push / (storing + self.circuit.series_ohm + load_ohm + tau_s * elastance)

    def rate(self, time_s: float, state: CircuitState, load_ohm: float) -> float:
        """dI/dt [A/s] at the start of a step; 0 without inductance."""
        inductance = self.circuit.series_H
        if inductance == 0.0 or self.circuit.source.drive == "current":
            return 0.0
        volts = self.voltage(time_s, state.current_A, state.charge_C, load_ohm)
        return (volts - state.current_A * (self.circuit.series_ohm + load_ohm)) / inductance

    def start_current(self, state: CircuitState, load_ohm: float) -> float:
        """Current [A] the instant after the switch closes."""
        source = self.circuit.source
        if source.drive == "current":
            return self.emf(self.start_s)
        if self.circuit.series_H > 0.0:
            return state.current_A
        return self.voltage(self.start_s, 0.0, state.charge_C, load_ohm) / (
            self.circuit.series_ohm + load_ohm
        )

    def fired_direction(self, time_s: float) -> int:
        """Direction in which the source conducts when it fires at `time_s`: sign of its voltage."""
        volts = self.circuit.source.value(time_s - self.start_s + 1e-9)
        return int(math.copysign(1, volts))

    def is_fired(self, time_s: float) -> bool:
        """Whether the firing instant of the present half cycle has passed."""
        local = time_s - self.start_s + 1e-9
        firings = self.circuit.source.instants(self.pulse.duration_s)
        past = [t for t in firings if t <= local]
        # Without a delay the first firing is the start of the pulse, which is no instant inside it.
        last = past[-1] if past else 0.0
        if not past and self.circuit.source.fires_late:
            return False
        # Between the last firing and now the voltage must not have changed its sign.
        return self.circuit.source.value(last + 1e-9) * self.circuit.source.value(local) > 0.0
