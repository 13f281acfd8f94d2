"""What the weld asks of whoever builds the machine."""

from __future__ import annotations

from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.setup.description import Setup
from nugget.weld.energy_balance import EnergyBalance


def hardware_figures(setup: Setup, history: dict[str, FloatArray], energy: EnergyBalance) -> dict[str, Any]:
    """Currents, energies and losses of source, leads and switch, SI units in the names.

    Energies are of the whole weld (both spots of a series pair).
    """
    circuit = setup.circuit
    on = history["load_ohm"] > 0.0
    current = np.abs(history["current_A"])
    peak = float(current.max())
    action, charge = energy.action_A2s, energy.charge_C
    on_s = sum(p.duration_s for p in setup.train)
    supply = history["emf_V"][on] - history["current_A"][on] * circuit.source.resistance_ohm
    open_V = float(np.abs(history["emf_V"]).max())
    least_V = float(np.abs(supply).min()) if on.any() else None
    sag = None if least_V is None or open_V == 0.0 else 1.0 - least_V / open_V
    per_device = circuit.switch_device_ohm / circuit.switch_devices**2
    switched = circuit.switch_device_ohm > 0.0
    return {
        "peak_current_A": peak,
        "mean_current_A": abs(charge) / on_s,
        "rms_current_A": float(np.sqrt(action / on_s)),
        "charge_C": charge,
        "source_energy_J": energy.drawn_J,
        "source_loss_J": action * circuit.source.resistance_ohm,
        "lead_loss_J": action * circuit.lead_ohm,
        "switch_loss_J": action * circuit.switch_device_ohm / circuit.switch_devices,
        "switch_loss_per_device_J": action * per_device if switched else None,
        "switch_device_current_A": peak / circuit.switch_devices if switched else None,
        "clamp_energy_J": energy.clamp_J,
        "lead_action_A2s": action,
        "voltage_sag_share": sag if circuit.source.drive == "voltage" else None,
        "least_terminal_V": least_V,
        "force_N": setup.force_N,
        "load_share": float(history["load_share"].min()),
    }
