"""Random setups that a bench could have."""

from __future__ import annotations

import importlib
import sys
import time
from typing import Any

from validation.case import Outcome, at_least, at_most, reported
from validation.evidence.piece import Piece
from validation.readers import markdown
from validation.reliability.counting import ROOT

LONGEST_S = 1200.0
"""After this no further setup is begun; the number of those that were is reported."""
ANSWERED, CIRCUIT_KEPT = 0.995, 0.99
AT_ENDS = 80
"""Setups with numbers at the ends of what a setup file may hold."""


def run(count: int) -> Outcome:
    sys.path.insert(0, str(ROOT / "tests"))
    try:
        generator: Any = importlib.import_module("random_setups")
    finally:
        sys.path.pop(0)
    began, found = time.monotonic(), []
    for seed in range(count):
        if time.monotonic() - began > LONGEST_S:
            break
        found.append(generator.tried(seed))
    ends = [generator.tried(seed, ends=True) for seed in range(AT_ENDS)]
    answered = [one for one in found if one.outcome == "answered"]
    good = sum(one.outcome in ("answered", "refused") for one in found)
    kept = sum(one.circuit <= generator.CIRCUIT for one in answered)
    bad = [one for one in found if one.outcome not in ("answered", "refused")]
    bad += [one for one in answered if one.energy > generator.ENERGY or one.circuit > generator.CIRCUIT]
    bad += (unanswered := [one for one in ends if one.outcome not in ("answered", "refused")])
    table = [(f"{b.seed}", b.outcome, f"{b.energy:.1e}", f"{b.circuit:.1e}", b.said) for b in bad]
    return Outcome(
        (
            reported("setups tried", len(found), "", f"{len(answered)} answered, of seeds from 0"),
            at_least("answered, or refused by name", good / len(found), ANSWERED, "share"),
            at_most(
                "longest simulation", max(one.cpu_s for one in found), generator.LONGEST_S, "s of one core"
            ),
            at_most("largest energy residual", max(one.energy for one in answered), generator.ENERGY),
            at_most("reported peak above all of the history", max(one.peak_K for one in answered), 0.0, "K"),
            at_least("circuit residual below 1e-4", kept / len(answered), CIRCUIT_KEPT, "share"),
            reported("largest circuit residual", max(one.circuit for one in answered)),
            at_most(
                "with numbers at the ends of their ranges: neither answered nor refused by name",
                len(unanswered),
                0.0,
                "setups",
                f"{AT_ENDS} tried, {sum(one.outcome == 'answered' for one in ends)} answered",
            ),
        ),
        text=markdown(("seed", "outcome", "energy", "circuit", "said"), table) if table else "",
    )


PIECE = Piece(
    name="setups",
    title="Random setups",
    what="Wide but plausible setups at a refinement of 0.3, every warning an error: an answer whose balances"
    " close, or a refusal by name.",
    run=run,
)
