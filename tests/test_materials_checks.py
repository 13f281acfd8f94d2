"""Verdicts on data that can be read and may still be a slip."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from nugget.materials import library
from nugget.materials.checks import check, nearest_of
from nugget.materials.material import Citation, Curve, Material
from nugget.materials.strength import Strength, StressRows

FLAT = StressRows(
    (1.0, 100.0), (Curve(np.array([300.0, 1700.0]), np.array([4e8, 4e8]), Citation("", "unknown")),) * 2, None
)
SOUND = library.get("nickel-200")


def scaled(curve: Curve | None, factor: float) -> Curve:
    assert curve is not None
    return replace(curve, value=curve.value * factor)


def cut(curve: Curve | None, last_K: float) -> Curve:
    assert curve is not None
    keep = curve.temperature_K <= last_K
    return replace(curve, temperature_K=curve.temperature_K[keep], value=curve.value[keep])


def bumped(curve: Curve | None) -> Curve:
    """One row a decimal point off."""
    assert curve is not None
    value = curve.value.copy()
    value[4] *= 10.0
    return replace(curve, value=value)


def dense(curve: Curve | None) -> Curve:
    """The same curve with rows 20 K apart."""
    assert curve is not None
    t = np.arange(300.0, 1700.0, 20.0)
    return replace(curve, temperature_K=t, value=curve(t))


def raised_above(curve: Curve | None, from_K: float, factor: float) -> Curve:
    assert curve is not None
    return replace(curve, value=np.where(curve.temperature_K > from_K, factor, 1.0) * curve.value)


UNKNOWN = Citation("unknown", "unknown")

SLIPS = {
    "resistivity in the wrong unit": (
        {"resistivity": scaled(SOUND.resistivity, 100.0)},
        ("range of resistivity", "fail", "is the unit right?"),
    ),
    "conductivity ten times too large": (
        {
            "conductivity_r": scaled(SOUND.conductivity_r, 10.0),
            "conductivity_z": scaled(SOUND.conductivity_r, 10.0),
        },
        ("Lorenz ratio", "fail", "suspect a slip"),
    ),
    "conductivity twice too large": (
        {
            "conductivity_r": scaled(SOUND.conductivity_r, 2.0),
            "conductivity_z": scaled(SOUND.conductivity_r, 2.0),
        },
        ("Lorenz ratio", "warning", "suspect a slip"),
    ),
    "a melting point instead of a range": ({"solidus_K": 1712.0}, ("melting", "fail", "narrower than 10 K")),
    "no melting": ({"solidus_K": None, "liquidus_K": None}, ("melting", "fail", "no melting range")),
    "liquid rows missing": (
        {"resistivity": cut(SOUND.resistivity, 1720.0)},
        ("gaps", "warning", "up to boiling at 3186.2 K it is held"),
    ),
    "a decimal point off": (
        {"heat_capacity": bumped(dense(SOUND.heat_capacity))},
        ("jumps", "warning", "heat_capacity changes by a factor of 10"),
    ),
    "heat of fusion in J": (
        {"heat_of_fusion_J_kg": 292.0},
        ("range of heat_of_fusion_J_kg", "fail", "unit right?"),
    ),
    "hardness that grows": (
        {
            "hardness": replace(SOUND.hardness, value=np.flip(SOUND.hardness.value))
            if SOUND.hardness
            else None
        },
        ("hardness", "warning", "rises somewhere"),
    ),
    "a law of creep in the wrong unit": (
        {"strength": replace(SOUND.strength, hot=replace(SOUND.strength.hot, burgers_m=0.249e9))},
        ("hardness at rate", "warning", "below the slow table"),
    ),
    "no number": (
        {"strength": replace(SOUND.strength, hot=replace(SOUND.strength.hot, burgers_m=float("nan")))},
        ("hardness at rate", "fail", "or is no number"),
    ),
    "hot metal as hard as cold": (
        {"strength": Strength(hot=FLAT)},
        ("hardness at rate", "warning", "at most 0.4 of the cold value"),
    ),
    "a Seebeck coefficient in mV/K": (
        {"seebeck": scaled(SOUND.seebeck, 1e3)},
        ("Seebeck coefficient", "fail", "is the unit right?"),
    ),
    "no Seebeck coefficient": ({"seebeck": None}, ("gaps", "warning", "no Seebeck coefficient")),
    "no composition": ({"composition": {}}, ("family of metals", "warning", "give the composition")),
    "no hardness": ({"hardness": None}, ("gaps", "warning", "no hardness")),
    "no source": (
        {"scalar_citations": {"density": UNKNOWN}},
        ("sources", "warning", "unknown for density"),
    ),
    "a melt that resists too much": (
        {"resistivity": raised_above(SOUND.resistivity, 1715.0, 4.0)},
        ("melting", "warning", "metals have 0.9 to 2.6"),
    ),
}


def test_sound_data_pass_without_a_fail() -> None:
    assert not [verdict for verdict in check(SOUND) if verdict.result == "fail"]


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_found(slip: str) -> None:
    changes, (topic, result, text) = SLIPS[slip]
    verdicts = check(replace(SOUND, **changes))
    assert any(v.topic == topic and v.result == result and text in v.text for v in verdicts), verdicts
    assert not any(v.topic == topic and v.result == result and text in v.text for v in check(SOUND))


def test_the_nearest_built_in_is_named_with_differences() -> None:
    others = [library.get(name) for name in ("copper", "low-carbon-steel", "nickel-201", "tungsten", "air")]
    nearest = nearest_of(SOUND, others)
    assert isinstance(nearest, Material)
    assert nearest.name == "nickel-201"
    (verdict,) = [v for v in check(SOUND, others) if v.topic == "nearest built-in"]
    assert "resistivity +13 %" in verdict.text


def test_without_anything_alike_there_is_no_comparison() -> None:
    assert nearest_of(SOUND, [library.get("air"), SOUND]) is None
