"""Materials made in Python: from a file, from the library, from catalogue values, from constants.

What is made here passes through the same door as a material file, with the same checks; what the
stated rules of `nugget.materials.estimate` supply is marked ``estimated`` as it is there.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from nugget.constants import LORENZ_V2_K2, REFERENCE_K, ROOM_K
from nugget.errors import InputError
from nugget.materials import estimate, template
from nugget.materials.layered import Layered
from nugget.materials.material import Citation, Confidence, Curve, Material, Stretch
from nugget.materials.material_file import build, read
from nugget.materials.measures import UNITS
from nugget.materials.messages import nearest

Quantity = Any
"""A number in SI units, text with a unit, or a pint quantity."""

ORIGIN = "made in Python"
UNNAMED = "given in Python, source to be named"
COLDEST_K = 250.0
"""First row of a constant table."""
NEEDED = ("density", "heat_capacity", "conductivity", "resistivity", "melting_range", "heat_of_fusion")
_PINT = {
    "density": "kg/m**3",
    "heat_capacity": "J/(kg*K)",
    "conductivity": "W/(m*K)",
    "resistivity": "ohm*m",
    "heat_of_fusion": "J/kg",
    "temperature": "K",
    "hardness": "Pa",
    "tensile_strength": "Pa",
}
_SCALARS = {
    "heat_of_fusion": ("heat_of_fusion", "heat_of_fusion_J_kg"),
    "boiling": ("temperature", "boiling_K"),
    "tensile_strength": ("tensile_strength", "tensile_strength_Pa"),
}
_CURVES = ("density", "heat_capacity", "conductivity", "conductivity_r", "conductivity_z", "resistivity")


def from_file(path: str | Path) -> Material:
    """Return the material that a TOML file describes; see `Material.from_file`."""
    found = read(Path(path))
    if isinstance(found, Layered):
        layers = ", ".join(rule.material for rule in found.layers)
        raise InputError(str(path), f"a layered product ({layers})", "a single material")
    return found


def from_catalogue(
    name: str,
    *,
    resistivity: Quantity = None,
    density: Quantity = None,
    melting: Quantity | tuple[Quantity, Quantity],
    composition: str | Mapping[str, float] | None = None,
    conductivity: Quantity = None,
    temperature_coefficient: float | str | None = None,
    hardness: Quantity = None,
    tensile_strength: Quantity = None,
    title: str = "",
    source: str = "",
) -> Material:
    """Return a material from its values at room temperature; see `Material.from_catalogue`."""
    solidus, liquidus = _melting(melting, name)

    def given(value: Quantity, quantity: str) -> float | None:
        return None if value is None else si(value, quantity, f"{name}: {quantity}")

    where = f"{name}: temperature_coefficient"
    coefficient = temperature_coefficient
    catalogue = estimate.Catalogue(
        composition=_composition(composition, name),
        resistivity_ohm_m=given(resistivity, "resistivity"),
        density_kg_m3=given(density, "density"),
        conductivity_W_mK=given(conductivity, "conductivity"),
        coefficient_1_K=template.coefficient(coefficient, where)
        if isinstance(coefficient, str)
        else coefficient,
        solidus_K=solidus,
        liquidus_K=liquidus,
        tensile_strength_Pa=given(tensile_strength, "tensile_strength"),
        hardness_Pa=given(hardness, "hardness"),
        source=source,
    )
    return _built(estimate.document(catalogue, name, title or name), name)


def constant(
    name: str,
    *,
    resistivity: Quantity,
    density: Quantity,
    melting: Quantity | tuple[Quantity, Quantity],
    conductivity: Quantity = None,
    heat_capacity: Quantity = None,
    heat_of_fusion: Quantity = None,
    hardness: Quantity = None,
    boiling: Quantity = None,
    tensile_strength: Quantity = None,
    composition: str | Mapping[str, float] | None = None,
    title: str = "",
    source: str = "",
) -> Material:
    """Return a material whose given properties do not change; see `Material.constant`."""
    solidus, liquidus = _melting(melting, name)
    values = {
        "density": density,
        "resistivity": resistivity,
        "conductivity": conductivity,
        "heat_capacity": heat_capacity,
        "hardness": hardness,
    }
    held = {k: si(v, k, f"{name}: {k}") for k, v in values.items() if v is not None}
    strength = None
    if tensile_strength is not None:
        strength = si(tensile_strength, "tensile_strength", f"{name}: tensile_strength")
    catalogue = estimate.Catalogue(
        composition=_composition(composition, name),
        resistivity_ohm_m=held["resistivity"],
        density_kg_m3=held["density"],
        conductivity_W_mK=held.get("conductivity"),
        solidus_K=solidus,
        liquidus_K=liquidus,
        tensile_strength_Pa=strength,
        hardness_Pa=held.get("hardness"),
        source=source,
    )
    content = estimate.document(catalogue, name, title or name)
    cited = {"source": source or UNNAMED, "confidence": "found" if source else "unknown"}
    for key, value, kind, unit in (
        ("boiling", boiling, "temperature", "K"),
        ("heat_of_fusion", heat_of_fusion, "heat_of_fusion", "J/kg"),
    ):
        if value is not None:
            content[key] = {"value": si(value, kind, f"{name}: {key}"), "unit": unit} | cited
    _hold(content, held, liquidus, cited)
    if conductivity is None:  # what the rules say of this resistivity, not of one that rises
        end_K = float(content["resistivity"][0]["rows"][-1][0])
        content["conductivity"] = _conductivity(held["resistivity"], liquidus, end_K)
    return _built(content, name)


def _hold(
    content: dict[str, Any], held: Mapping[str, float], liquidus_K: float, cited: dict[str, str]
) -> None:
    """Give what is held one value from the coldest temperature to the boiling point."""
    end = max(float(content["boiling"]["value"]), liquidus_K + 1.0)
    for quantity, value in held.items():
        rows = [[ROOM_K, value]] if quantity == "density" else [[COLDEST_K, value], [end, value]]
        unit = next(iter(UNITS[quantity]))
        content[quantity] = [{"temperature": "K", "unit": unit, "rows": rows} | cited]


def _conductivity(resistivity_ohm_m: float, liquidus_K: float, end_K: float) -> list[dict[str, Any]]:
    """Thermal conductivity by the rules for solid and liquid metal of one resistivity."""
    parts = []
    for temperature, lorenz, lattice, rule in (
        (
            (COLDEST_K, liquidus_K - 5.0),
            estimate.SMITH_PALMER_V2_K2,
            estimate.SMITH_PALMER_W_MK,
            estimate.SMITH_PALMER,
        ),
        ((liquidus_K, end_K), LORENZ_V2_K2, 0.0, estimate.WIEDEMANN_FRANZ),
    ):
        rows = [[t, lorenz * t / resistivity_ohm_m + lattice] for t in temperature]
        cited = {"source": rule, "confidence": "estimated"}
        parts.append({"temperature": "K", "unit": "W/(m K)", "rows": rows} | cited)
    return parts


def replaced(material: Material, changes: Mapping[str, Any]) -> Material:
    """Return `material` with other properties; see `Material.replace`."""
    fields: dict[str, Any] = {}
    citations = dict(material.scalar_citations)
    estimated = material.estimated
    source = str(changes.get("source", ""))
    cited = Citation(source or UNNAMED, _mark(source))
    for key, value in changes.items():
        where = f"{changes.get('name', material.name)}: {key}"
        if key in ("name", "title", "note"):
            fields[key] = str(value)
        elif key in (*_CURVES, "hardness"):
            fields |= _curves(key, _curve(key, value, where, cited))
            if key == "hardness":  # of no named temper any more; hot flow stress stays the metal's own
                fields |= {"temper": None, "tempers": ()}
            if key == "density":
                fields["density_kg_m3"] = float(fields["density"](REFERENCE_K))
                citations["density"] = cited
        elif key in _SCALARS:
            quantity, field = _SCALARS[key]
            fields[field], citations[key] = si(value, quantity, where), cited
        elif key == "melting":
            fields["solidus_K"], fields["liquidus_K"] = _melting(value, material.name)
            citations["melting_range"] = cited
        elif key != "source":
            known = ["name", "title", "note", "source", *_CURVES, "hardness", *_SCALARS, "melting"]
            raise InputError(f"material {material.name}", key, nearest(key, known))
        given = "melting_range" if key == "melting" else key
        estimated = tuple(e for e in estimated if e != given and not e.startswith(f"{given} ("))
    changed = dataclasses.replace(
        material, **fields, scalar_citations=citations, estimated=estimated, origin=ORIGIN
    )
    _check(changed)
    return changed


def si(value: Quantity, quantity: str, where: str) -> float:
    """Return the SI value of a positive quantity given as a number, text or pint quantity."""
    unit = next(iter(UNITS[quantity]))
    wanted = f"{quantity.replace('_', ' ')} above zero in {unit}, or text with a unit"
    if isinstance(value, str):
        found = template.quantity(value, quantity, where)
    elif hasattr(value, "to") and hasattr(value, "magnitude"):
        try:
            found = float(value.to(_PINT[quantity]).magnitude)
        except Exception as error:  # pint's errors of dimension share no base with those of conversion
            raise InputError(where, str(value), wanted) from error
    else:
        try:
            found = float(value)
        except (TypeError, ValueError) as error:
            raise InputError(where, value, wanted) from error
    if not 0.0 < found < np.inf:
        raise InputError(where, value, wanted)
    return found


def _mark(source: str) -> Confidence:
    return "found" if source else "unknown"


def _melting(given: Quantity | tuple[Quantity, Quantity], name: str) -> tuple[float, float]:
    """Solidus and liquidus [K]; a single temperature is spread over 10 K."""
    where = f"{name}: melting"
    if isinstance(given, str):
        return template.melting(given, where)
    if isinstance(given, Sequence):
        if len(given) != 2:
            raise InputError(where, given, "solidus and liquidus")
        solidus, liquidus = (si(one, "temperature", where) for one in given)
        if solidus >= liquidus:
            raise InputError(where, given, "the lower temperature first")
        return solidus, liquidus
    point = si(given, "temperature", where)
    return point - 5.0, point + 5.0


def _composition(given: str | Mapping[str, float] | None, name: str) -> dict[str, float]:
    where = f"{name}: composition"
    if given is None:
        return {}
    if isinstance(given, str):
        return template.composition(given, where)
    return template.composition(", ".join(f"{e} {100.0 * share:.9g}" for e, share in given.items()), where)


def _built(content: dict[str, Any], name: str) -> Material:
    """Pass the content of a material file through the door of all materials."""
    if not re.fullmatch(r"[a-z0-9][a-z0-9._-]*", name):
        raise InputError("name of the material", name, "small letters, digits, '-', '_' and '.'")
    missing = [key for key in NEEDED if key not in content]
    if missing:
        raise InputError(
            f"material {name}", f"neither values nor an estimate of {', '.join(missing)}", "these values too"
        )
    found, problems = build(content, f"material {name}", ORIGIN)
    if problems:
        raise problems[0]
    assert isinstance(found, Material)
    return found


def _curve(key: str, value: Any, where: str, cited: Citation) -> Curve:
    """A curve as it is, rows of (temperature [K], value), or one value at all temperatures."""
    if isinstance(value, Curve):
        return value
    quantity = "conductivity" if key.startswith("conductivity") else key
    rows = list(value) if isinstance(value, Sequence | np.ndarray) and not isinstance(value, str) else None
    if rows is None:
        constant_si = si(value, quantity, where)
        temperature, values = np.array([COLDEST_K, 6000.0]), np.array([constant_si, constant_si])
    else:
        try:
            temperature = np.array([float(t) for t, _ in rows])
            values = np.array([si(v, quantity, where) for _, v in rows])
        except (TypeError, ValueError) as error:
            raise InputError(where, value, "one value, or rows of temperature [K] and value") from error
        if not rows or np.any(temperature <= 0.0) or np.any(np.diff(temperature) <= 0.0):
            raise InputError(where, value, "rows in order of temperature, above absolute zero")
    stretch = Stretch(float(temperature[0]), float(temperature[-1]), cited)
    return Curve(temperature, values, cited, (stretch,))


def _curves(key: str, curve: Curve) -> dict[str, Any]:
    """The fields that a curve goes into."""
    return {"conductivity_r": curve, "conductivity_z": curve} if key == "conductivity" else {key: curve}


def _check(material: Material) -> None:
    """What a material file must satisfy, for a material that was changed."""
    where = f"material {material.name}"
    if not re.fullmatch(r"[a-z0-9][a-z0-9._-]*", material.name):
        raise InputError("name of the material", material.name, "small letters, digits, '-', '_' and '.'")
    solidus, liquidus = material.solidus_K, material.liquidus_K
    if solidus is None or liquidus is None:
        return
    if material.boiling_K is not None and material.boiling_K <= liquidus:
        raise InputError(
            f"{where}: boiling", f"{material.boiling_K:g} K", f"above the liquidus, {liquidus:g} K"
        )
    if material.heat_of_fusion_J_kg <= 0.0:
        raise InputError(f"{where}: heat_of_fusion", "nothing", "a value, as there is a melting range")
    for key in ("heat_capacity", "conductivity_r", "conductivity_z", "resistivity"):
        curve: Curve | None = getattr(material, key)
        if curve is not None and curve.temperature_K[-1] < liquidus:
            last = f"a table that stops at {curve.temperature_K[-1]:g} K"
            raise InputError(f"{where}: {key}", last, f"rows up to the liquidus, {liquidus:g} K, or beyond")
