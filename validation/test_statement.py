"""Statements of few welds against many that are counted."""

from __future__ import annotations

import pytest

from validation.statement_cost import against_plain

QUICK = ("numerics.refinement=0.5", "numerics.tolerance=4 K")


@pytest.mark.full
@pytest.mark.parametrize("duration", ["2 ms", "2.5 ms", "3 ms"])
def test_no_statement_is_on_the_unsafe_side_of_what_is_counted(duration: str) -> None:
    """Eight sets of 32 welds; neither harm nor the joint by more than five points beyond its interval."""
    assert against_plain(256, 1, [f"pulse.0.duration={duration}", *QUICK]) == 0
