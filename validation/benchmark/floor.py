"""The march against the banded factorisations and solves in it."""

from __future__ import annotations

import statistics

from nugget.field.banded import BandedOperator
from nugget.outcome.weld import march_weld
from nugget.setup import default_setup
from validation.benchmark.timing import clocked, medians, seconds
from validation.case import Check, Outcome, at_most
from validation.evidence.piece import Piece, reported

MOST = 1.6
AIM_S = 0.25


def run(repeats: int) -> Outcome:
    setup = default_setup()
    march_weld(setup)
    whole, least, most = medians(lambda: march_weld(setup), repeats)
    ratios, shares = [], []
    for _ in range(repeats):
        with clocked((BandedOperator, "factor"), (BandedOperator, "solve")) as (factor, solve):
            taken = seconds(lambda: march_weld(setup))
        ratios.append(taken / (factor.seconds + solve.seconds))
        shares.append((factor.seconds, solve.seconds))
    weld = march_weld(setup)
    steps = f"{weld.figures['steps']} steps, {weld.figures['cells']} cells"
    factor_s, solve_s = (statistics.median(times) for times in zip(*shares, strict=True))
    checks: list[Check] = [
        at_most("march over its factorisations and solves", statistics.median(ratios), MOST),
        reported("default march with cool-down", whole, "s", f"{steps}; {least:.2f} to {most:.2f} s"),
        reported("the same over the aim of 0.25 s", whole / AIM_S),
        reported("factorisations", factor_s, "s", f"{factor.calls} of them"),
        reported("solves", solve_s, "s", f"{solve.calls} of them"),
        reported("factorisation, mean", 1e3 * factor_s / factor.calls, "ms"),
        reported("solve, mean", 1e3 * solve_s / solve.calls, "ms"),
    ]
    return Outcome(tuple(checks))


PIECE = Piece(
    name="floor",
    title="The march against its floor",
    what="Default weld on the standard grid with cool-down (`march_weld`): wall time over the time spent in "
    "LAPACK's banded factorisations and solves of the same march (matrix filling included). The bar is the "
    "project's; so is the aim of 0.25 s.",
    run=run,
)
