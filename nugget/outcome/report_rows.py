"""Rows of the report: label and words, from a setup and its figures of merit.

Terminal, record and comparison show these rows; none of them words a figure itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nugget.grid.stack import is_symmetric
from nugget.merit import amounts
from nugget.merit.figure import FIGURES, Figure
from nugget.outcome.interior import face_of, layer_of
from nugget.outcome.registry import SECTIONS
from nugget.setup import Setup
from nugget.setup.description import Layer, Pulse

HARDLY_K = 2.0
"""Rise below which a layer behind a gas gap is not worth a row."""

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


def sections(setup: Setup, figures: Figures) -> Iterator[tuple[str, str, list[Row]]]:
    """Name, heading and rows of every section that has any, but for how the numbers came about."""
    for section in dict.fromkeys([*SECTIONS, *(one.section for one in FIGURES.values())]):
        rows = [] if section == "numerics" else list(section_rows(section, setup, figures))
        if rows:
            yield section, section_title(section, figures), rows


def section_title(section: str, figures: Figures) -> str:
    """The heading of a section."""
    if section == "interior" and figures["interior_peak_K"] is None:
        return "Back of the wall"
    return SECTIONS.get(section, section.capitalize())


def section_rows(section: str, setup: Setup, figures: Figures) -> Iterator[Row]:
    """What a section says of the setup, then the figures that stand in it."""
    if section == "weld":
        yield from welded_rows(setup)
    if section == "source":
        yield from circuit_rows(setup)
    if section == "interior":
        yield from face_rows(setup, figures)
    yield from figure_rows(section, setup, figures)


def setting_rows(setup: Setup) -> list[Row]:
    """What is set at the bench for one weld, the pulse first."""
    rows = dict(welded_rows(setup))
    first = ("Pulse", "Tips", "Hold time", "Strip", "Welded to", "Arrangement")
    return [(label, rows[label]) for label in first] + list(circuit_rows(setup))


def welded_rows(setup: Setup) -> Iterator[Row]:
    """What was welded to what, with which tips."""
    slot = f", slotted, shunt fraction {amounts.share(setup.shunt_fraction)}" if setup.slotted else ""
    width = f"{_mm(setup.strip_width_m)} wide"
    yield "Strip", f"{_pile(setup.strip)}, {width}{'' if setup.arrangement == 'opposed' else slot}"
    yield "Welded to", f"{_part(setup)}: {_pile(setup.base)}"
    tip = setup.electrode
    face = f"{tip.tip_shape}, {_mm(tip.face_diameter_m)} face"
    yield "Tips", f"{tip.material.name}, {face}, {amounts.newton(setup.force_N)} each"
    yield "Arrangement", _PLACES[setup.arrangement].format(s=_mm(setup.spacing_m))
    yield (
        "Pulse",
        ", ".join(
            _pulse(one, asked.half_cycles, one is setup.train[-1])
            for one, asked in zip(setup.train, setup.file.pulse, strict=True)
        ),
    )
    yield "Hold time", amounts.time(setup.hold_s)


def circuit_rows(setup: Setup) -> Iterator[Row]:
    """What the source is, and what lies in series with the weld."""
    circuit = setup.circuit
    yield "Source", _source(setup)
    parts = [f"leads {_mohm(circuit.lead_ohm)}, {circuit.lead_H * 1e6:.2g} µH"]
    switch = circuit.switch
    if switch.kind == "transistors":
        parts.append(f"switch {switch.devices} x {_mohm(switch.device_ohm)} in parallel")
    if switch.kind == "relay":
        spread = f"its pulses vary by {amounts.time(switch.spread_s)}"
        parts.append(f"relay {_mohm(switch.device_ohm)}, {spread} (standard deviation)")
    yield "In series", "; ".join(parts)


def face_rows(setup: Setup, figures: Figures) -> Iterator[Row]:
    """Peak of every face that is followed; without a roll there is only the wall's back.

    What lies behind a gas gap and hardly warms has nothing to say of the weld: it is left out.
    """
    hidden = False
    for name, found in figures["layer_peaks"].items():
        layer, below = layer_of(name), name.split(" ", 1)[1:]
        if hidden and found["peak_K"] < setup.ambient_K + HARDLY_K:
            continue
        hidden = hidden or layer == "gap"
        title = face_of(layer).title if figures["interior_peak_K"] is not None else "Back face"
        peak = f"{amounts.celsius(found['peak_K'])} at {amounts.time(found['time_s'])}"
        yield " ".join([title, *below]), peak


def winding_hidden(setup: Setup, figures: Figures) -> bool:
    """Whether the winding lies behind a gas gap and hardly warms."""
    peaks = figures["layer_peaks"]
    gap = any(layer_of(name) == "gap" for name in peaks)
    return gap and (figures["interior_peak_K"] or 0.0) < setup.ambient_K + HARDLY_K


def figure_rows(section: str, setup: Setup, figures: Figures) -> Iterator[Row]:
    """The figures of one section that have a row; those of one label share it."""
    groups: dict[str, list[Figure]] = {}
    for one in FIGURES.values():
        if one.section == section and one.row:
            groups.setdefault(one.row, []).append(one)
    mirrored = setup.arrangement == "opposed" and is_symmetric(setup)
    for label, group in groups.items():
        said = _said(group, setup, figures)
        if said and not (mirrored and label == "Wall"):  # the other sheet is the first again
            yield "Each sheet" if mirrored and label == "Strip" else label, said


def _said(group: list[Figure], setup: Setup, figures: Figures) -> str:
    """What a row says; empty where its first figure does not apply."""
    first = group[0]
    if figures[first.key] is None:
        return first.absent
    shown = [one for one in group if _is_said(one, figures[one.key])]
    if not shown:
        return first.absent
    counts = [_per(one, setup) if one.unit == "J" else "" for one in shown]
    together = len(shown) > 1 and counts[0] and set(counts) == {counts[0]}
    parts = []
    for one, per in zip(shown, counts, strict=True):
        words = one.words if one.unit == "yes/no" else one.words.format(amounts.figure(one, figures[one.key]))
        parts.append(words if together or not per else f"{words} {per}")
    return ", ".join(parts) + (f" ({counts[0]})" if together else "")


def _is_said(one: Figure, value: object) -> bool:
    return value is not None and bool(value or not (one.optional or one.unit == "yes/no"))


def counted(one: Figure, setup: Setup) -> str:
    """What an energy counts, with a space before it; empty for what is no energy."""
    return f" {_per(one, setup)}" if one.unit == "J" else ""


def _per(one: Figure, setup: Setup) -> str:
    return WHOLE[setup.arrangement] if one.per == "weld" else f"per {one.per}"


def target_source(setup: Setup) -> str:
    """Where the minimum weld diameter comes from."""
    return {
        "button": "4 t, which pulls a button out of thin strip: common practice, no source",
        "sheet": "4 sqrt(t / mm) mm, for sheet from 0.5 mm: common practice, no source",
        "diameter": "as set in joint.minimum_diameter",
    }[setup.joint.rule]


def _mm(value_m: float) -> str:
    return f"{value_m * 1e3:.4g} mm"


def _mohm(value_ohm: float) -> str:
    return f"{value_ohm * 1e3:.3g} mΩ"


def _pile(layers: tuple[Layer, ...]) -> str:
    return ", ".join(f"{_mm(layer.thickness_m)} {layer.material.name}" for layer in layers)


def _part(setup: Setup) -> str:
    cell = setup.file.cell
    if cell.kind == "coupon":
        return "a bare sheet"
    what = "cell" if cell.kind == "cell" else "can, empty"
    article = "an" if str(cell.size).startswith("18") else "a"
    return f"{cell.end} end of {article} {cell.size} {what}"


def _pulse(pulse: Pulse, half_cycles: int | None, last: bool) -> str:
    words = amounts.time(pulse.duration_s)
    if half_cycles is not None:
        words = f"{half_cycles} half cycle{'' if half_cycles == 1 else 's'}, {words}"
    if pulse.output_fraction != 1.0:
        words += f" at {amounts.share(pulse.output_fraction)}"
    slopes = [("up", pulse.upslope_s), ("down", pulse.downslope_s)]
    words += "".join(f", {name} over {amounts.time(value)}" for name, value in slopes if value > 0.0)
    return (
        words if last or pulse.cool_time_s == 0.0 else f"{words}, cool time {amounts.time(pulse.cool_time_s)}"
    )


def _source(setup: Setup) -> str:
    source = setup.document()["source"]
    facts = {k: v for k, v in source.items() if k not in ("kind", "time_s", "samples")}
    words = ", ".join(f"{k.replace('_', ' ')} {v}" for k, v in facts.items())
    return f"{source['kind']}: {words.replace(' mohm', ' mΩ').replace(' uH', ' µH')}"
