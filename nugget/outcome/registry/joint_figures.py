"""Figures of the joint: what is joined, and what it holds."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.figure import Figure
from nugget.outcome.joint import pair_of_layers, peel_force, shear_force
from nugget.outcome.reading import Reading
from nugget.setup.description import Description

History = Mapping[str, FloatArray]


def _at_largest(reading: Reading, column: str) -> float:
    """A column at the moment when the nugget is largest."""
    return float(reading.history[column][int(np.argmax(reading.history["nugget_diameter_m"]))])


def _onset_s(reading: Reading) -> float | None:
    onset = reading.time_s[reading.history["nugget_diameter_m"] > 0.0]
    return float(onset[0]) if onset.size else None


def strip_m(setup: Description) -> float:
    return sum(layer.thickness_m for layer in setup.strip)


def strength_Pa(setup: Description) -> float:
    """Of the weakest layer of the strip; infinite where none is known."""
    return min((s.material.tensile_strength_Pa or math.inf for s in setup.strip), default=math.inf)


def _force_N(law: Callable[[float, float, float], float], reading: Reading) -> float | None:
    """Force that one spot holds; None where a strength is not known."""
    strength = strength_Pa(reading.setup)
    if not math.isfinite(strength):
        return None
    return law(float(reading.history["nugget_diameter_m"].max()), strip_m(reading.setup), strength)


def _of_a_pair(force_N: float | None, reading: Reading) -> float | None:
    series = reading.setup.arrangement.startswith("series")
    return 2.0 * force_N if series and force_N is not None else None


def _pair(reading: Reading) -> str:
    upper, lower, record = pair_of_layers(reading.setup.strip, reading.setup.base)
    said = {"soluble": "they mix", "braze": "a braze", "brittle": "brittle, not counted"}
    words = said.get(record.kind, "unknown pair, both sides must melt")
    return f"{upper.material.name} on {lower.material.name}: {words}"


def joint_figure(key: str, title: str, unit: str, help: str, **more: Any) -> Figure:
    return Figure(key, title, unit, "spot", "joint", help, **more)


# Diameters are those of the largest step, not of a parabola through it: a joint ends in a kink.
FIGURES = (
    joint_figure(
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
    joint_figure(
        "nugget_outer_diameter_m",
        "Outer diameter of the nugget",
        "m",
        "Outer edge of the nugget when it is largest",
        read=lambda reading: _at_largest(reading, "nugget_outer_diameter_m"),
    ),
    joint_figure(
        "nugget_inner_diameter_m",
        "Inner diameter of the nugget",
        "m",
        "Inner edge of the nugget when it is largest: zero unless it is a ring",
        read=lambda reading: _at_largest(reading, "nugget_inner_diameter_m"),
        row="Nugget",
        words="a ring, open to {}",
        optional=True,
    ),
    joint_figure(
        "both_sides_melt_diameter_m",
        "Diameter melted on both sides",
        "m",
        "As the nugget diameter, where both sides melted",
        column="both_sides_melt_diameter_m",
        course=lambda history, _: history["both_sides_melt_diameter_m"],
        row="Melted on both sides",
    ),
    joint_figure(
        "faying_pair",
        "Metals that are joined",
        "text",
        "The two metals that meet at the faying surface, and what becomes of them where they melt",
        read=_pair,
        source="setup",
        row="Metals",
    ),
    joint_figure(
        "one_side_melt_diameter_m",
        "Diameter melted on one side",
        "m",
        "As the nugget diameter, where at least one side melted",
        column="one_side_melt_diameter_m",
        course=lambda history, _: history["one_side_melt_diameter_m"],
        row="Melted on one side",
    ),
    joint_figure(
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
    joint_figure(
        "bond_fraction",
        "Share of the melting point that bonds",
        "share",
        "Share of the lower melting point [K] from which a solid-state bond is counted",
        read=lambda reading: reading.setup.joint.bond_fraction,
        source="setup",
        row="Solid-state bond",
        words="above {} of melting [K]",
    ),
    joint_figure(
        "contact_diameter_m",
        "Contact of strip and wall at its widest",
        "m",
        "Largest diameter of the mechanical contact at the faying surface",
        read=lambda reading: 2.0 * float(reading.history["contact_radius_m"].max()),
        course=lambda history, _: 2.0 * history["contact_radius_m"],
        row="Contact at its widest",
        words="strip to wall {}",
    ),
    joint_figure(
        "tip_contact_diameter_m",
        "Contact of tip and strip at its widest",
        "m",
        "Largest diameter of the mechanical contact under the tip",
        read=lambda reading: 2.0 * float(reading.history["tip_radius_m"].max()),
        course=lambda history, _: 2.0 * history["tip_radius_m"],
        row="Contact at its widest",
        words="tip to strip {}",
    ),
    joint_figure(
        "minimum_diameter_m",
        "Minimum weld diameter",
        "m",
        "Nugget diameter that counts as a joint",
        read=lambda reading: reading.setup.joint.minimum_diameter_m,
        source="setup",
        weight="spread",
    ),
    joint_figure(
        "melting_onset_s",
        "Nugget begins",
        "s",
        "Time from the start of the first pulse until the metals are joined somewhere",
        read=_onset_s,
        row="Nugget begins",
        words="{} after the start",
        absent="never",
    ),
)

STRENGTH = (
    joint_figure(
        "shear_force_N",
        "Shear force",
        "N",
        "Force along the strip that parts one spot: through the nugget or around it, whichever is weaker",
        read=lambda reading: _force_N(shear_force, reading),
        row="Strength",
        words="{} per spot in shear, an estimate",
    ),
    joint_figure(
        "peel_force_N",
        "Peel force",
        "N",
        "Force across the strip that peels one spot: a seventh of the shear force, the weak end of 4 to 7",
        read=lambda reading: _force_N(peel_force, reading),
        row="Strength",
        words="{} in peel",
    ),
    replace(
        joint_figure(
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
