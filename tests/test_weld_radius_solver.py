"""The search for the contact radius that answers itself."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from nugget.weld.radius_solver import SETTLED_RADIUS, ContactRadiusSolver

ANSWERS: dict[str, Callable[[float], float]] = {
    "wider is cooler": lambda a: 0.5e-3 * math.exp(-((a - 0.3e-3) / 0.2e-3)),
    "steep": lambda a: 0.4e-3 - 20.0 * (a - 0.4e-3),
    "hardly answers": lambda a: 0.45e-3 - 0.01 * a,
    "jumps over a ring of melt": lambda a: 0.6e-3 if a < 0.4e-3 else 0.2e-3,
}


def search(solver: ContactRadiusSolver, answer: Callable[[float], float]) -> int:
    for tries in range(60):
        if solver.settled(answer(solver.radius_m)):
            return tries
        solver.next(answer(solver.radius_m))
    raise AssertionError("never settled")


@pytest.mark.parametrize("name", ANSWERS)
@pytest.mark.parametrize("start", [0.1e-3, 0.4e-3, 0.74e-3])
def test_the_solverfinds_the_radius_that_answers_itself(name: str, start: float) -> None:
    """Or the jump, where the balance skips a radius."""
    answer, solver = ANSWERS[name], ContactRadiusSolver(start, 0.05e-3)
    assert search(solver, answer) < 25
    near = SETTLED_RADIUS * solver.radius_m
    jump = answer(solver.radius_m - near) > solver.radius_m > answer(solver.radius_m + near)
    assert jump or abs(answer(solver.radius_m) - solver.radius_m) < near


def test_the_solvernever_goes_below_its_floor() -> None:
    solver = ContactRadiusSolver(0.1e-3, 0.3e-3)
    assert solver.radius_m == 0.3e-3
    assert solver.next(0.05e-3) == 0.3e-3


def test_a_known_slope_saves_tries() -> None:
    first = ContactRadiusSolver(0.2e-3, 0.05e-3)
    tries = search(first, ANSWERS["wider is cooler"])
    assert search(ContactRadiusSolver(0.2e-3, 0.05e-3, first.response), ANSWERS["wider is cooler"]) <= tries
