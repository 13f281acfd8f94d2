"""Figures of the joint: what melted, what was bonded, what was damaged."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.figure import Figure
from nugget.outcome.interior import time_above
from nugget.outcome.joint import pair_of_layers, peel_force, shear_force
from nugget.outcome.reading import Reading
from nugget.setup.description import Description

BURN_THROUGH_SHARE = 0.999
"""A layer whose melted share reaches this is liquid to its far face."""
LEAST_MELT_M = 1e-6
"""Diameter from which melt at the tip is timed [m]: far below the width of a cell."""
CERTAIN = 1.0
"""Margin of what is only known as yes or no."""

History = Mapping[str, FloatArray]


def _at_largest(reading: Reading, column: str) -> float:
    """A column at the moment when the nugget is largest."""
    return float(reading.history[column][int(np.argmax(reading.history["nugget_diameter_m"]))])


def _onset_s(reading: Reading) -> float | None:
    onset = reading.time_s[reading.history["nugget_diameter_m"] > 0.0]
    return float(onset[0]) if onset.size else None


def _wall_m(setup: Description) -> float:
    return sum(layer.thickness_m for layer in setup.base if layer.role == "can")


def _wall_left_m(reading: Reading) -> float:
    return (1.0 - float(reading.history["can_penetration"].max())) * _wall_m(reading.setup)


def _through(column: str, reading: Reading) -> bool:
    return float(reading.history[column].max()) >= BURN_THROUGH_SHARE


def _boils(reading: Reading) -> bool:
    return float(reading.history["vapour_J"].max()) > 0.0


def _through_margin(share: FloatArray) -> FloatArray:
    """Margin of a layer's melted share to melting through."""
    return np.where(share >= BURN_THROUGH_SHARE, CERTAIN, share / BURN_THROUGH_SHARE - 1.0)


def _boil_margin(history: History) -> FloatArray:
    """How far metal is from boiling; a study keeps it as a column, else it is yes or no."""
    if "boil_margin" in history:
        return history["boil_margin"]
    return np.where(history["vapour_J"] > 0.0, CERTAIN, -CERTAIN)


def _expulsion_margin(history: History, _: Description) -> FloatArray:
    rim = np.where(history["rim_molten"] > 0.0, CERTAIN, -CERTAIN)
    return np.asarray(np.maximum(_boil_margin(history), rim), dtype=np.float64)


def _burn_margin(history: History, _: Description) -> FloatArray:
    through = _through_margin(history["can_penetration"])
    return np.asarray(np.maximum(through, _boil_margin(history)), dtype=np.float64)


def _strip_m(setup: Description) -> float:
    return sum(layer.thickness_m for layer in setup.strip)


def _strength_Pa(setup: Description) -> float:
    """Of the weakest layer of the strip; infinite where none is known."""
    return min((s.material.tensile_strength_Pa or math.inf for s in setup.strip), default=math.inf)


def _force_N(law: Callable[[float, float, float], float], reading: Reading) -> float | None:
    """Force that one spot holds; None where a strength is not known."""
    strength = _strength_Pa(reading.setup)
    if not math.isfinite(strength):
        return None
    return law(float(reading.history["nugget_diameter_m"].max()), _strip_m(reading.setup), strength)


def _of_a_pair(force_N: float | None, reading: Reading) -> float | None:
    series = reading.setup.arrangement.startswith("series")
    return 2.0 * force_N if series and force_N is not None else None


def _pair(reading: Reading) -> str:
    upper, lower, record = pair_of_layers(reading.setup.strip, reading.setup.base)
    said = {"soluble": "they mix", "braze": "a braze", "brittle": "brittle, not counted"}
    words = said.get(record.kind, "unknown pair, both sides must melt")
    return f"{upper.material.name} on {lower.material.name}: {words}"


def _sticking_ratio(history: History, setup: Description) -> FloatArray:
    """What has frozen to the tip holds as much as that area of strip; nothing where that is unknown."""
    strength = _strength_Pa(setup)
    area = 0.25 * math.pi * history["tip_melt_diameter_m"] ** 2
    return np.asarray(area * (strength / setup.force_N if math.isfinite(strength) else 0.0))


def _through_ratio(history: History, setup: Description) -> FloatArray:
    return np.asarray(history["strip_through_diameter_m"] / _strip_m(setup))


def _indentation_share(history: History, setup: Description) -> FloatArray:
    return np.asarray(history["indentation_m"] / _strip_m(setup))


def _joint(key: str, title: str, unit: str, help: str, **more: Any) -> Figure:
    return Figure(key, title, unit, "spot", "joint", help, **more)


