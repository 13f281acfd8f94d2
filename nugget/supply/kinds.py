"""Power sources: what drives the circuit, before the resistance that stands in series.

The equations: manual, theory-circuit.

A source drives either a voltage, ``V = open_circuit(t) - elastance * charge``, or a current.
Time runs from the start of the pulse it is driving, so that a transformer fires afresh in
each pulse; charge runs from the start of the whole train, so that a capacitor bank droops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar, Literal, Protocol, runtime_checkable

import numpy as np

from nugget.arrays import FloatArray

MOVED_SHARE = 0.125
"""Steps land where a trace has moved by this share of its peak."""


@runtime_checkable
class Source(Protocol):
    """What the circuit asks of a power source.

    Attributes
    ----------
    drive : {"voltage", "current"}
        Which of the two `value` returns.
    resistance_ohm, inductance_H, elastance_per_F : float
        Series resistance, series inductance and inverse capacitance (0: none).
    turns_off_at_zero : bool
        True when conduction ends by itself at current zero (thyristors).
    fires_late : bool
        True when conduction starts at the first of `instants`, not with the pulse.
    alternating_Hz : float
        Frequency of a source that changes its direction [Hz]; 0 for any other.
    """

    @property
    def drive(self) -> Literal["voltage", "current"]: ...
    @property
    def resistance_ohm(self) -> float: ...
    @property
    def inductance_H(self) -> float: ...
    @property
    def elastance_per_F(self) -> float: ...
    @property
    def turns_off_at_zero(self) -> bool: ...
    @property
    def fires_late(self) -> bool: ...
    @property
    def alternating_Hz(self) -> float: ...

    def value(self, time_s: float) -> float:
        """Open-circuit voltage [V] or current [A], `time_s` after the pulse began."""
        ...

    def instants(self, duration_s: float) -> tuple[float, ...]:
        """Times within (0, duration) that a step must land on: kinks and firing instants."""
        ...


@dataclass(frozen=True)
class _Plain:
    """Defaults that most sources share."""

    drive: ClassVar[Literal["voltage", "current"]] = "voltage"
    turns_off_at_zero: ClassVar[bool] = False

    @property
    def fires_late(self) -> bool:
        return False

    @property
    def alternating_Hz(self) -> float:
        return 0.0

    @property
    def resistance_ohm(self) -> float:
        return 0.0

    @property
    def inductance_H(self) -> float:
        return 0.0

    @property
    def elastance_per_F(self) -> float:
        return 0.0

    def instants(self, duration_s: float) -> tuple[float, ...]:
        return ()


@dataclass(frozen=True)
class ConstantCurrent(_Plain):
    """A regulated current [A]."""

    drive: ClassVar[Literal["voltage", "current"]] = "current"
    current_A: float

    def value(self, time_s: float) -> float:
        return self.current_A


@dataclass(frozen=True)
class SineCurrent(_Plain):
    """A sinusoidal current: rms value [A] and frequency [Hz]; starts at zero."""

    drive: ClassVar[Literal["voltage", "current"]] = "current"
    rms_A: float
    frequency_Hz: float

    @property
    def alternating_Hz(self) -> float:
        return self.frequency_Hz

    def value(self, time_s: float) -> float:
        return math.sqrt(2.0) * self.rms_A * math.sin(2.0 * math.pi * self.frequency_Hz * time_s)

    def instants(self, duration_s: float) -> tuple[float, ...]:
        """Sixteen instants a period: the ripple is followed and drawn, not straddled."""
        part = 1.0 / (16.0 * self.frequency_Hz)
        count = math.ceil(duration_s / part - 1e-9)
        return tuple(n * part for n in range(1, count))


@dataclass(frozen=True)
class ConstantVoltage(_Plain):
    """A stiff voltage [V]; whatever resists stands in the leads and the switch."""

    voltage_V: float

    def value(self, time_s: float) -> float:
        return self.voltage_V


@dataclass(frozen=True)
class Battery(_Plain):
    """Open-circuit voltage [V] behind an internal resistance [ohm]."""

    open_circuit_V: float
    internal_ohm: float

    @property
    def resistance_ohm(self) -> float:
        return self.internal_ohm

    def value(self, time_s: float) -> float:
        return self.open_circuit_V


@dataclass(frozen=True)
class CapacitorBank(_Plain):
    """Capacitance [F], start voltage [V], equivalent series resistance [ohm]."""

    capacitance_F: float
    start_V: float
    esr_ohm: float

    @property
    def resistance_ohm(self) -> float:
        return self.esr_ohm

    @property
    def elastance_per_F(self) -> float:
        return 1.0 / self.capacitance_F

    def value(self, time_s: float) -> float:
        return self.start_V


@dataclass(frozen=True)
class Transformer(_Plain):
    """Mains-frequency transformer fired by thyristors.

    Open-circuit rms voltage [V], frequency [Hz], resistance [ohm] and inductance [H] seen
    from the secondary, firing angle [rad] after each voltage zero. Conduction ends at current
    zero and starts again at the next firing instant. A pulse lasts whole half cycles.
    """

    turns_off_at_zero: ClassVar[bool] = True
    rms_V: float
    frequency_Hz: float
    winding_ohm: float
    leakage_H: float
    firing_angle_rad: float = 0.0

    @property
    def fires_late(self) -> bool:
        return self.firing_angle_rad > 0.0

    @property
    def alternating_Hz(self) -> float:
        return self.frequency_Hz

    @property
    def resistance_ohm(self) -> float:
        return self.winding_ohm

    @property
    def inductance_H(self) -> float:
        return self.leakage_H

    def value(self, time_s: float) -> float:
        return math.sqrt(2.0) * self.rms_V * math.sin(2.0 * math.pi * self.frequency_Hz * time_s)

    def instants(self, duration_s: float) -> tuple[float, ...]:
        """Firing instants within the pulse, the first included when it is after time zero."""
        half = 0.5 / self.frequency_Hz
        delay = self.firing_angle_rad / (2.0 * math.pi * self.frequency_Hz)
        count = math.ceil(duration_s / half - 1e-9)
        return tuple(t for t in (n * half + delay for n in range(count)) if 0.0 < t < duration_s)


@dataclass(frozen=True)
class Trace(_Plain):
    """A recorded trace of current [A] or voltage [V] against time [s], linear between samples.

    Attributes
    ----------
    time_s, sample : ndarray, shape (n,)
        `time_s` increases strictly and starts at zero; past the end the trace is zero.
    quantity : {"current", "voltage"}
    """

    time_s: FloatArray
    sample: FloatArray
    quantity: Literal["current", "voltage"] = "current"

    @property
    def drive(self) -> Literal["voltage", "current"]:  # type: ignore[override]
        return self.quantity

    def value(self, time_s: float) -> float:
        return float(np.interp(time_s, self.time_s, self.sample, right=0.0))

    def instants(self, duration_s: float) -> tuple[float, ...]:
        """Samples between which the trace has moved by an eighth of its peak, and its end.

        No rise, fall or peak is stepped over, however short it is and however it is sampled.
        """
        moved = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(self.sample)))])
        peak = float(np.abs(self.sample).max()) or 1.0
        passed = np.flatnonzero(np.diff(np.floor(moved / (MOVED_SHARE * peak)))) + 1
        marks = np.concatenate([self.time_s[passed - 1], self.time_s[passed], self.time_s[-1:]])
        return tuple(float(t) for t in np.unique(marks) if 0.0 < t < duration_s)
