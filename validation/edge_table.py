"""Computes the table by which the edge of a contact is widened: ``python -m validation.edge_table``.

On a grid, a disc conducts less than it should, as its flux is singular at the edge (theory: contact). For
each place of the edge in its cell and each ratio of cell height to width, this finds the extra radius, in
cell heights, with which a plain five-point scheme gives the exact resistance of the disc in a tube. It uses
nothing of the package, and writes ``validation/data/contact_edge.csv``, from which the peers read too;
``nugget/contact/edge_correction.py`` holds the same numbers.
"""

from __future__ import annotations

import math
import sys
from functools import cache

import numpy as np
from scipy.optimize import brentq

from validation.peers.tube import covered, five_point, psi
from validation.readers import DATA

POSITIONS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.55, 0.6, 0.65, 0.7, 0.75, 0.8, 0.9, 1.0)
ASPECTS = (1.0, 1.4, 2.0)
CELLS = 12
"""Whole cells within the contact; the table hardly changes with it."""
TUBE = 4
"""Radius of the tube, and its length, in contact radii."""


@cache
def exact(eps: float) -> float:
    """Constriction factor, see `psi`."""
    return psi(eps)


def extra(position: float, aspect: float, cells: int = CELLS) -> float:
    """Extra radius in cell heights for an edge at `position` in the cell after `cells` whole ones."""
    radius, columns = cells + position, TUBE * cells
    rows = math.ceil(columns / aspect)
    faces = np.arange(columns + 1.0)
    length = rows * aspect
    wanted = length / (math.pi * columns**2) + exact(radius / columns) / (4.0 * radius)

    def miss(more: float) -> float:
        return five_point(covered(radius + more * aspect, faces), aspect, rows) / wanted - 1.0

    return float(brentq(miss, -0.5, 1.5, xtol=1e-6))


def main() -> int:
    """Compute the table, print it and write the file."""
    lines = [
        "# Extra radius of a contact in cell heights, by height over width of the cells (rows) and place of",
        "# the edge in its cell (columns). Written by python -m validation.edge_table.",
        "aspect," + ",".join(f"{p:g}" for p in POSITIONS),
    ]
    for aspect in ASPECTS:  # an edge at the outer face of a cell is one at the inner face of the next
        lines.append(f"{aspect:g}," + ",".join(f"{extra(p % 1.0, aspect):.3f}" for p in POSITIONS))
        print(lines[-1])
    (DATA / "contact_edge.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
