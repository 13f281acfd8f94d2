"""A strip of this package gives a weld prediction, and the answer names where its data come from."""

from __future__ import annotations

import json

import pytest

import nugget
from nugget.outcome.record import data_sources

COARSE = {
    "numerics.refinement": 0.25,
    "numerics.tolerance": "20 K",
    "numerics.max_time": "0.05 s",
    "pulse.0.duration": "1 ms",
}


@pytest.mark.parametrize("name", ["phosphor-bronze-c519", "cuni-90-10", "nickel-plated-bronze"])
def test_a_weld_is_predicted_with_data_that_are_cited(name: str) -> None:
    weld = nugget.simulate(nugget.default_setup().with_({**COARSE, "strip.material": name}))
    assert weld.peak_current_A > 0.0
    sources = json.dumps(data_sources(weld.setup))
    assert "data sheet" in sources or name == "cuni-90-10"
    assert "estimated" in sources
