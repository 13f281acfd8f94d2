"""Random setups of the bench: answered or refused by name, and nothing is lost on the way."""

from __future__ import annotations

import pytest
from random_setups import CIRCUIT, ENERGY, LONGEST_S, tried

FIRST, COUNT = 100_000, 60
"""Seeds that nobody has tuned anything by."""
MOST_BEYOND = 1
"""Of 60 setups one may pass the bound on the circuit: 99 of 100 have to keep it."""


@pytest.mark.fuzz
def test_random_setups_are_answered_or_refused_by_name() -> None:
    found = [tried(seed) for seed in range(FIRST, FIRST + COUNT)]
    assert [one for one in found if one.outcome not in ("answered", "refused")] == []
    assert [one for one in found if one.cpu_s > LONGEST_S] == []
    answered = [one for one in found if one.outcome == "answered"]
    assert len(answered) > 0.9 * COUNT
    assert [one for one in answered if one.energy > ENERGY or one.peak_K > 0.0] == []
    assert len([one for one in answered if one.circuit > CIRCUIT]) <= MOST_BEYOND
    assert all(one.circuit < 10.0 * CIRCUIT for one in answered)
