"""Heat in the whole cell after a pair of spots against finite elements in space."""

from __future__ import annotations

import math

import numpy as np

from nugget.whole_cell import Part, WholeCell, respond
from validation.case import Check, Outcome, at_most
from validation.evidence.piece import Piece
from validation.whole_cell_fem import pair

LIMIT = 0.05
ELEMENTS = (30, 10)
RADIUS_M, PATCH_M = 2.5e-3, 0.7e-3
TIMES_S = np.array([0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0])


def _cell() -> WholeCell:
    """An 18650 cell by rounded numbers: steel base and side, a millimetre of soaked film, the roll."""
    height, wall_m, radius, inner, steel = 65e-3, 0.3e-3, 9.1e-3, 8.8e-3, 3.6e6
    low = height - wall_m
    return WholeCell(
        (
            Part("wall", 0.0, radius, low, height, steel, 50.0, 50.0),
            Part("side", inner, radius, 0.0, low, steel, 50.0, 50.0),
            Part("separator", 0.0, inner, low - 1e-3, low, 2e6, 0.33, 0.33),
            Part("roll", 0.0, inner, 0.0, low - 1e-3, 2.5e6, 1.0, 13.6),
        ),
        0.0,
    )


def run(workers: int) -> Outcome:
    cell = _cell()
    theirs = pair(cell, RADIUS_M, PATCH_M, TIMES_S, "separator", ELEMENTS)
    ours = respond(cell, RADIUS_M, PATCH_M, ("separator",))
    checks: list[Check] = []
    for face, name in (("wall", "welded wall"), ("separator", "top of the film below it")):
        here, there = (ours.rise(face, RADIUS_M, angle, TIMES_S) for angle in (0.0, math.pi))
        found = here + there
        for time, one, two in zip(TIMES_S, found, theirs[face], strict=True):
            note = f"{one:.3f} and {two:.3f} K/J"
            checks.append(at_most(f"{name}, {time:g} s", abs(one / two - 1.0), LIMIT, "", note))
    return Outcome(tuple(checks))


PIECE = Piece(
    name="whole_cell",
    title="Heat in the whole cell after a pair of spots",
    what="Rise at one of two opposite spots after a joule in each, from a tenth of a second to ten: "
    "harmonics of the angle on FiPy's operators against trilinear finite elements on a quarter of the cell "
    "in space (scikit-fem), which share nothing but the description of the parts. 5 %: the properties of a "
    "cell's interior are known no better than by tens of per cent.",
    run=run,
)
