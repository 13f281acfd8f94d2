"""The built-in figures of merit, section by section; importing this room declares them.

A new figure is one entry in one of these modules. A limit on it is one entry in
``nugget/setup/data/limits.toml``; nothing else has to change.
"""

from nugget.merit.figure import FIGURES, Figure, register_figure
from nugget.merit.limit import Limit
from nugget.outcome.registry import (
    circuit_figures,
    damage_figures,
    interior_figures,
    joint_figures,
    march_figures,
)

__all__ = ["FIGURES", "SECTIONS", "Figure", "Limit", "register_figure"]

SECTIONS = {
    "weld": "What was welded",
    "source": "What the source delivered",
    "joint": "Joint",
    "interior": "Interior of the cell",
    "hardware": "Hardware",
    "numerics": "Data and numerics",
}
"""Headings by section, in the order of the report."""

for _figure in (
    *march_figures.WELD,
    *joint_figures.FIGURES,
    *damage_figures.FIGURES,
    *joint_figures.STRENGTH,
    *interior_figures.FIGURES,
    *circuit_figures.HARDWARE,
    *circuit_figures.SOURCE,
    *march_figures.MARCH,
):
    FIGURES.add(_figure)
