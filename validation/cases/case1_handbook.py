"""Case 1: tables of the built-in materials against handbook rows."""

from __future__ import annotations

import math
from collections import defaultdict
from textwrap import shorten
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import LORENZ_V2_K2
from nugget.materials import library
from nugget.materials.material import Curve, Material
from nugget.materials.property_tables import enthalpy_J_m3
from validation.case import Case, Check, Drawing, Outcome, scaled
from validation.readers import markdown, rows

PURE = ("nickel", "iron", "copper", "aluminium", "tungsten", "molybdenum", "zinc")
MAGNETIC_K = {"nickel": 631.0, "iron": 1042.0}
LIMITS = {"resistivity": 0.03, "heat_capacity": 0.03, "conductivity": 0.05, "density": 0.01, "fusion": 0.05}
OF_PLUGINS = {"cuni-90-10": "nugget-field-alloys"}
"""Materials with rows here that come with an example package: judged where it is installed."""
MARKS = {"found": "read in a public text", "library": "read by program", "memory": "from memory"}
ALLOY_TOLERANCE = 0.10
MELTING_K = 5.0
TRANSITIONS_K: dict[str, tuple[tuple[float, float], ...]] = {
    "nickel": ((616.0, 646.0),),
    "nickel-200": ((616.0, 646.0),),
    "nickel-201": ((616.0, 646.0),),
    "iron": ((1027.0, 1057.0), (1170.0, 1200.0), (1650.0, 1680.0)),
    "can-steel": ((990.0, 1190.0), (1630.0, 1690.0)),
    "low-carbon-steel": ((990.0, 1190.0), (1630.0, 1690.0)),
}
"""Where a property may change steeply: magnetic (15 K to both sides) and first-order transitions."""


def _value(material: Material, row: dict[str, str]) -> float:
    """What the material holds for a handbook row."""
    T = float(row["temperature_K"])
    name = row["property"]
    if name == "heat_capacity_mean_50K":
        around = np.linspace(T - 25.0, T + 25.0, 101)
        return float(np.trapezoid(material.heat_capacity(around), around) / 50.0)
    if name in ("resistivity", "heat_capacity", "conductivity"):
        curve: dict[str, Curve | None] = {
            "resistivity": material.resistivity,
            "heat_capacity": material.heat_capacity,
            "conductivity": material.conductivity_r,
        }
        # A row at the melting point belongs to its phase, the model's melting range is wider.
        if material.solidus_K is not None and material.liquidus_K is not None:
            low, high = material.solidus_K - 5.0, material.liquidus_K + 5.0
            if low <= T <= high:
                T = material.liquidus_K if "liquid" in row["note"].lower() else material.solidus_K
        found = curve[name]
        return math.nan if found is None else float(found(T))
    if name == "density":
        if material.density is not None:
            return float(material.density(T))
        return material.density_kg_m3
    if name == "fusion":
        return material.heat_of_fusion_J_kg
    edge = {"melting": material.melting_K, "solidus": material.solidus_K, "liquidus": material.liquidus_K}[
        name
    ]
    return math.nan if edge is None else edge


def _bar(row: dict[str, str]) -> float:
    name, builtin = row["property"], row["builtin"]
    if name in ("melting", "solidus", "liquidus"):
        return MELTING_K / float(row["value"])
    if builtin not in PURE:
        return ALLOY_TOLERANCE
    near = builtin in MAGNETIC_K and abs(float(row["temperature_K"]) - MAGNETIC_K[builtin]) <= 50.0
    return 0.05 if near and name == "resistivity" else LIMITS[name]


