"""From catalogue values to a whole material: what is missing is supplied by stated rules.

Every rule says where it comes from and how far it was checked against the built-in materials;
whatever it supplies is marked ``estimated``, and every answer that uses the material says so.
The result has the shape of a material file, so that it passes through the same door as any other.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import LORENZ_V2_K2, ROOM_K
from nugget.materials import library
from nugget.materials.material import Material

SATURATION_OHM_M = 1.5e-6
SMITH_PALMER_V2_K2, SMITH_PALMER_W_MK = 2.39e-8, 7.5
TROUTON = 10.8
"""Heat of evaporation over R times the boiling point: Trouton's rule for metals, about 90 J/(mol K)."""

MATTHIESSEN = (
    "Matthiessen's rule: the rise of the base metal added, times 1 - rho / 1.5e-6 ohm m, as the rise fades in"
    " alloys of high resistivity (after Mooij, Phys. Status Solidi A 17 (1973) 521, from memory)"
)
COEFFICIENT = "temperature coefficient as given, on the value at room temperature"
MELTED = "solid at the solidus plus the step and the slope of the liquid base metal"
SMITH_PALMER = (
    "Wiedemann-Franz rule with a lattice part, k = 2.39e-8 T / rho + 7.5 W/(m K)"
    " (Smith and Palmer, Trans. AIME 117 (1935) 225, from memory)"
)
WIEDEMANN_FRANZ = "Wiedemann-Franz rule, L = 2.44e-8 V2/K2 (Sommerfeld)"
KOPP = "Kopp's rule: mass-weighted heat capacities of the elements (Kopp 1864)"
RICHARDS = "Richards' rule: entropy of fusion as in the elements, weighted by mass"
RAOULT = "Raoult's and Trouton's rules: vapour pressure of the mixture reaches one atmosphere"
MIXTURE = "specific volumes of the elements, weighted by mass"
TABOR = "3 times the tensile strength (Tabor, The Hardness of Metals, 1951)"

BASES = {
    "Ni": "nickel",
    "Fe": "iron",
    "Cu": "copper-etp",
    "Al": "aluminium",
    "Zn": "zinc",
    "W": "tungsten",
    "Mo": "molybdenum",
}
"""Elements that may be the base of an alloy, and the built-in material that stands for each."""


@dataclass(frozen=True)
class Catalogue:
    """What a catalogue says at room temperature, SI units; None where it is silent.

    Attributes
    ----------
    composition : mapping of str to float
        Mass fraction of each element; empty when unknown.
    resistivity_ohm_m, density_kg_m3, conductivity_W_mK : float or None
    coefficient_1_K : float or None
        Temperature coefficient of resistivity [1/K] at room temperature.
    solidus_K, liquidus_K : float or None
    tensile_strength_Pa, hardness_Pa : float or None
    source : str
        The catalogue; empty when it is still to be named.
    """

    composition: Mapping[str, float]
    resistivity_ohm_m: float | None = None
    density_kg_m3: float | None = None
    conductivity_W_mK: float | None = None
    coefficient_1_K: float | None = None
    solidus_K: float | None = None
    liquidus_K: float | None = None
    tensile_strength_Pa: float | None = None
    hardness_Pa: float | None = None
    source: str = ""


@lru_cache(maxsize=1)
def elements() -> dict[str, Any]:
    """Return the element data by symbol, and their source under ``source``."""
    return tomllib.loads((files("nugget.materials") / "elements.toml").read_text("utf-8"))


def base_of(given: Catalogue) -> str:
    """Return the element that the alloy is based on: the main one, or the nearest by density and melting."""
    main = {e: share for e, share in given.composition.items() if e in BASES}
    if main:
        return max(main, key=lambda element: main[element])

    def distance(element: str) -> float:
        data = elements()[element]
        far = abs(math.log(given.density_kg_m3 / data["density"])) if given.density_kg_m3 else 0.0
        return far + (abs(math.log(given.liquidus_K / data["melting"])) if given.liquidus_K else 0.0)

    return min(BASES, key=distance)


