"""Backward differentiation over unequal steps, and the current it gives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeVar

from nugget.arrays import FloatArray
from nugget.setup import Setup

Value = TypeVar("Value", float, FloatArray)


@dataclass(frozen=True)
class Backward:
    """Weights of y' = (a y_new + b y_old + c y_older) / dt; first order when there is no older one."""

    dt: float
    a: float = 1.0
    b: float = -1.0
    c: float = 0.0

    @classmethod
    def of(cls, dt: float, before: float | None) -> Backward:
        if before is None:
            return cls(dt)
        w = dt / before
        return cls(dt, (1.0 + 2.0 * w) / (1.0 + w), -(1.0 + w), w**2 / (1.0 + w))

    def slope(self, new: Value, past: tuple[Value, Value]) -> Value:
        """The derivative at the end of the step; `past` holds the two earlier values."""
        return (self.a * new + self.b * past[0] + self.c * past[1]) / self.dt


def load_ohm(setup: Setup, model_ohm: float, mirrored: bool) -> float:
    """Load of the source for what the model resists (theory: circuit)."""
    if setup.arrangement == "indirect":
        return model_ohm + setup.return_ohm
    return 2.0 * model_ohm if mirrored or setup.arrangement != "opposed" else model_ohm


def current_A(setup: Setup, time_s: float, step: Backward, past: tuple[float, float], load: float) -> float:
    """Current at the end of a step; `past` holds the two earlier currents."""
    source = setup.circuit.source
    if source.drive == "current":
        return source.value(time_s)
    inertia = setup.circuit.series_H / step.dt
    push = source.value(time_s) - inertia * (step.b * past[0] + step.c * past[1])
    return push / (inertia * step.a + setup.circuit.series_ohm + load)
