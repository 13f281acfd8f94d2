"""Figures of what a weld does to can, strip and tip: melt, holes, prints, expulsion."""

from __future__ import annotations

import math

import numpy as np

from nugget.arrays import FloatArray
from nugget.outcome.interior import time_above
from nugget.outcome.reading import Reading
from nugget.outcome.registry.joint_figures import History, joint_figure, strip_m
from nugget.setup.description import Description

BURN_THROUGH_SHARE = 0.999
"""A layer whose melted share reaches this is liquid to its far face."""
LEAST_MELT_M = 1e-6
"""Diameter from which melt at the tip is timed [m]: far below the width of a cell."""
UNKNOWN_STRENGTH_PA = 1e9
"""Tensile strength of what freezes to the tip where none is known [Pa]: hard spring strip (assumption)."""
CERTAIN = 1.0
"""Margin of what is only known as yes or no."""


def _wall_m(setup: Description) -> float:
    return sum(layer.thickness_m for layer in setup.base if layer.role == "can")


def _wall_left_m(reading: Reading) -> float:
    return (1.0 - float(reading.history["can_penetration"].max())) * _wall_m(reading.setup)


def _through(column: str, reading: Reading) -> bool:
    return float(reading.history[column].max()) >= BURN_THROUGH_SHARE


def _boils(reading: Reading, column: str) -> bool:
    return float(reading.history[column].max()) > 0.0


def _through_margin(share: FloatArray) -> FloatArray:
    """Margin of a layer's melted share to melting through."""
    return np.where(share >= BURN_THROUGH_SHARE, CERTAIN, share / BURN_THROUGH_SHARE - 1.0)


def _boil_margin(history: History, where: str = "") -> FloatArray:
    """How far metal is from boiling; a study keeps it as a column, else it is yes or no."""
    kept = f"{where}boil_margin"
    return history[kept] if kept in history else _yes(history[f"{where}vapour_J"])


def _yes(amount: FloatArray) -> FloatArray:
    """Margin of what must not be at all."""
    return np.where(amount > 0.0, CERTAIN, -CERTAIN)


def _expulsion_margin(history: History, _: Description) -> FloatArray:
    return np.asarray(np.maximum(_boil_margin(history), _yes(history["rim_molten"])), dtype=np.float64)


def _burn_margin(history: History, _: Description) -> FloatArray:
    through = _through_margin(history["can_penetration"])
    return np.asarray(np.maximum(through, _boil_margin(history, "wall_")), dtype=np.float64)


def _sticking_ratio(history: History, setup: Description) -> FloatArray:
    """What has frozen to the tip holds as much as that area of the strongest layer of the strip."""
    area = 0.25 * math.pi * history["tip_melt_diameter_m"] ** 2
    strongest = max(one.material.tensile_strength_Pa or UNKNOWN_STRENGTH_PA for one in setup.strip)
    return np.asarray(area * strongest / setup.force_N)


def _through_ratio(history: History, setup: Description) -> FloatArray:
    return np.asarray(history["strip_hole_m"] / strip_m(setup))


def _indentation_share(history: History, setup: Description) -> FloatArray:
    return np.asarray(history["indentation_m"] / strip_m(setup))


FIGURES = (
    joint_figure(
        "hottest_K",
        "Peak temperature",
        "K",
        "Highest temperature of any cell of the grid",
        column="hottest_K",
        course=lambda history, _: history["hottest_K"],
        row="Peak temperature",
    ),
    joint_figure(
        "can_penetration",
        "Melted share of the can wall",
        "share",
        "Largest share of the wall's thickness that is molten at one time, in any column",
        column="can_penetration",
        course=lambda history, _: history["can_penetration"],
        grid_low=0.03,
        weight="headline",
        beyond="can penetration limit",
        row="Wall",
        words="{} melted at the deepest",
    ),
    joint_figure(
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
    joint_figure(
        "strip_penetration",
        "Melted share of the strip under the tip",
        "share",
        "Largest share of the strip's thickness that is molten at one time under the tip",
        column="strip_penetration",
        course=lambda history, _: history["strip_penetration"],
        row="Strip",
        words="{} melted",
    ),
    joint_figure(
        "strip_through_ratio",
        "Strip melted through, width over thickness",
        "1",
        "Diameter of the widest round hole that has room in the melt through the strip, over its thickness",
        read=lambda reading: float(_through_ratio(reading.history, reading.setup).max()),
        course=_through_ratio,
        beyond="hole in the strip",
        row="Strip",
        words="molten through over {} thicknesses",
        optional=True,
    ),
    joint_figure(
        "tip_melt_diameter_m",
        "Melt at the tip",
        "m",
        "Diameter of the circle with the area on which the tip touches molten strip at one time",
        column="tip_melt_diameter_m",
        course=lambda history, _: history["tip_melt_diameter_m"],
        row="Melt at the tip",
    ),
    joint_figure(
        "tip_melt_s",
        "Melt at the tip lasts",
        "s",
        "Time for which the tip touches molten strip",
        read=lambda reading: time_above(reading.time_s, reading.history["tip_melt_diameter_m"], LEAST_MELT_M),
        row="Melt at the tip",
        words="for {}",
        optional=True,
    ),
    joint_figure(
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
    joint_figure(
        "indentation_m",
        "Indentation",
        "m",
        "Depth to which a rounded tip sinks into the strip: (a^2 - b^2) / (2 R), a its contact radius, b that"
        " of its worn flat, R of its dome",
        column="indentation_m",
        course=lambda history, _: history["indentation_m"],
        row="Indentation",
    ),
    joint_figure(
        "indentation_share",
        "Indentation over strip thickness",
        "share",
        "Share of the strip's thickness to which a rounded tip sinks in",
        read=lambda reading: float(_indentation_share(reading.history, reading.setup).max()),
        course=_indentation_share,
        beyond="indentation limit",
        row="Indentation",
        words="{} of the strip",
    ),
    joint_figure(
        "strip_left_m",
        "Strip left under the tip",
        "m",
        "Thickness of the strip less the indentation",
        read=lambda reading: strip_m(reading.setup) - float(reading.history["indentation_m"].max()),
        falls=True,
        course=lambda history, setup: strip_m(setup) - history["indentation_m"],
        row="Indentation",
        words="{} left",
    ),
    joint_figure(
        "strip_molten_beside_tip",
        "Strip melted through beside the tip",
        "yes/no",
        "Whether melt reaches through the whole strip where no tip chills it",
        read=lambda reading: _through("strip_beside_tip", reading),
        course=lambda history, _: _through_margin(history["strip_beside_tip"]),
    ),
    joint_figure(
        "expulsion",
        "Expulsion",
        "yes/no",
        "Whether the rim of a contact at its cap is molten, or metal boils",
        read=lambda reading: bool(reading.history["rim_molten"].any()) or _boils(reading, "vapour_J"),
        course=_expulsion_margin,
        beyond="expulsion",
        row="Expulsion",
        words="yes: melt at the contact rim, or boiling",
        absent="none",
    ),
    joint_figure(
        "burn_through",
        "Burn-through",
        "yes/no",
        "Whether the wall is molten to its inner face, or boils",
        read=lambda reading: _through("can_penetration", reading) or _boils(reading, "wall_vapour_J"),
        course=_burn_margin,
        grid_low=0.015,
        beyond="burn-through",
        row="Burn-through",
        words="yes",
        absent="none",
    ),
    joint_figure(
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
)
