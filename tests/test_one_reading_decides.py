"""The default weld is not decided as it comes; the record of one weld on a scope decides it."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

import nugget
from nugget.setup import default_setup
from nugget.study.calibration.fit_record import machine_toml

MANY_WELDS = True
TRACE = "trials_logger_scope.csv"


@pytest.mark.full
def test_one_trace_decides_the_default_weld(tmp_path: Path) -> None:
    before = nugget.judge(default_setup()).statement
    assert before.verdict == "uncertain"
    assert before.advice, "what to measure is named"
    (tmp_path / TRACE).write_bytes((files("nugget.examples") / TRACE).read_bytes())
    table = tmp_path / "trials.csv"
    table.write_text(f"cell,duration,trace\ncoupon,1.5 ms,{TRACE}\n", encoding="utf-8")
    found = nugget.calibrate(default_setup(), table, advice=False)
    assert found.state == "fitted"
    machine = tmp_path / "machine.toml"
    machine.write_text(machine_toml(found, table.name), encoding="utf-8")
    assert nugget.judge(nugget.load_setup(machine)).statement.verdict == "in window"
