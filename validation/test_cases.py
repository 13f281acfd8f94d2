"""Every validation case as a test: the quick ones by default, the others with ``-m full``."""

from __future__ import annotations

import pytest

from validation.case import Case, Check
from validation.discover import all_cases, outcome_of


@pytest.mark.parametrize("case", all_cases(), ids=lambda case: case.key)
def test_case(case: Case) -> None:
    outcome = outcome_of(case)
    assert any(check.counts for check in outcome.checks), "a case without checks proves nothing"
    failed = [check for check in outcome.checks if check.failed]
    unexpected = [check for check in failed if not case.reason(check)]
    assert not unexpected, "; ".join(_line(check) for check in unexpected)
    if failed:
        pytest.xfail("; ".join(f"{check.name}: {case.reason(check)}" for check in failed))


def _line(check: Check) -> str:
    found = f"{check.value:.6g} for {check.reference:.6g}"
    return f"{check.name}: {found}, error {check.error:.3g} > {check.tolerance:g}"