# Diameters are those of the largest step, not of a parabola through it: a joint ends in a kink.
FIGURES = (
    _joint(
        "nugget_diameter_m",
        "Nugget diameter",
        "m",
        "Diameter of the circle with the area of the faying surface that is joined: where the two metals melt"
        " together with melt on one side at least, by the rule of their pair",
        column="nugget_diameter_m",
        course=lambda history, _: history["nugget_diameter_m"],
        weight="headline",
        row="Nugget",
    ),
    _joint(
        "nugget_outer_diameter_m",
        "Outer diameter of the nugget",
        "m",
        "Outer edge of the nugget when it is largest",
        read=lambda reading: _at_largest(reading, "nugget_outer_diameter_m"),
    ),
    _joint(
        "nugget_inner_diameter_m",
        "Inner diameter of the nugget",
        "m",
        "Inner edge of the nugget when it is largest: zero unless it is a ring",
        read=lambda reading: _at_largest(reading, "nugget_inner_diameter_m"),
        row="Nugget",
        words="a ring, open to {}",
        optional=True,
    ),
    _joint(
        "both_sides_melt_diameter_m",
        "Diameter melted on both sides",
        "m",
        "As the nugget diameter, where both sides melted",
        column="both_sides_melt_diameter_m",
        course=lambda history, _: history["both_sides_melt_diameter_m"],
        row="Melted on both sides",
    ),
    _joint(
        "faying_pair",
        "Metals that are joined",
        "text",
        "The two metals that meet at the faying surface, and what becomes of them where they melt",
        read=_pair,
        source="setup",
        row="Metals",
    ),
    _joint(
        "one_side_melt_diameter_m",
        "Diameter melted on one side",
        "m",
        "As the nugget diameter, where at least one side melted",
        column="one_side_melt_diameter_m",
        course=lambda history, _: history["one_side_melt_diameter_m"],
        row="Melted on one side",
    ),
    _joint(
        "bonded_diameter_m",
        "Diameter bonded in the solid state",
        "m",
        "As the nugget diameter, where both sides came to the bond fraction of the lower melting point",
        column="bonded_diameter_m",
        course=lambda history, _: history["bonded_diameter_m"],
        weight="spread",
        short="bonded diameter",
        row="Solid-state bond",
    ),
    _joint(
        "bond_fraction",
        "Share of the melting point that bonds",
        "share",
        "Share of the lower melting point [K] from which a solid-state bond is counted",
        read=lambda reading: reading.setup.joint.bond_fraction,
        source="setup",
        row="Solid-state bond",
        words="above {} of melting [K]",
    ),
    _joint(
        "contact_diameter_m",
        "Contact of strip and wall at its widest",
        "m",
        "Largest diameter of the mechanical contact at the faying surface",
        read=lambda reading: 2.0 * float(reading.history["contact_radius_m"].max()),
        course=lambda history, _: 2.0 * history["contact_radius_m"],
        row="Contact at its widest",
        words="strip to wall {}",
    ),
    _joint(
        "tip_contact_diameter_m",
        "Contact of tip and strip at its widest",
        "m",
        "Largest diameter of the mechanical contact under the tip",
        read=lambda reading: 2.0 * float(reading.history["tip_radius_m"].max()),
        course=lambda history, _: 2.0 * history["tip_radius_m"],
        row="Contact at its widest",
        words="tip to strip {}",
    ),
    _joint(
        "minimum_diameter_m",
        "Minimum weld diameter",
        "m",
        "Nugget diameter that counts as a joint",
        read=lambda reading: reading.setup.joint.minimum_diameter_m,
        source="setup",
        weight="spread",
    ),
    _joint(
        "melting_onset_s",
        "Nugget begins",
        "s",
        "Time from the start of the first pulse until the metals are joined somewhere",
        read=_onset_s,
        row="Nugget begins",
        words="{} after the start",
        absent="never",
    ),
    _joint(
        "hottest_K",
        "Peak temperature",
        "K",
        "Highest temperature of any cell of the grid",
        column="hottest_K",
        course=lambda history, _: history["hottest_K"],
        row="Peak temperature",
    ),
    _joint(
        "can_penetration",
        "Melted share of the can wall",
        "share",
        "Largest share of the wall's thickness that is molten at one time, in any column",
        column="can_penetration",
        course=lambda history, _: history["can_penetration"],
        weight="headline",
        beyond="can penetration limit",
        row="Wall",
        words="{} melted at the deepest",
    ),
    _joint(
        "wall_left_m",
        "Wall left unmelted",
        "m",
        "Thickness of the wall that stays solid where it melts deepest",
        read=_wall_left_m,
        falls=True,
        course=lambda history, setup: (1.0 - history["can_penetration"]) * _wall_m(setup),
        row="Wall",
        words="{} left unmelted",
    ),
    _joint(
        "strip_penetration",
        "Melted share of the strip under the tip",
        "share",
        "Largest share of the strip's thickness that is molten at one time under the tip",
        column="strip_penetration",
        course=lambda history, _: history["strip_penetration"],
        row="Strip",
        words="{} melted",
    ),
    _joint(
        "strip_through_ratio",
        "Strip melted through, width over thickness",
        "1",
        "Diameter under the tip within which the strip is molten through, over the strip's thickness",
        read=lambda reading: float(_through_ratio(reading.history, reading.setup).max()),
        course=_through_ratio,
        beyond="hole in the strip",
        row="Strip",
        words="molten through over {} thicknesses",
        optional=True,
    ),
    _joint(
        "tip_melt_diameter_m",
        "Melt at the tip",
        "m",
        "Diameter of the circle with the area on which the tip touches molten strip at one time",
        column="tip_melt_diameter_m",
        course=lambda history, _: history["tip_melt_diameter_m"],
        row="Melt at the tip",
    ),
    _joint(
        "tip_melt_s",
        "Melt at the tip lasts",
        "s",
        "Time for which the tip touches molten strip",
        read=lambda reading: time_above(reading.time_s, reading.history["tip_melt_diameter_m"], LEAST_MELT_M),
        row="Melt at the tip",
        words="for {}",
        optional=True,
    ),
    _joint(
        "tip_sticking_ratio",
        "What freezes to the tip, over the tip force",
        "1",
        "Area of molten strip that the tip touches, times the strength of the strip, over the tip force",
        read=lambda reading: float(_sticking_ratio(reading.history, reading.setup).max()),
        course=_sticking_ratio,
        beyond="tip sticks",
        row="Melt at the tip",
        words="holds {} times the tip force when frozen",
        optional=True,
    ),
    _joint(
        "indentation_m",
        "Indentation",
        "m",
        "Depth to which a rounded tip sinks into the strip: (a^2 - b^2) / (2 R), a its contact radius, b that"
        " of its worn flat, R of its dome",
        column="indentation_m",
        course=lambda history, _: history["indentation_m"],
        row="Indentation",
    ),
    _joint(
        "indentation_share",
        "Indentation over strip thickness",
        "share",
        "Share of the strip's thickness to which a rounded tip sinks in",
        read=lambda reading: float(_indentation_share(reading.history, reading.setup).max()),
        course=_indentation_share,
        beyond="tip sinks in",
        row="Indentation",
        words="{} of the strip",
    ),
    _joint(
        "strip_left_m",
        "Strip left under the tip",
        "m",
        "Thickness of the strip less the indentation",
        read=lambda reading: _strip_m(reading.setup) - float(reading.history["indentation_m"].max()),
        falls=True,
        course=lambda history, setup: _strip_m(setup) - history["indentation_m"],
        row="Indentation",
        words="{} left",
    ),
    _joint(
        "strip_molten_beside_tip",
        "Strip melted through beside the tip",
        "yes/no",
        "Whether melt reaches through the whole strip where no tip chills it",
        read=lambda reading: _through("strip_beside_tip", reading),
        course=lambda history, _: _through_margin(history["strip_beside_tip"]),
    ),
    _joint(
        "expulsion",
        "Expulsion",
        "yes/no",
        "Whether the rim of a contact at its cap is molten, or metal boils",
        read=lambda reading: bool(reading.history["rim_molten"].any()) or _boils(reading),
        course=_expulsion_margin,
        beyond="expulsion",
        row="Expulsion",
        words="yes: melt at the contact rim, or boiling",
        absent="none",
    ),
    _joint(
        "burn_through",
        "Burn-through",
        "yes/no",
        "Whether the wall is molten to its inner face, or metal boils",
        read=lambda reading: _through("can_penetration", reading) or _boils(reading),
        course=_burn_margin,
        beyond="burn-through",
        row="Burn-through",
        words="yes",
        absent="none",
    ),
    _joint(
        "vapour_energy_J",
        "Heat beyond boiling",
        "J",
        "Heat beyond the boiling point, which nothing carries away in the model",
        column="vapour_J",
        course=lambda history, _: history["vapour_J"],
        row="Burn-through",
        words="{} beyond boiling",
        optional=True,
    ),
    _joint(
        "shear_force_N",
        "Shear force",
        "N",
        "Force along the strip that parts one spot: through the nugget or around it, whichever is weaker",
        read=lambda reading: _force_N(shear_force, reading),
        row="Strength",
        words="{} per spot in shear, an estimate",
    ),
    _joint(
        "peel_force_N",
        "Peel force",
        "N",
        "Force across the strip that peels one spot: the strip tears along an eighth of the button's rim",
        read=lambda reading: _force_N(peel_force, reading),
        row="Strength",
        words="{} in peel",
    ),
    replace(
        _joint(
            "peel_force_pair_N",
            "Peel force of a pair",
            "N",
            "Twice the peel force of one spot, in a series pair",
            read=lambda reading: _of_a_pair(_force_N(peel_force, reading), reading),
            row="Strength",
            words="{} per pair in peel",
        ),
        per="pair",
    ),
)
