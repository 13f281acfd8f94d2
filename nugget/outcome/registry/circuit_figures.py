"""Figures of source, leads and switch: what they deliver, lose and are asked for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.figure import Figure
from nugget.outcome.reading import Reading
from nugget.setup.description import Description

History = Mapping[str, FloatArray]
NEVER = -1e9


def _peak_A(reading: Reading) -> float:
    return float(np.abs(reading.history["current_A"]).max())


def _on_s(reading: Reading) -> float:
    return sum(pulse.duration_s for pulse in reading.setup.train)


def _switch_course(kind: str, history: History, setup: Description) -> FloatArray:
    """Current through each device of a switch of that kind; far below any limit for another switch."""
    switch = setup.circuit.switch
    if switch.kind != kind:
        return np.full_like(history["current_A"], NEVER)
    return np.asarray(np.abs(history["current_A"]) / switch.devices, dtype=np.float64)


def _switch_A(kind: str, reading: Reading) -> float | None:
    switch = reading.setup.circuit.switch
    return _peak_A(reading) / switch.devices if switch.kind == kind else None


def _device_loss_J(reading: Reading) -> float | None:
    switch = reading.setup.circuit.switch
    per_device_ohm = switch.resistance_ohm / switch.devices
    return reading.energy.action_A2s * per_device_ohm if switch.kind == "transistors" else None


def _alternates(setup: Description) -> bool:
    return setup.circuit.source.alternating_Hz > 0.0


def _mean_A(reading: Reading) -> float | None:
    """None for an alternating source, whose mean says nothing."""
    return None if _alternates(reading.setup) else abs(reading.energy.charge_C) / _on_s(reading)


def _drop_V(reading: Reading) -> float | None:
    """Largest drop across an alternating source's own resistance."""
    source = reading.setup.circuit.source
    if not _alternates(reading.setup) or source.drive != "voltage":
        return None
    return _peak_A(reading) * source.resistance_ohm


def _least_V(reading: Reading) -> float | None:
    """Smallest terminal voltage; None where the voltage passes through zero by itself."""
    history, source = reading.history, reading.setup.circuit.source
    if _alternates(reading.setup):
        return None
    on = history["load_ohm"] > 0.0
    supply = history["emf_V"][on] - history["current_A"][on] * source.resistance_ohm
    return float(np.abs(supply).min()) if on.any() else None


def _sag(reading: Reading) -> float | None:
    """Share of the open-circuit voltage; None for a source that sets its current."""
    least_V, open_V = _least_V(reading), float(np.abs(reading.history["emf_V"]).max())
    if reading.setup.circuit.source.drive != "voltage" or least_V is None or open_V == 0.0:
        return None
    return 1.0 - least_V / open_V


def _of_spot_J(reading: Reading) -> float | None:
    """Half of a pair's energy; None where the weld is one spot."""
    paired = reading.setup.arrangement.startswith("series")
    return 0.5 * reading.energy.returned_J if paired else None


def _circuit(key: str, title: str, unit: str, help: str, **more: Any) -> Figure:
    section = more.pop("section", "source")
    return Figure(key, title, unit, more.pop("per", "weld"), section, help, **more)


