"""Rows of the lab sheet: label and words, from a setup and its figures of merit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nugget.cli import amounts
from nugget.grid.stack import is_symmetric
from nugget.setup.description import Layer, Pulse, Setup

Row = tuple[str, str]
Figures = dict[str, Any]

WHOLE = {
    "series along": "per pair",
    "series across": "per pair",
    "opposed": "per spot",
    "indirect": "per spot, return tip included",
}
"""What the energies of the circuit count, by arrangement."""

_PLACES = {
    "series along": "both on the strip, along it, {s} apart",
    "series across": "both on the strip, across it, {s} apart",
    "indirect": "one on the strip, the return tip straight on the can, {s} apart",
    "opposed": "one above and one below",
}
_PROBES = {
    "can_inner": "Wall, inner face",
    "gap": "Gas gap, top",
    "disc": "Insulating disc, top",
    "roll": "Jelly roll, top",
}


def welded_rows(setup: Setup) -> Iterator[Row]:
    """What was welded to what, with which tips."""
    slot = f", slot lets {amounts.share(setup.shunt_fraction)} past" if setup.shunt_fraction < 1.0 else ""
    width = f"{_mm(setup.strip_width_m)} wide"
    yield "Strip", f"{_pile(setup.strip)}, {width}{'' if setup.arrangement == 'opposed' else slot}"
    yield "Welded to", f"{_part(setup)}: {_pile(setup.base)}"
    tip = setup.electrode
    face = f"{tip.form}, {_mm(tip.face_diameter_m)} face"
    yield "Tips", f"{tip.material.name}, {face}, {amounts.newton(setup.force_N)} each"
    yield "Arrangement", _PLACES[setup.arrangement].format(s=_mm(setup.spacing_m))
    yield "Pulse", ", ".join(_pulse(p, p is setup.train[-1]) for p in setup.train)
    yield "Tip lifts", f"{amounts.time(setup.hold_s)} after the last pulse"


def source_rows(setup: Setup, figures: Figures) -> Iterator[Row]:
    """Currents, and where the energy of the source went."""
    circuit, whole = setup.circuit, WHOLE[setup.arrangement]
    yield "Source", _source(setup)
    parts = [f"leads {_mohm(circuit.lead_ohm)}, {circuit.lead_H * 1e6:.2g} uH"]
    if circuit.switch_device_ohm > 0.0:
        parts.append(f"switch {circuit.switch_devices} x {_mohm(circuit.switch_device_ohm)} in parallel")
    yield "In series", "; ".join(parts)
    yield (
        "Current",
        f"peak {amounts.ampere(figures['peak_current_A'])}, mean {amounts.ampere(figures['mean_current_A'])},"
        f" rms {amounts.ampere(figures['rms_current_A'])}",
    )
    yield "Energy drawn", f"{amounts.joule(figures['source_energy_J'])} {whole}"
    lost = [("source", "source_loss_J"), ("leads", "lead_loss_J"), ("switch", "switch_loss_J")]
    spent = [f"{name} {amounts.joule(figures[key])}" for name, key in lost if figures[key] > 0.0]
    if figures["clamp_energy_J"] > 0.0:
        spent.append(f"clamp {amounts.joule(figures['clamp_energy_J'])}")
    yield "lost in", f"{', '.join(spent)} ({whole})" if spent else "nothing"
    energy = figures["weld_energy_J"]
    half = f", {amounts.joule(0.5 * energy)} per spot" if whole == "per pair" else ""
    yield "into the weld", f"{amounts.joule(energy)} {whole}{half}"
    yield (
        "of which left it",
        f"holders {amounts.joule(figures['holder_heat_J'])}, sheet outside the model"
        f" {amounts.joule(figures['outside_heat_J'])}, air {amounts.joule(figures['air_heat_J'])} ({whole})",
    )


def joint_rows(setup: Setup, figures: Figures) -> Iterator[Row]:
    """The joint at the faying surface, at its largest."""
    ring = figures["fused_inner_diameter_m"]
    hole = f" (a ring, open to {amounts.length(ring)})" if ring > 0.0 else ""
    yield "Fused, both sides", f"{amounts.length(figures['fused_diameter_m'])}{hole}"
    yield "Melted on one side", amounts.length(figures["one_side_melt_diameter_m"])
    share = amounts.share(setup.joint.bond_fraction)
    yield "Solid-state bond", f"{amounts.length(figures['bonded_diameter_m'])}, above {share} of melting [K]"
    yield (
        "Contact at its widest",
        f"strip to wall {amounts.length(figures['contact_diameter_m'])},"
        f" tip to strip {amounts.length(figures['tip_contact_diameter_m'])}",
    )
    onset = figures["melting_onset_s"]
    yield "Fusion begins", "never" if onset is None else f"{amounts.time(onset)} after the start"
    yield "Hottest metal", amounts.celsius(figures["hottest_K"])
    left = f"{amounts.share(figures['can_penetration'])} melted at the deepest"
    mirrored = setup.arrangement == "opposed" and is_symmetric(setup)
    if not mirrored:
        yield "Wall", f"{left}, {amounts.length(figures['wall_left_m'])} left unmelted"
    through = ": melted through" if figures["strip_melted_through"] else ""
    melted = f"{amounts.share(figures['strip_penetration'])} melted{through}"
    yield "Each sheet" if mirrored else "Strip", melted
    yield "Expulsion", "yes: melt at the contact rim, or boiling" if figures["expulsion"] else "none"
    boiled = figures["vapour_energy_J"]
    vapour = f", {amounts.joule(boiled)} beyond boiling per spot" if boiled > 0.0 else ""
    yield "Burn-through", ("yes" if figures["burn_through"] else "none") + vapour
    if figures["pull_out_force_N"] is not None:
        yield "Pull-out force", f"{amounts.newton(figures['pull_out_force_N'])} per spot, an estimate"


def interior_rows(setup: Setup, figures: Figures) -> Iterator[Row]:
    """What reached the inside; nothing when there is no inside."""
    for name, found in figures["layer_peaks"].items():
        role, *below = name.split(" ", 1)
        title = _PROBES[role] if figures["interior_peak_K"] is not None else "Back face"
        peak = f"{amounts.celsius(found['peak_K'])} at {amounts.time(found['time_s'])}"
        yield " ".join([title, *below]), peak
    if figures["interior_peak_K"] is None:
        return
    if figures["time_above_limit_s"] is not None:
        yield "Roll above its limit", f"for {amounts.time(figures['time_above_limit_s'])}"
    yield "Heat into the interior", f"{amounts.joule(figures['interior_heat_J'])} per spot"
    if figures["interior_dose"] is not None and setup.kinetics is not None:
        dose = amounts.dose(figures["interior_dose"])
        yield "Decomposition dose", f"{dose} ({setup.kinetics.title}), an extrapolation"


def hardware_rows(setup: Setup, figures: Figures) -> Iterator[Row]:
    """What the weld asks of whoever builds the machine."""
    if figures["voltage_sag_share"] is not None:
        sag = amounts.share(figures["voltage_sag_share"])
        yield "Source voltage", f"sags by {sag}, to {figures['least_terminal_V']:.3g} V at its terminals"
    if figures["switch_device_current_A"] is not None:
        each = amounts.ampere(figures["switch_device_current_A"])
        yield "Each switch device", f"{each}, {amounts.joule(figures['switch_loss_per_device_J'])} per weld"
    yield "Clamp at turn-off", f"{amounts.joule(figures['clamp_energy_J'])} from the leads' inductance"
    yield "Leads, I²t", f"{float(format(figures['lead_action_A2s'], '.3g')):.0f} A²s"
    supported = amounts.share(min(figures["load_share"], 1.0))
    yield "Tip force", f"{amounts.newton(setup.force_N)}, at least {supported} of it carried by the contact"


def target_source(setup: Setup) -> str:
    """Where the target diameter comes from."""
    return {
        "button": "4 t, which pulls a button out of thin strip: common practice, no source",
        "sheet": "4 sqrt(t / mm) mm, for sheet from 0.5 mm: common practice, no source",
        "diameter": "your own target",
    }[setup.joint.rule]


def _mm(value_m: float) -> str:
    return f"{value_m * 1e3:.4g} mm"


def _mohm(value_ohm: float) -> str:
    return f"{value_ohm * 1e3:.3g} mohm"


def _pile(layers: tuple[Layer, ...]) -> str:
    return ", ".join(f"{_mm(layer.thickness_m)} {layer.material.name}" for layer in layers)


def _part(setup: Setup) -> str:
    cell = setup.resolved["cell"]
    if cell["kind"] == "coupon":
        return "a bare sheet"
    what = "cell" if cell["kind"] == "cell" else "can, empty"
    article = "an" if cell["size"].startswith("18") else "a"
    return f"{cell['end']} end of {article} {cell['size']} {what}"


def _pulse(pulse: Pulse, last: bool) -> str:
    words = amounts.time(pulse.duration_s)
    if pulse.level != 1.0:
        words += f" at {amounts.share(pulse.level)}"
    slopes = [("up", pulse.upslope_s), ("down", pulse.downslope_s)]
    words += "".join(f", {name} over {amounts.time(value)}" for name, value in slopes if value > 0.0)
    return words if last or pulse.gap_s == 0.0 else f"{words}, gap {amounts.time(pulse.gap_s)}"


def _source(setup: Setup) -> str:
    source = setup.resolved["source"]
    facts = {k: v for k, v in source.items() if k not in ("kind", "time_s", "samples")}
    return f"{source['kind']}: " + ", ".join(f"{k.replace('_', ' ')} {v}" for k, v in facts.items())
