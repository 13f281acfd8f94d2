"""Random setups of the bench: answered or refused by name, and nothing is lost on the way."""

from __future__ import annotations

import pytest
from random_setups import CIRCUIT, ENERGY, LONGEST_S, tried

COUNT = 100
FIRST = (100_000, 101_000)
"""Seeds that nobody has tuned anything by."""
MOST_BEYOND = COUNT // 100
"""99 of 100 setups have to keep the bound on the circuit."""
COUNT_AT_ENDS = 40


@pytest.mark.fuzz
@pytest.mark.parametrize("first", FIRST)
def test_random_setups_are_answered_or_refused_by_name(first: int) -> None:
    found = [tried(seed, short=True) for seed in range(first, first + COUNT)]
    assert [one for one in found if one.outcome not in ("answered", "refused")] == []
    assert [one for one in found if one.cpu_s > LONGEST_S] == []
    answered = [one for one in found if one.outcome == "answered"]
    assert len(answered) > 0.9 * COUNT
    assert [one for one in answered if one.energy > ENERGY or one.peak_K > 0.0] == []
    assert len([one for one in answered if one.circuit > CIRCUIT]) <= MOST_BEYOND
    assert all(one.circuit < 10.0 * CIRCUIT for one in answered)


@pytest.mark.fuzz
def test_setups_at_the_ends_of_their_ranges_are_answered_or_refused_by_name() -> None:
    found = [tried(seed, ends=True) for seed in range(40, 40 + COUNT_AT_ENDS)]
    assert [one for one in found if one.outcome not in ("answered", "refused")] == []
    assert [one for one in found if one.cpu_s > LONGEST_S] == []
    answered = [one for one in found if one.outcome == "answered"]
    assert len(answered) > 0.5 * COUNT_AT_ENDS
    assert [one for one in answered if one.energy > ENERGY or one.peak_K > 0.0] == []