def run_handbook() -> Outcome:
    groups: dict[tuple[str, str, str, str], list[tuple[float, float, float, float]]] = defaultdict(list)
    left_out: dict[tuple[str, str, str], int] = defaultdict(int)
    units: dict[str, str] = {}
    works: dict[str, int] = {}
    within_reach = set(library.names())
    for row in rows("handbook"):
        package = OF_PLUGINS.get(row["builtin"])
        missing = "" if package is None or row["builtin"] in within_reach else f"{package} is not installed"
        if row["judged"] != "yes" or missing:
            left_out[row["builtin"], _plain(row["property"]), missing or row["why_not"]] += 1
            continue
        number = works.setdefault(row["source"], len(works) + 1)
        units[row["property"]] = row["unit"]
        value, reference = _value(library.get(row["builtin"]), row), float(row["value"])
        known = (float(row["temperature_K"]), value, reference, _bar(row))
        mark = MARKS[row["confidence"]]
        groups[row["builtin"], row["property"], row["source"], f"work {number}, {mark}"].append(known)
    checks: list[Check] = []
    for (builtin, name, source, work), found in groups.items():
        T, value, reference, limit = max(found, key=lambda f: abs(f[1] / f[2] - 1.0) / f[3])
        beyond = [f"{f[0]:g} K {f[1] / f[2] - 1.0:+.1%}" for f in found if abs(f[1] / f[2] - 1.0) > f[3]]
        worst = f"worst of {len(found)} rows, at {T:g} K" if len(found) > 1 else f"at {T:g} K"
        note = f"{worst}; {work}"
        if beyond:
            note += "; beyond: " + ", ".join(beyond)
        label = f"{builtin}: {_plain(name)}, {shorten(source, 56, placeholder=' ...')}"
        checks.append(scaled(label, value, reference, abs(reference), limit, units[name], note))
    checks += [_steel_enthalpy(name) for name in ("can-steel", "low-carbon-steel")]
    body = [(b, p, n, why) for (b, p, why), n in sorted(left_out.items())]
    text = "Works:\n\n" + "\n".join(f"{n}. {source}" for source, n in works.items())
    text += "\n\nRows that are printed in the data file but not judged:\n\n"
    text += markdown(("material", "property", "rows", "why"), body)
    metals = sorted({row["builtin"] for row in rows("handbook")} - (OF_PLUGINS.keys() - within_reach))
    drawings = tuple(
        Drawing(
            name, f"{name}: table of the model, handbook rows (dots), residuals.", lambda n=name: _draw(n)
        )
        for name in metals
    )
    return Outcome(tuple(checks), drawings, text)


def _plain(name: str) -> str:
    return name.replace("_mean_50K", ", mean over 50 K").replace("_", " ")


def _steel_enthalpy(name: str) -> Check:
    """Enthalpy through the transitions against the mean heat capacities of AISI 1008."""
    mine = [r for r in rows("handbook") if r["builtin"] == name and r["property"] == "heat_capacity_mean_50K"]
    known = sorted((float(r["temperature_K"]), float(r["value"])) for r in mine if "1008" in r["as_printed"])
    T, mean = (np.array(column) for column in zip(*known, strict=True))
    reference = float(np.trapezoid(mean, T))
    fine = np.arange(T[0], T[-1], 0.5)
    value = float(np.trapezoid(library.get(name).heat_capacity(fine), fine))
    note = f"{T[0]:g} to {T[-1]:g} K, means over 50 K joined by straight lines"
    label = f"{name}: enthalpy through the transitions, AISI 1008"
    return scaled(label, value, reference, reference, ALLOY_TOLERANCE, "J/kg", note)


def _draw(builtin: str) -> Any:
    from matplotlib.figure import Figure

    material = library.get(builtin)
    figure = Figure(figsize=(12.0, 5.0), layout="constrained")
    panels = figure.subplots(2, 3, sharex="col", height_ratios=(2, 1))
    units = {"resistivity": "ohm m", "heat_capacity": "J/(kg K)", "conductivity": "W/(m K)"}
    for column, (name, unit) in enumerate(units.items()):
        curves = {
            "resistivity": material.resistivity,
            "heat_capacity": material.heat_capacity,
            "conductivity": material.conductivity_r,
        }
        curve = curves[name]
        assert curve is not None
        mine = [r for r in rows("handbook") if r["builtin"] == builtin and r["property"] == name]
        T = np.linspace(250.0, min(float(curve.temperature_K[-1]), 1.3 * (material.liquidus_K or 1e4)), 800)
        top, bottom = panels[0, column], panels[1, column]
        top.plot(T, curve(T), "k", lw=1.0)
        for judged, style in (("yes", "o"), ("no", "x")):
            these = [r for r in mine if r["judged"] == judged]
            x = [float(r["temperature_K"]) for r in these]
            top.plot(x, [float(r["value"]) for r in these], style, ms=4, label=f"judged: {judged}")
            off = [100.0 * (_value(material, r) / float(r["value"]) - 1.0) for r in these]
            bottom.plot(x, off, style, ms=4)
        top.set_ylabel(f"{name.replace('_', ' ')} [{unit}]")
        bottom.set_ylabel("model less row [%]")
        bottom.set_xlabel("temperature [K]")
        bottom.axhline(0.0, color="k", lw=0.5)
        top.legend(fontsize=7)
    figure.suptitle(material.title)
    return figure


