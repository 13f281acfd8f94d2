"""Case 3, mutations: with one term of the model switched off, which case notices?"""

from __future__ import annotations

from collections.abc import Sequence

from nugget.errors import NuggetError
from validation.case import Case, Check, Outcome, holds
from validation.mutations import MUTATIONS

LIGHT = ("2-kohlrausch", "2-slabs", "2-joule-annulus", "2-wire", "2-force", "2-sheet")
HEAVY = (*LIGHT, "2-neumann", "3-balance", "4-fipy-opposed", "4-fipy-series")


def _run(keys: Sequence[str]) -> Outcome:
    from validation.discover import all_cases

    cases = [case for case in all_cases() if case.key in keys]
    sound = {case.key for case in cases if not any(check.failed for check in case.run().checks)}
    checks: list[Check] = []
    rows = [
        f"| term switched off | {' | '.join(case.key for case in cases)} |",
        "|---" * (len(cases) + 1) + "|",
    ]
    for term, switch in MUTATIONS.items():
        caught = {}
        with switch():
            for case in cases:
                caught[case.key] = _notices(case)
        by = [key for key, notices in caught.items() if notices and key in sound]
        checks.append(
            holds(f"without {term} the suite fails", bool(by), "caught by " + (", ".join(by) or "none"))
        )
        marks = ["fails" if caught[case.key] else "passes" for case in cases]
        rows.append(f"| {term} | {' | '.join(marks)} |")
    checks.append(holds("the cases pass on the model as it is", bool(sound), f"{len(sound)} of {len(cases)}"))
    return Outcome(tuple(checks), text="\n".join(rows))


def _notices(case: Case) -> bool:
    """Whether a case fails, or cannot even run, on the mutated model."""
    try:
        return any(check.failed for check in case.run().checks)
    except (NuggetError, ArithmeticError, ValueError):
        return True


CLAIM = "Without latent heat, interface heat, shunt, contact growth or Joule heat in the tip the suite fails."
CASES = (
    Case(
        key="3-mutations",
        title="Mutation checks on the fast cases",
        claim=CLAIM,
        source="The model with one term switched off at a time; exact solutions judge it.",
        tolerance="At least one case that passes on the whole model must fail on each mutated one.",
        run=lambda: _run(LIGHT),
    ),
    Case(
        key="3-mutations-all",
        title="Mutation checks with balances and the independent assembly",
        claim=CLAIM,
        source="As before, with the balances and the independent assembly as further judges.",
        tolerance="At least one case that passes on the whole model must fail on each mutated one.",
        run=lambda: _run(HEAVY),
        quick=False,
    ),
)
