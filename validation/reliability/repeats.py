"""The same weld many times in one process."""

from __future__ import annotations

import json
import os
from pathlib import Path

from nugget.outcome.weld import run_weld
from nugget.setup import default_setup
from validation.case import Outcome, at_most, reported
from validation.evidence.piece import Piece

MARCHES = 301
SETTLED = 10
"""Simulations after which caches are full."""
GROWTH_BYTES = 1e6
DESCRIPTORS = Path("/proc/self/fd")


def run(_: int) -> Outcome:
    setup = default_setup(["numerics.refinement=0.25", "pulse.0.duration=0.3 ms", "numerics.tolerance=10 K"])
    answers, sizes, files = set[str](), [], []
    for _ in range(MARCHES):
        answers.add(json.dumps(run_weld(setup).figures, sort_keys=True))
        sizes.append(resident())
        files.append(len(list(DESCRIPTORS.iterdir())) if DESCRIPTORS.exists() else 0)
    growth = max(0.0, sizes[-1] - sizes[SETTLED])
    return Outcome(
        (
            reported("simulations", MARCHES),
            at_most("distinct answers besides the first", len(answers) - 1, 0.0),
            at_most(f"memory that grows after the first {SETTLED}", growth, GROWTH_BYTES, "byte"),
            at_most("descriptors that stay open", files[-1] - files[SETTLED], 0.0),
        )
    )


def resident() -> float:
    """Memory of this process [byte]; 0 where the system does not say so."""
    place = Path("/proc/self/statm")
    return float(int(place.read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")) if place.exists() else 0.0


PIECE = Piece(
    name="repeats",
    title="Repetition",
    what="One answer, bit for bit, and no memory that grows, however often a weld is run in one process.",
    run=run,
)
