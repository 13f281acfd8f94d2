"""Statements of few welds against many that are counted."""

from __future__ import annotations

import pytest

from nugget.setup import default_setup
from validation.statement_against_plain import JOINT, compare, counted

QUICK = ("numerics.refinement=0.5", "numerics.tolerance=4 K")


@pytest.mark.full
@pytest.mark.parametrize("duration", ["2 ms", "2.5 ms", "3 ms"])
def test_no_statement_is_on_the_unsafe_side_of_what_is_counted(duration: str) -> None:
    """Eight sets of 32 welds; neither harm nor the joint by more than five points beyond its interval."""
    setup = default_setup([f"pulse.0.duration={duration}", *QUICK])
    found = compare(setup, counted(setup, 256, 1), 32)
    unsafe = {one.key: one.unsafe for one in found if one.key == JOINT or one.severity == "harm"}
    assert {JOINT, "harm"} <= set(unsafe)
    assert not any(unsafe.values()), unsafe
