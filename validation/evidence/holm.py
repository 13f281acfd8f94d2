"""Holm's constriction of a disc on a half space, by the model's own operator and contact edge."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nugget.contact.edge_correction import resolved_radius
from nugget.contact.spot import coverage
from nugget.field.electric import ElectricalContact, ElectricField
from validation import rig
from validation.case import Check, Drawing, Outcome, at_most, reported
from validation.evidence.piece import Piece

LIMIT = 0.01
RHO, A = 7.2e-8, 1e-4
FAR = 400.0
"""Radius and length of each tube in contact radii: what it lacks of a half space is 0.35 %."""
TUBE_SLOPE = 1.40925
"""Constriction in a tube of radius b is rho / (4 a) (1 - 1.40925 a / b + ...) (Roess 1950, from memory;
case 2-constriction recomputes the whole curve: 0.92958 at a / b = 0.05)."""
CELLS = (4, 6, 8, 12, 16, 24)
SHARES = (0.0, 0.25, 0.5, 0.75)


def ratio(cells: int, share: float, corrected: bool = True) -> float:
    """Constriction resistance over Holm's rho / (4 a) for one side.

    Cells of one size out to 1.5 a and growing beyond, as in the model; `share` of the edge cell
    lies within the contact radius.
    """
    fine = A / (cells + share)
    flat = fine * np.arange(math.ceil(1.5 * cells) + 1)
    far = FAR * A
    r = np.concatenate([flat, rig.graded([flat[-1], far], lambda x: fine + 0.06 * (x - flat[-1]))[1:]])
    up = rig.graded([0.0, far], lambda z: fine + 0.06 * z)
    metal = rig.matter(rho=RHO)
    layers = [("can", metal, -up[::-1], far), ("strip", metal, up, far)]
    grid = rig.layered(r, layers, [rig.contact(len(up) - 2, len(r) - 1, A)], bottom="holder")
    radius = resolved_radius(A, r, float(up[1])) if corrected else A
    electrical_contact = ElectricalContact(coverage(radius, r), np.full(grid.shape[1], 1e-18))
    solution = ElectricField(grid).solve(np.full(grid.shape, 1.0 / RHO), [electrical_contact])
    constriction = 0.5 * solution.resistance_ohm - RHO * far / (math.pi * far**2)
    return constriction / (RHO / (4.0 * A) * (1.0 - TUBE_SLOPE / FAR))


def run(workers: int) -> Outcome:
    checks: list[Check] = []
    for share in SHARES:
        value = ratio(8, share)
        name = f"8 cells per radius (the model's), edge cell covered by {share:g}"
        checks.append(at_most(name, abs(value - 1.0), LIMIT, "", f"{value:.5f} of rho / (4 a)"))
    rows = {
        "with the model's edge": [ratio(n, 0.5) - 1.0 for n in CELLS],
        "plain coverage": [ratio(n, 0.5, False) - 1.0 for n in CELLS],
    }
    for name, errors in rows.items():
        for n, error in zip(CELLS, errors, strict=True):
            checks.append(reported(f"error with {n} cells per radius, half-covered edge cell, {name}", error))
    caption = "Error of the constriction resistance against cells per contact radius."
    return Outcome(tuple(checks), (Drawing("constriction", caption, lambda: _draw(rows)),))


def _draw(rows: dict[str, list[float]]) -> Any:
    from validation.drawing import axes

    figure, ax = axes("cells per contact radius", "relative error")
    for (name, errors), mark in zip(rows.items(), ("o-", "s--"), strict=True):
        ax.loglog(CELLS, np.abs(errors), mark, label=name)
    ax.axhline(LIMIT, color="0.3", lw=0.8, label="limit")
    ax.legend()
    return figure


PIECE = Piece(
    name="holm",
    title="Constriction of a disc on a half space",
    what="Two tubes of 400 contact radii that touch on a disc, the metal's way through the tubes and the "
    "known share that a tube lacks of a half space taken off; cells as the model lays them around a first "
    "contact, its partly covered interface and its treatment of the contact edge "
    "(`nugget.contact.edge_correction.resolved_radius`). Against Holm's rho / (4 a) for one side "
    "(Electric Contacts, 4th ed., Springer 1967).",
    run=run,
)