def document(given: Catalogue, name: str, title: str) -> dict[str, Any]:
    """Return a material file's content, as far as `given` and the rules reach.

    Without a melting range or a resistivity, the tables that need them are left out.
    """
    element = base_of(given)
    base = library.get(BASES[element])
    shares = dict(given.composition) or {element: 1.0}
    content: dict[str, Any] = {"api": 1, "name": name, "title": title, "family": "metal"}
    content["note"] = f"Estimated from catalogue values, base metal {base.name}: measure what matters."
    if given.density_kg_m3:
        content["density"] = [_table("kg/m3", [(ROOM_K, given.density_kg_m3)], *_said(given))]
    elif given.composition:
        volume = sum(share / elements()[e]["density"] for e, share in shares.items())
        content["density"] = [_table("kg/m3", [(ROOM_K, 1.0 / volume)], MIXTURE)]
    if given.composition:
        percent = {element: round(100.0 * share, 3) for element, share in given.composition.items()}
        content["composition"] = {"mass_percent": percent} | _cited(*_said(given))
    if given.tensile_strength_Pa:
        content["tensile_strength"] = _scalar(given.tensile_strength_Pa / 1e6, "MPa", *_said(given))
    if given.solidus_K is None or given.liquidus_K is None:
        return content
    solidus, liquidus = given.solidus_K, given.liquidus_K
    boiling = max(_boiling(shares), liquidus + 50.0)
    content["melting_range"] = {"solidus": solidus, "liquidus": liquidus, "unit": "K"} | _cited(*_said(given))
    fusion = sum(
        w * elements()[e]["heat_of_fusion"] * liquidus / elements()[e]["melting"] for e, w in shares.items()
    )
    content["heat_of_fusion"] = _scalar(fusion, "kJ/kg", RICHARDS)
    content["boiling"] = _scalar(boiling, "K", RAOULT)
    content["heat_capacity"] = [_heat_capacity(shares, solidus, boiling)]
    if given.resistivity_ohm_m:
        content |= _electrical(given, base, boiling)
    content["hardness"] = [_hardness(given, base)]
    return content


def _electrical(given: Catalogue, base: Material, boiling: float) -> dict[str, Any]:
    """Tables of resistivity and conductivity: the room value as given, then solid, then liquid."""
    at_room, solidus, liquidus = (
        given.resistivity_ohm_m or 0.0,
        given.solidus_K or 0.0,
        given.liquidus_K or 0.0,
    )
    solid = np.unique([*np.arange(400.0, solidus - 20.0, 100.0), solidus])
    fading = max(0.0, 1.0 - at_room / SATURATION_OHM_M)
    if given.coefficient_1_K is None:
        rise, rule = fading * (_solid(base, solid) - _solid(base, np.array([ROOM_K]))), MATTHIESSEN
    else:
        rise, rule = at_room * given.coefficient_1_K * (solid - ROOM_K), COEFFICIENT
    hot = at_room + rise
    melt = np.array([liquidus, boiling])
    step = _liquid(base, melt - liquidus) - _solid(base, np.array([base.solidus_K or 0.0]))
    molten = hot[-1] + fading * step
    room = np.array([ROOM_K])
    rho = np.concatenate([[at_room], hot])
    rule_k = SMITH_PALMER_V2_K2 * np.concatenate([room, solid]) / rho + SMITH_PALMER_W_MK
    parts = []
    if given.conductivity_W_mK:
        rule_k *= given.conductivity_W_mK / rule_k[0]
        parts = [_table("W/(m K)", [(ROOM_K, given.conductivity_W_mK)], *_said(given))]
        solid_k = _table(
            "W/(m K)", zip(solid, rule_k[1:], strict=True), SMITH_PALMER + ", scaled to the value given"
        )
    else:
        solid_k = _table("W/(m K)", zip([ROOM_K, *solid], rule_k, strict=True), SMITH_PALMER)
    return {
        "resistivity": [
            _table("1e-8 ohm m", [(ROOM_K, at_room * 1e8)], *_said(given)),
            _table("1e-8 ohm m", zip(solid, hot * 1e8, strict=True), rule),
            _table("1e-8 ohm m", zip(melt, molten * 1e8, strict=True), MELTED),
        ],
        "conductivity": [
            *parts,
            solid_k,
            _table("W/(m K)", zip(melt, LORENZ_V2_K2 * melt / molten, strict=True), WIEDEMANN_FRANZ),
        ],
    }


