"""A strip of this package gives a weld prediction, and the answer names where its data come from."""

from __future__ import annotations

import json

import pytest

from nugget.cli.main import main

COARSE = ["--no-plots", "--json", "--set", "numerics.refinement=0.25", "--set", "numerics.tolerance=20 K"]
COARSE += ["--set", "numerics.max_time=0.05 s", "--set", "pulse.0.duration=1 ms"]


@pytest.mark.parametrize("name", ["phosphor-bronze-c519", "cuni-90-10", "nickel-plated-bronze"])
def test_a_weld_is_predicted_with_data_that_are_cited(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pulse", "--set", f"strip.material={name}", *COARSE]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["peak_current_A"] > 0.0
    assert "data sheet" in json.dumps(answer["data_sources"]) or name == "cuni-90-10"
    assert "estimated" in json.dumps(answer["data_sources"])
