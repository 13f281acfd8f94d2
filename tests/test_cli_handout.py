"""The shipped examples are copied out whole, and never over a file of the user's."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from nugget.cli.main import main
from nugget.setup import default_setup
from nugget.study.calibration.trial_table import read_trials

SCRIPTS = ["calibrating", "first_weld", "growth_and_window", "margins_for_a_pack", "own_material"]
NAMES = [*(f"{name}.py" for name in SCRIPTS), "trials_logger.csv", "trials_logger_scope.csv"]
TRIALS, TRACE = NAMES[-2:]


def test_they_are_copied_and_can_be_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    for _ in range(2):
        assert main(["handout"]) == 0
        assert capsys.readouterr().out.startswith("Copied: " + ", ".join(NAMES))
    assert sorted(os.listdir()) == NAMES
    assert read_trials(Path(TRIALS), default_setup())
    assert main(["handout", "--out", "new/folder"]) == 0
    assert sorted(os.listdir("new/folder")) == NAMES


def test_another_file_of_that_name_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path(TRACE).write_text("mine")
    assert main(["handout"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert os.listdir() == [TRACE]
    assert Path(TRACE).read_text() == "mine"
