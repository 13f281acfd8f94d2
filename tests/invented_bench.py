"""An invented bench: a stand-in for the march in closed form, and trials drawn from it."""

from __future__ import annotations

import math

import numpy as np

from nugget.setup import Setup
from nugget.study.calibration.condition import Answer, Ask

TRUE = {"contact.hardness_factor": 0.8, "source.internal_resistance": "5 mohm"}
"""What the invented machine has; the setup says 1.0 and 4.2 mohm."""
AREA_M2 = 3e-8
"""Of each of its contacts when it is cold."""


def fake(ask: Ask) -> Answer:
    """A weld without a march: heat against contact area gives a size that rises and levels off."""
    circuit = ask.setup.circuit
    volts = circuit.source.value(0.0)
    amps = volts / (circuit.series_ohm + 2e-3)
    factor = ask.setup.contact.hardness_factor**-0.5
    films = sum(ask.setup.get(f"contact.{side}.film") or 0.0 for side in ("tip", "faying"))
    cold = (1e-3 + films / AREA_M2,)
    if not ask.durations_s and not ask.times_s:
        return Answer(cold_ohm=cold)

    def size(duration_s: float) -> float:
        heat = (amps / 1400.0) ** 2 * duration_s / 3e-3 / factor**2
        return 0.75e-3 * factor * (1.0 - math.exp(-heat)) - 0.05e-3

    sizes = tuple(size(d) for d in ask.durations_s)
    grid = tuple(size(float(d)) for d in ask.grid_s)
    inductance = max(circuit.series_H, 1e-9)
    rise = inductance / (circuit.series_ohm + 2e-3)
    current = tuple(amps * (1.0 - math.exp(-max(t, 0.0) / rise)) for t in ask.times_s)
    return Answer(
        sizes,
        tuple(max(0.0, 400.0 * s) for s in sizes),
        tuple(300.0 + 1.5e6 * max(s, 0.0) for s in sizes),
        grid,
        tuple(max(0.0, 400.0 * s) for s in grid),
        current,
        tuple(2e-3 * c for c in current),
        tuple(0.5e-3 * factor for _ in sizes),
        cold,
    )


def rows(setup: Setup, repeats: int, seed: int = 1, machine: Setup | None = None) -> str:
    """Trials with the assumed spread, from what the invented machine does."""
    random = np.random.default_rng(seed)
    true = setup.with_(TRUE) if machine is None else machine
    durations = (1e-3, 1.5e-3, 2e-3, 3e-3, 4e-3, 6e-3, 8e-3)
    exact = fake(Ask(true, durations, (), ())).size_m
    lines = ["cell,duration,result,button"]
    for duration_s, size in zip(durations, exact, strict=True):
        for _ in range(repeats):
            seen = size + 0.12 * 0.6e-3 * random.normal()
            word = "stuck" if seen < 0.3e-3 else "button" if seen >= 0.6e-3 else "peeled"
            button = f"{seen * 1e3:.4f} mm" if word == "button" else ""
            lines.append(f"coupon,{duration_s * 1e3:g} ms,{word},{button}")
    return "\n".join(lines)


def trace(setup: Setup, machine: Setup | None = None, seed: int | None = None) -> str:
    """Its scope trace, with the assumed noise and gains where there is a seed."""
    times = np.linspace(0.0, 6e-3, 200)
    true = setup.with_(TRUE) if machine is None else machine
    answer = fake(Ask(true, (6e-3,), (), tuple(float(t) for t in times)))
    signals = [np.array(answer.current_A), np.array(answer.voltage_V)]
    if seed is not None:
        random = np.random.default_rng(seed)
        signals = [
            one * (1.0 + 0.03 * random.normal()) + 0.02 * one.max() * random.normal(size=len(one))
            for one in signals
        ]
    pairs = zip(times, *signals, strict=True)
    return "time_s,current_A,voltage_V\n" + "\n".join(f"{t},{i},{v}" for t, i, v in pairs)