def _solid(base: Material, temperature_K: FloatArray) -> FloatArray:
    """Resistivity [ohm m] of the solid base metal, continued past its solidus by its last slope."""
    assert base.resistivity is not None
    curve, solidus = base.resistivity, base.solidus_K or 0.0
    slope = (curve(solidus) - curve(solidus - 200.0)) / 200.0
    below = np.minimum(temperature_K, solidus)
    return curve(below) + slope * (temperature_K - below)


def _liquid(base: Material, above_liquidus_K: FloatArray) -> FloatArray:
    """Resistivity [ohm m] of the liquid base metal, so far [K] above its liquidus."""
    assert base.resistivity is not None
    return base.resistivity((base.liquidus_K or 0.0) + above_liquidus_K)


def _heat_capacity(shares: Mapping[str, float], solidus: float, boiling: float) -> dict[str, Any]:
    """Kopp's rule up to the solidus, held above: near it, liquid and solid differ by a few percent."""
    t = np.unique([250.0, 298.15, *np.arange(400.0, solidus - 20.0, 100.0), solidus])
    c = np.zeros_like(t)
    for element, share in shares.items():
        rows = np.array(elements()[element]["heat_capacity"])
        c += share * np.interp(t, rows[:, 0], rows[:, 1])
    return _table(
        "J/(kg K)",
        zip([*t, boiling], [*c, c[-1]], strict=True),
        KOPP + "; liquid as the solid at the solidus",
    )


def _boiling(shares: Mapping[str, float]) -> float:
    """Temperature [K] at which the vapour pressures of the elements, by mole fraction, add up to 1 atm."""
    moles = {e: share / float(elements()[e]["molar_mass"]) for e, share in shares.items()}
    total = sum(moles.values())

    def pressure(t: float) -> float:
        parts = [n * math.exp(TROUTON * (1.0 - elements()[e]["boiling"] / t)) for e, n in moles.items()]
        return math.fsum(parts) / total

    low, high = 300.0, 7000.0
    while high - low > 0.5:
        middle = 0.5 * (low + high)
        if pressure(middle) < 1.0:
            low = middle
        else:
            high = middle
    return high


def _hardness(given: Catalogue, base: Material) -> dict[str, Any]:
    """Room value, and the fall of the base metal with temperature scaled to the solidus."""
    assert base.hardness is not None
    factors = base.hardness.value / float(base.hardness(ROOM_K))
    scale = ((given.solidus_K or 0.0) - ROOM_K) / ((base.solidus_K or 0.0) - ROOM_K)
    t = ROOM_K + (base.hardness.temperature_K - ROOM_K) * scale
    fall = f"falling as {base.name} does, scaled to the solidus"
    if given.hardness_Pa:
        room, rule = (
            given.hardness_Pa,
            f"room value as given ({given.source or 'source to be named'}); {fall}",
        )
    elif given.tensile_strength_Pa:
        room, rule = 3.0 * given.tensile_strength_Pa, f"{TABOR}; {fall}"
    else:
        room, rule = float(base.hardness(ROOM_K)), f"room value of {base.name}; {fall}"
    rows = zip(t, factors * room / 1e6, strict=True)
    return _table("MPa", rows, rule)


def _said(given: Catalogue) -> tuple[str, str]:
    return (given.source, "found") if given.source else ("catalogue value, source to be named", "unknown")


def _cited(source: str, confidence: str) -> dict[str, str]:
    return {"source": source, "confidence": confidence}


def _table(unit: str, rows: Any, source: str, confidence: str = "estimated") -> dict[str, Any]:
    shown = [[round(float(t), 2), float(f"{float(v):.5g}")] for t, v in rows]
    return {"temperature": "K", "unit": unit, "rows": shown} | _cited(source, confidence)


def _scalar(value: float, unit: str, source: str, confidence: str = "estimated") -> dict[str, Any]:
    return {"value": float(f"{value:.5g}"), "unit": unit} | _cited(source, confidence)
