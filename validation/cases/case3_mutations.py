"""Case 3, mutations: with one term of the model switched off, the case that is named notices."""

from __future__ import annotations

from nugget.errors import NuggetError
from validation.case import Case, Check, Outcome, holds
from validation.mutations import MUTATIONS
from validation.readers import markdown

MATRIX = (
    *("2-kohlrausch", "2-slabs", "2-joule-annulus", "2-wire", "2-force", "2-sheet", "2-neumann", "3-balance"),
    *("4-cross-check", "4-cross-check-boiling", "4-fipy-opposed", "4-fipy-series"),
)
"""What the full run tries beside the case that is named."""


def _cases() -> dict[str, Case]:
    from validation.discover import all_cases

    return {case.key: case for case in all_cases()}


def _passes(case: Case) -> bool:
    """Whether no check fails on the model as it is."""
    from validation.discover import outcome_of

    return not any(check.failed for check in outcome_of(case).checks)


def _notices(case: Case) -> str:
    """The first check that fails on the mutated model, or the error that stops it; else empty."""
    try:
        return next((check.name for check in case.run().checks if check.failed), "")
    except (NuggetError, ArithmeticError, ValueError) as failure:
        return f"stopped: {failure}"


def run_named() -> Outcome:
    cases, checks = _cases(), list[Check]()
    for key in dict.fromkeys(mutation.caught_by for mutation in MUTATIONS.values()):
        checks.append(holds(f"{key} passes on the model as it is", _passes(cases[key])))
    for term, mutation in MUTATIONS.items():
        with mutation.switch():
            first = _notices(cases[mutation.caught_by])
        checks.append(holds(f"without {term}, {mutation.caught_by} fails", bool(first), first or "unnoticed"))
    return Outcome(tuple(checks))


def run_matrix() -> Outcome:
    cases = {key: case for key, case in _cases().items() if key in MATRIX}
    sound = {key for key, case in cases.items() if _passes(case)}
    checks = [
        holds("the cases pass on the model as it is", sound == set(cases), f"{len(sound)} of {len(cases)}")
    ]
    body = []
    for term, mutation in MUTATIONS.items():
        with mutation.switch():
            caught = {key: bool(_notices(case)) for key, case in cases.items()}
        by = [key for key, notices in caught.items() if notices and key in sound]
        # What the fields do not contain is noticed by the case that is named for it alone.
        if mutation.caught_by in cases:
            told = "caught by " + (", ".join(by) or "none")
            checks.append(holds(f"without {term} the suite fails", bool(by), told))
        body.append((term, *("fails" if caught[key] else "passes" for key in cases)))
    return Outcome(tuple(checks), text=markdown(("term switched off", *cases), body))


TERMS = ", ".join(MUTATIONS)
CASES = (
    Case(
        key="3-mutations",
        title="Mutation checks",
        claim=f"Without any one of these the case that is named for it fails: {TERMS}.",
        source="The model with one term switched off or wrong at a time.",
        tolerance="The named case passes on the model as it is, and fails on the mutated one.",
        run=run_named,
    ),
    Case(
        key="3-mutations-all",
        title="Mutation checks with balances and the independent assembly",
        claim="Which of the exact solutions, balances and independent solvers notice each mutation.",
        source="As before, with the balances and the independent assembly as further judges.",
        tolerance="At least one case that passes on the whole model must fail on each mutated one.",
        run=run_matrix,
        quick=False,
    ),
)
