"""The same weld many times in one process."""

from __future__ import annotations

import json
import tracemalloc

from nugget.outcome.weld import run_weld
from nugget.setup import default_setup
from validation.case import Outcome, at_most, reported
from validation.evidence.piece import Piece

MARCHES = 10
GROWTH_BYTES = 1e6


def run(_: int) -> Outcome:
    setup = default_setup(["numerics.refinement=0.25", "pulse.0.duration=0.5 ms"])
    answers, sizes = set[str](), []
    tracemalloc.start()
    for _ in range(MARCHES):
        answers.add(json.dumps(run_weld(setup).figures, sort_keys=True))
        sizes.append(tracemalloc.get_traced_memory()[0])
    tracemalloc.stop()
    half = MARCHES // 2
    return Outcome(
        (
            reported("simulations", MARCHES),
            at_most("distinct answers besides the first", len(answers) - 1, 0.0),
            at_most("memory that grows, second half", max(0, sizes[-1] - sizes[half]), GROWTH_BYTES, "byte"),
        )
    )


PIECE = Piece(
    name="repeats",
    title="Repetition",
    what="One answer, bit for bit, and no memory that grows, however often a weld is run in one process.",
    run=run,
)