def run_consistency() -> Outcome:
    checks: list[Check] = []
    for name in library.names():
        material = library.find(name)
        if not isinstance(material, Material) or material.resistivity is None:
            continue
        top = min(material.boiling_K or 3000.0, 1.5 * (material.liquidus_K or 2000.0))
        T = np.arange(293.0, top, 1.0)
        ratio = material.resistivity(T) * material.conductivity_r(T) / T / LORENZ_V2_K2
        low, high = float(ratio.min()), float(ratio.max())
        worst = max(0.85 - low, high - 1.6, 0.0)
        note = f"rho k / (T 2.44e-8) from {low:.2f} to {high:.2f}"
        checks.append(
            Check(f"{name}: Lorenz ratio within 0.85 to 1.6", ratio.mean(), 1.0, worst, 0.0, "", note)
        )
        rise = np.diff(enthalpy_J_m3(material, T))
        checks.append(scaled(f"{name}: enthalpy rises", float(rise.min() > 0.0), 1.0, 1.0, 0.0))
        checks.append(_jumps(name, material, T))
    return Outcome(tuple(checks))


def _jumps(name: str, material: Material, T: FloatArray) -> Check:
    """Largest change over one kelvin away from transitions."""
    keep = np.ones(len(T) - 1, dtype=bool)
    middle = 0.5 * (T[1:] + T[:-1])
    if material.solidus_K is not None and material.liquidus_K is not None:
        keep &= (middle < material.solidus_K - 1.0) | (middle > material.liquidus_K + 1.0)
    for low, high in TRANSITIONS_K.get(name, ()):
        keep &= (middle < low) | (middle > high)
    worst, where = 0.0, ""
    curves = {"resistivity": material.resistivity, "conductivity": material.conductivity_r}
    for label, curve in (curves | {"heat capacity": material.heat_capacity}).items():
        assert curve is not None
        value = curve(T)
        step = np.where(keep, np.abs(np.diff(value)) / value[:-1], 0.0)
        if step.max() > worst:
            worst, where = float(step.max()), f"{label} at {T[int(step.argmax())]:g} K"
    return scaled(f"{name}: largest change over 1 K", worst, 0.0, 1.0, 0.02, "", where)


CASES = (
    Case(
        key="1-handbook",
        title="Built-in materials against handbook rows",
        claim="Resistivity, heat capacity, conductivity, density, melting range and heat of fusion of the "
        "built-in metals agree with the handbook rows that are available.",
        source="validation/data/handbook.csv: each row with its work and confidence mark. Several tables "
        "were also the sources of the built-in materials: for those this is a check of copying and "
        "interpolation only; cases 1-cantera and 1-chemicals are independent.",
        tolerance="About what good compilations differ by: pure metals 3 % for resistivity (5 % within 50 K "
        "of a magnetic transition), 3 % for heat capacity, 5 % for conductivity; alloys 10 %; density 1 % "
        "(libraries differ by 0.8 % among themselves), heat of fusion 5 % of pure metals (sources differ by "
        "3 %), melting range 5 K (half of the model's least melting range).",
        run=run_handbook,
    ),
    Case(
        key="1-consistency",
        title="Consistency of each metal's tables",
        claim="The Lorenz ratio is plausible, enthalpy rises, and nothing jumps except at a transition.",
        source="Wiedemann-Franz rule, L = 2.44e-8 V2/K2.",
        tolerance="Lorenz ratio 0.85 to 1.6: outside that a slip is likely (known metals span 0.88 to 1.5). "
        "No change above 2 % over 1 K further than 15 K from a transition.",
        run=run_consistency,
    ),
)
