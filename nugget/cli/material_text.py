"""Materials and verdicts as text and as JSON objects, for ``nugget material``."""

from __future__ import annotations

import shutil
import textwrap
from typing import Any

from nugget.constants import ROOM_K
from nugget.materials.checks import Verdict, curves
from nugget.materials.layered import Layered
from nugget.materials.material import Curve, Material
from nugget.materials.pairs import family

_SHOWN = {
    "resistivity": (1e8, "1e-8 ohm m"),
    "conductivity": (1.0, "W/(m K)"),
    "conductivity_z": (1.0, "W/(m K)"),
    "heat_capacity": (1.0, "J/(kg K)"),
    "density": (1.0, "kg/m3"),
    "hardness": (1e-6, "MPa"),
    "seebeck": (1e6, "uV/K"),
}
_PLAIN = (
    "name title family origin note density_kg_m3 solidus_K liquidus_K heat_of_fusion_J_kg boiling_K"
    " tensile_strength_Pa estimated temper composition"
)
_RATES_1_S = (1e-3, 1.0, 100.0, 1e4)


def verdicts_text(name: str, verdicts: list[Verdict]) -> str:
    """Return the verdicts on one material, one a line, and what they come to."""
    width = max(60, shutil.get_terminal_size().columns)
    lines = [name]
    for verdict in verdicts:
        head = f"  {verdict.result:<7} {verdict.topic}: "
        lines.append(
            textwrap.fill(head + verdict.text, width, subsequent_indent=" " * 10, break_long_words=False)
        )
    fails = sum(verdict.result == "fail" for verdict in verdicts)
    remarks = sum(verdict.result == "warning" for verdict in verdicts)
    result = f"not usable: {fails} {'error' if fails == 1 else 'errors'}" if fails else "usable"
    return "\n".join(
        [
            *lines,
            f"  => {result}"
            + (f", {remarks} {'warning' if remarks == 1 else 'warnings'}" if remarks else ""),
            "",
        ]
    )


def material_json(material: Material) -> dict[str, Any]:
    """Return everything about a material as plain values, SI units in the keys."""
    tables = {
        key: {"temperature_K": curve.temperature_K.tolist(), "value_si": curve.value.tolist()}
        for key, curve in curves(material).items()
    }
    plain = {key: getattr(material, key) for key in _PLAIN.split()}
    if material.seebeck is not None:
        curve = material.seebeck
        tables["seebeck"] = {"temperature_K": curve.temperature_K.tolist(), "value_si": curve.value.tolist()}
    strength = {
        "temperature_K": _temperatures(material),
        "hardness_Pa_at_rate_1_s": {
            f"{rate:g}": material.hardness_at(_temperatures(material), rate).tolist() for rate in _RATES_1_S
        },
    }
    sources = {key: vars(citation) for key, citation in material.citations().items()}
    return plain | {
        "metal_family": family(material),
        "tempers": {temper.name: temper.hardness_Pa for temper in material.tempers},
        "tables": tables,
        "strength": strength if material.hardness is not None else None,
        "sources": sources,
    }


def material_text(material: Material) -> str:
    """Return a material's numbers, tables and sources as text."""
    cited = material.scalar_citations
    lines = [f"{material.name}: {material.title}", f"{material.family}, {material.origin}"]
    if material.note:
        lines.append(material.note)
    if material.estimated:
        lines.append("supplied by a rule, not measured: " + ", ".join(material.estimated))
    if material.composition:
        shares = ", ".join(f"{element} {100 * share:.3g}" for element, share in material.composition.items())
        lines.append(f"mass percent: {shares}; family of metals: {family(material)}")
    lines.append("")
    scalars = {
        "melting_range": f"{material.solidus_K} to {material.liquidus_K} K",
        "heat_of_fusion": f"{material.heat_of_fusion_J_kg / 1e3:.4g} kJ/kg",
        "boiling": f"{material.boiling_K} K",
        "tensile_strength": f"{(material.tensile_strength_Pa or 0.0) / 1e6:.4g} MPa",
    }
    for key, text in scalars.items():
        if key in cited:
            lines.append(f"{key.replace('_', ' ')}: {text}  [{cited[key].confidence}] {cited[key].work}")
    for key, curve in curves(material).items():
        lines += ["", *_curve_lines(key, curve)]
    if material.hardness is not None:
        lines += ["", *_strength_lines(material)]
    if material.seebeck is not None:
        lines += ["", *_curve_lines("seebeck", material.seebeck)]
    return "\n".join(lines)


def _temperatures(material: Material) -> list[float]:
    """Room temperature, then every 200 K, then the solidus [K]."""
    solidus = material.solidus_K or 1000.0
    return [ROOM_K, *(float(T) for T in range(400, int(solidus), 200)), solidus]


def _strength_lines(material: Material) -> list[str]:
    """Hardness at rates, where that comes from, and the tempers."""
    lines = ["hardness at rates of strain [K: MPa]"]
    for rate in _RATES_1_S:
        hardness = material.hardness_at(_temperatures(material), rate) / 1e6
        cells = [f"{T:g}: {H:.0f}" for T, H in zip(_temperatures(material), hardness, strict=True)]
        lines.append(f"  {rate:g} 1/s  " + ", ".join(cells))
    for key in ("rate_exponent", "flow_stress"):
        if key in material.scalar_citations:
            cited = material.scalar_citations[key]
            note = f" ({cited.note})" if cited.note else ""
            lines.append(f"  {key.replace('_', ' ')} [{cited.confidence}] {cited.work}{note}")
    for temper in material.tempers:
        here = ", as above" if temper.name == material.temper else ""
        source = f"[{temper.citation.confidence}] {temper.citation.work}"
        lines.append(f"  temper {temper.name}: {temper.hardness_Pa / 1e6:.0f} MPa{here} {source}")
    return lines


def _curve_lines(key: str, curve: Curve) -> list[str]:
    factor, unit = _SHOWN[key]
    name = key.replace("conductivity", "thermal conductivity").replace("_", " ")
    lines = [f"{name} [K: {unit}]"]
    cells = [f"{t:g}: {v * factor:.4g}" for t, v in zip(curve.temperature_K, curve.value, strict=True)]
    lines += textwrap.wrap(
        ", ".join(cell.replace(" ", "\0") for cell in cells), 100, initial_indent="  ", subsequent_indent="  "
    )
    lines = [line.replace("\0", " ") for line in lines]
    for part in curve.stretches:
        note = f" ({part.citation.note})" if part.citation.note else ""
        first, last = f"{part.first_K:.0f}", f"{part.last_K:.0f}"
        span = f"  at {first} K" if first == last else f"  {first} to {last} K"
        lines.append(f"{span} [{part.citation.confidence}] {part.citation.work}{note}")
    return lines


def layered_json(found: Layered) -> dict[str, Any]:
    """Return a layered product as plain values."""
    return {
        "name": found.name,
        "title": found.title,
        "origin": found.origin,
        "layers": [vars(r) for r in found.layers],
    }


def layered_text(found: Layered) -> str:
    """Return a layered product as text."""
    lines = [f"{found.name}: {found.title}", f"layered, {found.origin}", "top to bottom:"]
    for rule in found.layers:
        part = (
            f"{rule.thickness_m * 1e6:g} um"
            if rule.thickness_m
            else f"{100 * (rule.share or 0.0):g} % of the rest"
        )
        lines.append(f"  {rule.material}, {part}")
    note = f" ({found.citation.note})" if found.citation.note else ""
    return "\n".join([*lines, f"[{found.citation.confidence}] {found.citation.work}{note}"])
