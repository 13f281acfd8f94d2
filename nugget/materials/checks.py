"""Can the data of a material be trusted? One verdict a line, for `nugget material check`.

`nugget.materials.material_file` refuses what cannot be used at all; here stands what can be used and
may still be a slip. Ranges are wide: they catch wrong units and wrong columns, not odd alloys.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from nugget.constants import LORENZ_V2_K2, REFERENCE_K
from nugget.materials.check_findings import Result as Result
from nugget.materials.check_findings import Verdict as Verdict
from nugget.materials.material import Curve, Material
from nugget.materials.strength_checks import strength_verdicts

RANGES: dict[str, tuple[float, float]] = {
    "density": (0.1, 23000.0),
    "heat_capacity": (80.0, 6000.0),
    "conductivity": (0.01, 600.0),
    "conductivity_z": (0.01, 600.0),
    "resistivity": (1e-8, 5e-6),
    "hardness": (1e5, 2e10),
}
"""What a property may be [SI]: from air to osmium, silver and tungsten. Common practice, no source."""

SCALAR_RANGES: dict[str, tuple[float, float]] = {
    "solidus_K": (300.0, 3800.0),
    "heat_of_fusion_J_kg": (1e4, 1e6),
    "boiling_K": (300.0, 6300.0),
    "tensile_strength_Pa": (5e6, 3e9),
}
LORENZ_FINE = (0.85, 1.6)
"""Lorenz ratios of metals met in practice; outside, suspect a slip in resistivity or conductivity."""
LORENZ_POSSIBLE = (0.4, 3.0)
MELT_RESISTIVITY = (0.9, 2.6)
"""Resistivity just melted over just solid: 1.1 for iron to 2.1 for copper and zinc."""
MUSHY_K = 10.0
"""Narrowest melting range that the model takes."""
STEP = {"heat_capacity": 4.0, "conductivity": 1.6, "conductivity_z": 1.6, "resistivity": 1.6}
"""Factor between rows less than 40 K apart from which a table is called jumpy, away from melting.
Heat capacity may hold the peak of a transition."""
WARM_K = 600.0
"""How far the tables of a material without a boiling point should reach."""


def curves(material: Material) -> dict[str, Curve]:
    """Return the tables that `material` holds, by property."""
    found = {
        "density": material.density,
        "heat_capacity": material.heat_capacity,
        "conductivity": material.conductivity_r,
        "conductivity_z": None
        if material.conductivity_z is material.conductivity_r
        else material.conductivity_z,
        "resistivity": material.resistivity,
        "hardness": material.hardness,
    }
    return {name: curve for name, curve in found.items() if curve is not None}


def check(material: Material, others: Iterable[Material] = ()) -> list[Verdict]:
    """Return what there is to say about `material`, one verdict a line.

    Parameters
    ----------
    material : Material
    others : iterable of Material
        Built-in materials to compare with.
    """
    return [
        *_ranges(material),
        *_melting(material),
        *_reach(material),
        *_steps(material),
        *_lorenz(material),
        *_hardness(material),
        *strength_verdicts(material),
        *_sources(material),
        *_nearest(material, others),
    ]


def _ranges(material: Material) -> Iterator[Verdict]:
    for name, curve in curves(material).items():
        low, high = RANGES[name]
        outside = (curve.value < low) | (curve.value > high)
        count = "1 row" if len(curve.value) == 1 else f"{len(curve.value)} rows"
        text = f"{curve.value.min():.4g} to {curve.value.max():.4g} in SI units, {count}"
        if outside.any():
            t, value = curve.temperature_K[outside][0], curve.value[outside][0]
            text = f"{value:.4g} at {t:.5g} K is outside {low:g} to {high:g} (SI): is the unit right?"
        yield Verdict(f"range of {name}", "fail" if outside.any() else "ok", text)
    for name, (low, high) in SCALAR_RANGES.items():
        given = getattr(material, name)
        if given and not low <= given <= high:
            yield Verdict(
                f"range of {name}", "fail", f"{given:.4g} is outside {low:g} to {high:g}: is the unit right?"
            )


def _melting(material: Material) -> Iterator[Verdict]:
    solidus, liquidus = material.solidus_K, material.liquidus_K
    if solidus is None or liquidus is None:
        metal = material.family == "metal"
        yield Verdict("melting", "fail" if metal else "ok", "no melting range: melting is not followed")
        return
    narrow = liquidus - solidus < MUSHY_K - 1e-6
    text = f"{solidus:.5g} to {liquidus:.5g} K, {material.heat_of_fusion_J_kg / 1e3:.4g} kJ/kg"
    if narrow:
        text += f": narrower than {MUSHY_K:g} K; spread a melting point evenly to both sides"
    yield Verdict("melting", "fail" if narrow else "ok", text)
    if material.resistivity is not None:
        ratio = float(material.resistivity(liquidus) / material.resistivity(solidus))
        fine = MELT_RESISTIVITY[0] <= ratio <= MELT_RESISTIVITY[1]
        text = f"resistivity changes by a factor of {ratio:.3g} across the melting range"
        if not fine:
            text += f"; metals have {MELT_RESISTIVITY[0]:g} to {MELT_RESISTIVITY[1]:g}"
        yield Verdict("melting", "ok" if fine else "warning", text)


def _reach(material: Material) -> Iterator[Verdict]:
    """Say where tables begin too late or stop before boiling, where they are held."""
    if material.family == "metal":
        missing = [key for key in ("resistivity", "hardness", "boiling_K") if getattr(material, key) is None]
        for key in missing:
            yield Verdict(
                "gaps", "fail" if key == "resistivity" else "warning", f"no {key.removesuffix('_K')}"
            )
    needed = {key: curve for key, curve in curves(material).items() if key not in ("density", "hardness")}
    whole = True
    for key, curve in needed.items():
        first, last = curve.temperature_K[0], curve.temperature_K[-1]
        if len(curve.value) == 1:
            yield Verdict("gaps", "warning", f"{key} is one value, at {first:.5g} K, held everywhere")
            whole = False
            continue
        if first > REFERENCE_K + 5.0:
            yield Verdict("gaps", "warning", f"{key} starts at {first:.5g} K; below that it is held")
            whole = False
        end, name = (material.boiling_K, "boiling") if material.boiling_K else (WARM_K, "use")
        if last < end - 1.0:
            yield Verdict(
                "gaps", "warning", f"{key} stops at {last:.5g} K; up to {name} at {end:.5g} K it is held"
            )
            whole = False
    if whole:
        yield Verdict("gaps", "ok", "every table runs from room temperature to boiling (or 600 K)")


def _steps(material: Material) -> Iterator[Verdict]:
    """Enthalpy must rise, and no table may jump but where the material melts."""
    t = np.unique(np.concatenate([np.linspace(250.0, 4000.0, 2000), material.heat_capacity.temperature_K]))
    rises = bool(np.all(material.heat_capacity(t) > 0.0))
    yield Verdict(
        "enthalpy", "ok" if rises else "fail", "rises with temperature" if rises else "falls somewhere"
    )
    calm = True
    for key, curve in curves(material).items():
        if key not in STEP:
            continue
        ratio = np.exp(np.abs(np.diff(np.log(curve.value))))
        near = np.diff(curve.temperature_K) < 40.0
        melts = np.zeros_like(near)
        if material.solidus_K is not None and material.liquidus_K is not None:
            melts = (curve.temperature_K[1:] > material.solidus_K - 1.0) & (
                curve.temperature_K[:-1] < material.liquidus_K + 1.0
            )
        for i in np.flatnonzero((ratio > STEP[key]) & near & ~melts):
            low, high = curve.temperature_K[i : i + 2]
            text = f"{key} changes by a factor of {ratio[i]:.3g} between {low:.5g} and {high:.5g} K"
            yield Verdict("jumps", "warning", text)
            calm = False
    if calm:
        yield Verdict("jumps", "ok", "no table jumps but across melting")


def _lorenz(material: Material) -> Iterator[Verdict]:
    if material.resistivity is None:
        return
    t = np.linspace(REFERENCE_K, material.boiling_K or 2000.0, 400)
    ratio = material.resistivity(t) * material.conductivity_r(t) / t / LORENZ_V2_K2
    low, high = float(ratio.min()), float(ratio.max())
    result: Result = "ok"
    text = f"{low:.2f} to {high:.2f} of {LORENZ_V2_K2:g} V2/K2"
    if low < LORENZ_FINE[0] or high > LORENZ_FINE[1]:
        possible = LORENZ_POSSIBLE[0] <= low and high <= LORENZ_POSSIBLE[1]
        result = "warning" if possible else "fail"
        worst = t[int(np.argmax(np.abs(np.log(ratio / 1.1))))]
        text += f", furthest off at {worst:.4g} K"
        text += f"; outside {LORENZ_FINE[0]:g} to {LORENZ_FINE[1]:g} suspect a slip"
    yield Verdict("Lorenz ratio", result, text)


def _hardness(material: Material) -> Iterator[Verdict]:
    curve = material.hardness
    if curve is None:
        return
    rising = np.any(np.diff(curve.value) > 0.0)
    left = curve.value[-1] / curve.value[0]
    room = float(curve(REFERENCE_K)) / 1e6
    text = f"{room:.4g} MPa at room temperature, {100 * left:.3g} % of it in the last row"
    if rising:
        yield Verdict("hardness", "warning", f"{text}; it rises somewhere with temperature")
    elif left > 0.1:
        yield Verdict(
            "hardness", "warning", f"{text}; nearly molten and slow-loaded, metal keeps less than 10 %"
        )
    else:
        yield Verdict("hardness", "ok", text)


def _sources(material: Material) -> Iterator[Verdict]:
    cited = material.citations()
    unknown = [key for key, citation in cited.items() if citation.confidence == "unknown"]
    memory = [key for key, citation in material.scalar_citations.items() if citation.confidence == "memory"]
    for key, curve in curves(material).items():
        if key not in memory and any(s.citation.confidence == "memory" for s in curve.stretches):
            memory.append(key)
    text = f"{len(cited)} properties, each with its source"
    if memory:
        text += f"; from memory, not read again: {', '.join(memory)}"
    yield Verdict("sources", "ok", text)
    if unknown:
        yield Verdict("sources", "warning", f"unknown for {', '.join(unknown)}")
    if material.estimated:
        yield Verdict("estimates", "warning", "supplied by a rule: " + ", ".join(material.estimated))


def nearest_of(material: Material, others: Iterable[Material]) -> Material | None:
    """Return the one of `others` that is most like `material` at room temperature, or None."""
    candidates = [o for o in others if o.name != material.name and o.family == material.family]
    return min(candidates, key=lambda other: _distance(material, other), default=None)


def _nearest(material: Material, others: Iterable[Material]) -> Iterator[Verdict]:
    nearest = nearest_of(material, others)
    if nearest is None:
        return
    parts = []
    for key, curve in curves(material).items():
        other = curves(nearest).get(key)
        if other is not None:
            parts.append(f"{key} {100 * float(curve(REFERENCE_K) / other(REFERENCE_K) - 1):+.0f} %")
    text = f"{nearest.name}; against it, at room temperature: {', '.join(parts)}"
    yield Verdict("nearest built-in", "ok", text)


def _distance(one: Material, other: Material) -> float:
    total = 0.0
    mine, theirs = curves(one), curves(other)
    for key in ("density", "conductivity", "resistivity", "heat_capacity"):
        if key in mine and key in theirs:
            total += abs(float(np.log(mine[key](REFERENCE_K) / theirs[key](REFERENCE_K))))
    if one.melting_K and other.melting_K:
        total += 2.0 * abs(float(np.log(one.melting_K / other.melting_K)))
    return total
