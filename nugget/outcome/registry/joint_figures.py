"""Figures of the joint: what melted, what was bonded, what was damaged."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.figure import Figure
from nugget.outcome.reading import Reading
from nugget.setup.description import Description

BURN_THROUGH_SHARE = 0.999
"""A layer whose melted share reaches this is liquid to its far face."""
CERTAIN = 1.0
"""Margin of what is only known as yes or no."""

History = Mapping[str, FloatArray]


def _at_largest(reading: Reading, column: str) -> float:
    """A column at the moment when the fused zone is largest."""
    return float(reading.history[column][int(np.argmax(reading.history["fused_diameter_m"]))])


def _onset_s(reading: Reading) -> float | None:
    onset = reading.time_s[reading.history["fused_diameter_m"] > 0.0]
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


def pull_out_force_N(setup: Description, diameter_m: float) -> float | None:
    """Force that tears a button out of the strip: pi d t sigma / sqrt 3, per spot [N].

    Shear of the strip around the fused zone at the von Mises shear strength; common practice,
    no source, and blind to the heat-affected zone. None where a strength is not known.
    """
    strength = min((s.material.tensile_strength_Pa or math.inf for s in setup.strip), default=math.inf)
    if not math.isfinite(strength):
        return None
    strip_m = sum(layer.thickness_m for layer in setup.strip)
    return math.pi * diameter_m * strip_m * strength / math.sqrt(3.0)


def _joint(key: str, title: str, unit: str, help: str, **more: Any) -> Figure:
    return Figure(key, title, unit, "spot", "joint", help, **more)


# Diameters are those of the largest step, not of a parabola through it: a joint ends in a kink.
FIGURES = (
    _joint(
        "fused_diameter_m",
        "Fused diameter",
        "m",
        "Diameter of the circle with the area that is joined by melt, by the rule of the two metals",
        column="fused_diameter_m",
        course=lambda history, _: history["fused_diameter_m"],
        weight="headline",
        row="Fused",
    ),
    _joint(
        "both_sides_melt_diameter_m",
        "Diameter melted on both sides",
        "m",
        "As the fused diameter, where both sides melted, whatever the metals",
        column="both_sides_melt_diameter_m",
        course=lambda history, _: history["both_sides_melt_diameter_m"],
        row="Melted on both sides",
    ),
    _joint(
        "fused_outer_diameter_m",
        "Outer diameter of the fused zone",
        "m",
        "Outer edge of the fused zone when it is largest",
        read=lambda reading: _at_largest(reading, "fused_outer_diameter_m"),
    ),
    _joint(
        "fused_inner_diameter_m",
        "Inner diameter of the fused zone",
        "m",
        "Inner edge of the fused zone when it is largest: zero unless it is a ring",
        read=lambda reading: _at_largest(reading, "fused_inner_diameter_m"),
        row="Fused",
        words="a ring, open to {}",
        optional=True,
    ),
    _joint(
        "one_side_melt_diameter_m",
        "Diameter melted on one side",
        "m",
        "As the fused diameter, where at least one side melted",
        column="one_side_melt_diameter_m",
        course=lambda history, _: history["one_side_melt_diameter_m"],
        row="Melted on one side",
    ),
    _joint(
        "bonded_diameter_m",
        "Diameter bonded in the solid state",
        "m",
        "As the fused diameter, where both sides came to the bond fraction of the lower melting point",
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
        "target_diameter_m",
        "Weld-size target",
        "m",
        "Fused diameter that counts as a joint",
        read=lambda reading: reading.setup.joint.target_diameter_m,
        source="setup",
        weight="spread",
    ),
    _joint(
        "melting_onset_s",
        "Fusion begins",
        "s",
        "Time from the start of the first pulse until something is fused",
        read=_onset_s,
        row="Fusion begins",
        words="{} after the start",
        absent="never",
    ),
    _joint(
        "hottest_K",
        "Hottest metal",
        "K",
        "Highest temperature of any cell of the grid",
        column="hottest_K",
        course=lambda history, _: history["hottest_K"],
        row="Hottest metal",
    ),
    _joint(
        "can_penetration",
        "Melted share of the can wall",
        "share",
        "Largest share of the wall's thickness that is molten at one time, in any column",
        column="can_penetration",
        course=lambda history, _: history["can_penetration"],
        weight="headline",
        beyond="can melts too deep",
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
        "strip_melted_through",
        "Strip melted through",
        "yes/no",
        "Whether melt reaches through the whole strip under the tip",
        read=lambda reading: _through("strip_penetration", reading),
        course=lambda history, _: _through_margin(history["strip_penetration"]),
        beyond="strip melted through",
        row="Strip",
        words="melted through",
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
        "pull_out_force_N",
        "Pull-out force",
        "N",
        "Force that tears a button of the fused diameter out of the strip: pi d t sigma / sqrt 3",
        read=lambda reading: pull_out_force_N(
            reading.setup, float(reading.history["fused_diameter_m"].max())
        ),
        row="Pull-out force",
        words="{} per spot, an estimate",
    ),
)
