"""The law and the limits of this package take part in a weld prediction."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from nugget.cli.main import main

SETUP = """
title = "Strip from the damp shed"
damage_limits = [
    { plugin = "separator-shutdown", options = { temperature_K = 400.0 } },
    { plugin = "negative-electrode" },
]

[contact.faying]
law = "tarnish"
options = { film_ohm_m2 = FILM, fading_K = 2000.0 }
"""
COARSE = ["--no-plots", "--json", "--set", "numerics.refinement=0.25", "--set", "numerics.tolerance=20 K"]
COARSE += ["--set", "numerics.max_time=0.05 s", "--set", "pulse.0.duration=1 ms"]


def predict(folder: Path, film: str, capsys: pytest.CaptureFixture[str]) -> dict[str, object]:
    path = folder / "shed.toml"
    path.write_text(SETUP.replace("FILM", film), encoding="utf-8")
    assert main(["pulse", str(path), *COARSE]) == 0
    found = json.loads(capsys.readouterr().out)
    assert isinstance(found, dict)
    return found


def test_a_tarnished_strip_takes_less_current_and_is_judged_by_both_limits(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    clean, tarnished = predict(tmp_path, "0.0", capsys), predict(tmp_path, "2e-11", capsys)
    assert tarnished["peak_current_A"] < clean["peak_current_A"]  # type: ignore[operator]
    limits = [one for one in tarnished["limits"] if one["figure"] == "interior_peak_K"]  # type: ignore[attr-defined]
    assert [one["limit"] for one in limits] == [403.15, 400.0]
