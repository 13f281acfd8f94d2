"""The default weld is not decided as it comes; one reading of the bench without a weld decides it."""

from __future__ import annotations

from pathlib import Path

import pytest

import nugget
from nugget.setup import Setup, default_setup
from nugget.study.calibration.fit_record import machine_toml

MANY_WELDS = True


def calibrated(folder: Path, text: str) -> Setup:
    """The default setup with what one table of trials says."""
    table = folder / "trials.csv"
    table.write_text(text, encoding="utf-8")
    found = nugget.calibrate(default_setup(), table, advice=False)
    assert found.state == "fitted"
    machine = folder / "machine.toml"
    machine.write_text(machine_toml(found, table.name), encoding="utf-8")
    return nugget.load_setup(machine)


@pytest.mark.full
def test_a_cold_resistance_decides_the_default_weld(tmp_path: Path) -> None:
    before = nugget.judge(default_setup()).statement
    assert before.verdict == "uncertain"
    assert before.advice[0].key == "cold resistance", "it is what is named first"
    after = nugget.judge(calibrated(tmp_path, "cell,resistance\ncoupon,2.4 mohm\n")).statement
    assert after.verdict == "in window"
