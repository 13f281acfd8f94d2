"""The simulation against the banded factorisations and solves in it."""

from __future__ import annotations

import statistics
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.field.checkerboard import CheckerboardFactors, CheckerboardSolver
from nugget.field.fastest import fastest_solver
from nugget.outcome.weld import run_weld
from nugget.setup import Setup, default_setup
from nugget.weld.model import WeldModel
from validation.benchmark.plain import PlainBand
from validation.benchmark.timing import clocked, march, medians, seconds
from validation.case import Check, Outcome, at_most, reported
from validation.evidence.piece import Piece

MOST = 1.6
AIM_S, COARSER_AIM_S = 0.45, 0.20
COARSER = 0.7
"""Refinement whose grid errs by 2 %."""


def run(repeats: int) -> Outcome:
    setup = default_setup()
    operands = _operands(setup)
    whole, least, most = medians(lambda: run_weld(setup), repeats)
    coarse = setup.with_({"numerics.refinement": COARSER})
    coarser, *_ = medians(lambda: run_weld(coarse), repeats)
    ratios, plain_ratios, shares = [], [], []
    for _ in range(repeats):
        with clocked(*_own()) as (factor, solve):
            taken = seconds(lambda: run_weld(setup))
        ratios.append(taken / (factor.seconds + solve.seconds))
        shares.append((factor.seconds, solve.seconds))
        plain_ratios.append(taken / _plain_seconds(operands))
    weld = run_weld(setup)
    steps = f"{weld.figures['steps']} steps, {weld.figures['cells']} cells"
    factor_s, solve_s = (statistics.median(times) for times in zip(*shares, strict=True))
    checks: list[Check] = [
        at_most("simulation over as many plain banded factorisations", statistics.median(plain_ratios), MOST),
        reported("simulation over its own factorisations and solves", statistics.median(ratios)),
        reported("default simulation with cool-down", whole, "s", f"{steps}; {least:.2f} to {most:.2f} s"),
        reported("the same over the aim of 0.45 s", whole / AIM_S),
        reported(f"the same at refinement {COARSER:g}", coarser, "s", f"aim {COARSER_AIM_S:g} s"),
        reported("factorisations", factor_s, "s", f"{factor.calls} of them"),
        reported("solves", solve_s, "s", f"{solve.calls} of them"),
        reported("factorisation, mean", 1e3 * factor_s / factor.calls, "ms"),
        reported("solve, mean", 1e3 * solve_s / solve.calls, "ms"),
    ]
    return Outcome(tuple(checks))


def _own() -> tuple[tuple[type, str], tuple[type, str]]:
    """What factors and what solves in this process."""
    solver = fastest_solver(2, 2)
    factors = solver.factor(np.full((2, 2), 5.0), np.ones((2, 1)), np.ones((1, 2)))
    return (type(solver), "factor"), (type(factors), "solve")


def _operands(setup: Setup) -> list[tuple[Any, ...]]:
    """What the solvers were given in one run, in order: which one, and a matrix or a right-hand side."""
    taken: list[tuple[Any, ...]] = []

    class Noting(CheckerboardSolver):
        def factor(self, *matrix: FloatArray) -> Any:
            taken.append((self, *(part.copy() for part in matrix)))
            return NotingFactors(self, super().factor(*matrix))

    class NotingFactors:
        def __init__(self, solver: Noting, factors: CheckerboardFactors) -> None:
            self.solver, self.factors = solver, factors

        def solve(self, side: FloatArray) -> FloatArray:
            taken.append((self.solver, side.copy()))
            return self.factors.solve(side)

    march(setup, WeldModel(setup, solver=Noting))
    return taken


def _plain_seconds(operands: list[tuple[Any, ...]]) -> float:
    """Time of the same factorisations and solves by LAPACK's banded Cholesky on every cell [s]."""
    plain: dict[int, PlainBand] = {}
    total = 0.0
    for operator, *given in operands:
        band = plain.setdefault(id(operator), PlainBand(given[0].shape))
        total += seconds(
            lambda band=band, given=given: band.factor(*given) if given[1:] else band.solve(*given)
        )
    return total


PIECE = Piece(
    name="floor",
    title="The simulation against its floor",
    what="Default weld on the standard grid with cool-down (`run_weld`): wall time over the time that "
    "LAPACK's banded Cholesky takes, in the same run, for as many factorisations and solves of the same "
    "matrices (filling included). The limit is a multiple of that floor; the aim of 0.45 s is a choice. The "
    "solver itself has since gone below it by eliminating every second cell first; its own time is "
    "reported.",
    run=run,
)
