"""Find the cases: every module of `validation.cases` that holds a tuple ``CASES``."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache, lru_cache

from validation import cases
from validation.case import Case, Outcome

GROUPS = {
    "1": "Handbook properties",
    "2": "Exact solutions",
    "3": "Order and conservation",
    "4": "Independent solvers",
    "5": "Published weld schedules",
    "6": "Trends stated in the literature",
    "7": "Uncertainty",
}


@lru_cache(maxsize=1)
def all_cases() -> tuple[Case, ...]:
    """Return every case in order of its key's group; a key may occur only once."""
    found: list[Case] = []
    for module in sorted(m.name for m in pkgutil.iter_modules(cases.__path__)):
        found += importlib.import_module(f"validation.cases.{module}").CASES
    keys = [case.key for case in found]
    double = sorted({key for key in keys if keys.count(key) > 1})
    if double:
        raise ValueError(f"case keys used twice: {', '.join(double)}")
    return tuple(sorted(found, key=lambda case: case.key[0]))


@cache
def outcome_of(case: Case) -> Outcome:
    """Run a case on the model as it is, once in a process."""
    return case.run()