HARDWARE = (
    _circuit(
        "peak_current_A",
        "Peak current",
        "A",
        "Largest current, either way round",
        read=_peak_A,
        course=lambda history, _: np.abs(history["current_A"]),
        weight="headline",
        beyond="source current",
        row="Current",
        words="peak {}",
    ),
    _circuit(
        "mean_current_A",
        "Mean current",
        "A",
        "Charge over the time that the pulses are on; nothing for an alternating source",
        read=_mean_A,
    ),
    _circuit(
        "rms_current_A",
        "Effective current",
        "A",
        "Root of the mean square over the time that the pulses are on",
        read=lambda reading: float(np.sqrt(reading.energy.action_A2s / _on_s(reading))),
        row="Current",
        words="effective {} while the pulses are on",
    ),
    _circuit("charge_C", "Charge", "C", "Charge that flowed", read=lambda reading: reading.energy.charge_C),
    _circuit(
        "source_energy_J",
        "Energy drawn",
        "J",
        "Energy that the ideal source gives",
        read=lambda reading: reading.energy.drawn_J,
        row="Energy drawn",
    ),
    _circuit(
        "source_loss_J",
        "Loss in the source",
        "J",
        "Heat in the source's own resistance",
        read=lambda reading: reading.energy.action_A2s * reading.setup.circuit.source.resistance_ohm,
        row="Circuit losses",
        words="source {}",
        absent="nothing",
        optional=True,
    ),
    _circuit(
        "lead_loss_J",
        "Loss in the leads",
        "J",
        "Heat in both leads",
        read=lambda reading: reading.energy.action_A2s * reading.setup.circuit.lead_ohm,
        row="Circuit losses",
        words="leads {}",
        optional=True,
    ),
    _circuit(
        "switch_loss_J",
        "Loss in the switch",
        "J",
        "Heat in all devices of the switch",
        read=lambda reading: reading.energy.action_A2s * reading.setup.circuit.switch.resistance_ohm,
        row="Circuit losses",
        words="switch {}",
        optional=True,
    ),
    _circuit(
        "voltage_sag_share",
        "Sag of the source voltage",
        "share",
        "Largest drop of the source's voltage at its terminals, over its open-circuit voltage; nothing for an"
        " alternating source",
        read=_sag,
        section="hardware",
        row="Source voltage",
        words="sags by {}",
    ),
    _circuit(
        "least_terminal_V",
        "Least terminal voltage",
        "V",
        "Smallest voltage at the source's terminals while it is on; nothing for an alternating source",
        read=_least_V,
        section="hardware",
        row="Source voltage",
        words="to {} at its terminals",
    ),
    _circuit(
        "source_drop_V",
        "Drop in an alternating source",
        "V",
        "Peak current times the resistance of a transformer's winding; nothing for other sources",
        read=_drop_V,
        section="hardware",
        row="Winding",
        words="at the current's peak its resistance takes {} of the voltage",
    ),
    _circuit(
        "relay_current_A",
        "Current through the relay",
        "A",
        "Peak current through a relay or contactor; nothing for other switches",
        read=partial(_switch_A, "relay"),
        course=partial(_switch_course, "relay"),
        section="hardware",
        beyond="relay current",
        row="Relay",
    ),
    _circuit(
        "pulse_spread_s",
        "Spread of the pulse's duration",
        "s",
        "Standard deviation with which a relay keeps each pulse; nothing for other switches",
        read=lambda reading: reading.setup.pulse_spread_s or None,
        source="setup",
        section="hardware",
        row="Relay",
        words="its pulses vary by {} (standard deviation)",
    ),
    _circuit(
        "switch_device_current_A",
        "Current per switch device",
        "A",
        "Peak current over the number of transistors; nothing without them",
        read=partial(_switch_A, "transistors"),
        course=partial(_switch_course, "transistors"),
        section="hardware",
        beyond="switch current",
        row="Each switch device",
    ),
    _circuit(
        "switch_loss_per_device_J",
        "Loss per switch device",
        "J",
        "Heat in one device of the switch",
        read=_device_loss_J,
        section="hardware",
        row="Each switch device",
    ),
    _circuit(
        "clamp_energy_J",
        "Energy of the turn-off clamp (snubber)",
        "J",
        "Inductive energy that the clamp takes when the current is switched off",
        read=lambda reading: reading.energy.clamp_J,
        row="Circuit losses",
        words="turn-off clamp (snubber) {}",
        optional=True,
    ),
    _circuit(
        "lead_action_A2s",
        "Current squared times time in the leads",
        "A2 s",
        "Integral of the current squared, by which leads and fuses are chosen",
        read=lambda reading: reading.energy.action_A2s,
        section="hardware",
        row="Leads, I²t",
    ),
    _circuit(
        "force_N",
        "Tip force",
        "N",
        "Force on each tip",
        read=lambda reading: reading.setup.force_N,
        source="setup",
        per="spot",
        section="hardware",
        row="Tip force",
    ),
    _circuit(
        "load_share",
        "Share of the force supported",
        "share",
        "Smallest share of the tip force that the contacts carry: below 1 the tip sinks in",
        column="load_share",
        falls=True,
        course=lambda history, _: history["load_share"],
        per="spot",
        section="hardware",
        beyond="tip force not supported",
        row="Tip force",
        words="at least {} of it carried by the contact",
    ),
)

SOURCE = (
    _circuit(
        "weld_energy_J",
        "Energy into the weld",
        "J",
        "Energy that the source puts into the load: both spots of a pair",
        read=lambda reading: reading.energy.returned_J,
        weight="spread",
        short="weld energy",
        row="Energy into the weld",
    ),
    _circuit(
        "spot_energy_J",
        "Energy into each spot",
        "J",
        "Half of what a pair takes",
        read=_of_spot_J,
        per="spot",
        row="Energy into the weld",
    ),
    _circuit(
        "holder_heat_J",
        "Heat into the tip holders",
        "J",
        "Heat that left the weld through the shanks",
        read=lambda reading: reading.whole * reading.energy.holder_J,
        row="Conducted away",
        words="holders {}",
    ),
    _circuit(
        "tip_heat_J",
        "Heat kept in the tips",
        "J",
        "Heat that the tips hold when the run ends",
        read=lambda reading: reading.whole * reading.tip_heat_J,
        source="state",
    ),
    _circuit(
        "outside_heat_J",
        "Heat in strip and can beyond the grid",
        "J",
        "Heat that the current makes in the sheet beyond the modelled radius",
        read=lambda reading: reading.whole * reading.energy.outside_J,
        row="Conducted away",
        words="strip and can beyond the grid {}",
    ),
    _circuit(
        "air_heat_J",
        "Heat to the air",
        "J",
        "Heat that left through free surfaces",
        read=lambda reading: reading.whole * reading.energy.air_J,
        row="Conducted away",
        words="air {}",
    ),
)
