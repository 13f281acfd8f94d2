"""Energy and circuit residuals on four kinds of weld."""

from __future__ import annotations

from typing import Any

from validation.case import Check, Outcome, at_most, holds, reported
from validation.evidence.piece import Piece
from validation.evidence.runs import march_all

ENERGY, CIRCUIT = 1e-6, 1e-4

SETUPS: dict[str, dict[str, Any]] = {
    "default": {},
    "capacitor bank": {
        "source.kind": "capacitor bank",
        "source.capacitance": "2 F",
        "source.start_voltage": "12 V",
        "source.series_resistance": "3 mohm",
        "pulse": [{"duration": "2 ms", "cool_time": "5 ms"}, {"duration": "6 ms"}],
    },
    "transformer": {
        "source.kind": "transformer",
        "source.open_circuit_voltage_rms": "8 V",
        "source.winding_resistance": "2.5 mohm",
        "source.leakage_inductance": "2 uH",
        "source.frequency": "50 Hz",
        "source.firing_angle": "90 deg",
        "pulse": [{"half_cycles": 2}],
    },
    "burn-through": {"pulse.0.duration": "20 ms", "source.internal_resistance": "2.5 mohm"},
}
"""The bank droops through two pulses; the transformer fires late and ends at current zero."""


def run(workers: int) -> Outcome:
    checks: list[Check] = []
    for (name, _), found in zip(SETUPS.items(), march_all([*SETUPS.values()], workers), strict=True):
        note = f"{found['steps']} steps, peak {found['peak_current_A']:.0f} A, {found['weld_energy_J']:.1f} J"
        checks.append(at_most(f"{name}: energy residual", found["energy_residual"], ENERGY, "", note))
        checks.append(at_most(f"{name}: circuit residual", found["circuit_residual"], CIRCUIT))
        if name == "burn-through":
            checks.append(holds("burn-through: the wall burns through", found["burn_through"]))
            checks.append(reported("burn-through: heat beyond boiling", found["vapour_energy_J"], "J"))
    return Outcome(tuple(checks))


PIECE = Piece(
    name="residuals",
    title="Energy and circuit residuals",
    what="Energy: largest imbalance over time of heat put in, enthalpy gained and heat lost, as a share of "
    "the heat put in. Circuit: energy of the ideal source against all resistive parts, the load and the "
    "inductive energy that the clamp takes. A battery (default), a 2 F capacitor bank with a pre-pulse, a "
    "transformer fired at 90 degrees for two half cycles, and a long strong pulse that burns through.",
    run=run,
)
