"""The manual's "From trial welds to your own chart" does what it says: its commands run, in order."""

from __future__ import annotations

import math
import re
import shlex
import tomllib
from importlib.resources import files
from pathlib import Path

import pytest
from small import options

from nugget.cli.main import main
from nugget.manual import written
from nugget.setup import default_setup
from nugget.study.calibration.trial_table import read_trials
from nugget.study.inputs.uncertain import inputs_of
from validation.invented_trials import EXAMPLE, at_an_end

HEADING = "## From trial welds to your own chart\n"
COARSE = options("numerics.max_time=0.5 s")
SMALLER = {
    "calibrate": [*COARSE, "--workers", "1", "--fit", "contact.hardness_factor", "--no-plots"],
    "pulse": [*COARSE, "--set", "pulse.0.duration=1 ms", "--no-plots"],
    "chart": [
        *COARSE,
        "--workers",
        "1",
        "--vary",
        "strip.thickness=0.12 mm:0.18 mm:2",
        "--as-set-up",
        "--no-advice",
    ],
}
"""The same commands on a coarse grid: one input fitted to the shorter coupons, a chart of two columns."""


def blocks(language: str) -> list[str]:
    section = (written("howto-calibrate") or "").partition(HEADING)[2].partition("\n## ")[0]
    return re.findall(rf"```{language}\n(.*?)```", section, flags=re.DOTALL)


def test_the_commands_lead_from_trials_to_a_calibrated_chart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    (block,) = blocks("sh")
    first, *commands = [shlex.split(line) for line in block.splitlines()]
    assert first == ["nugget", "handout"]
    assert main(first[1:]) == 0
    trials = tmp_path / "trials_logger.csv"
    rows = trials.read_text(encoding="utf-8").splitlines()
    few = [row for row in rows if not row.startswith(("empty can", "coupon,1.5 ms", "coupon,2 ms"))]
    trials.write_text("\n".join(few), encoding="utf-8")
    assert len(few) == len(rows) - 7
    assert "no such welds were made" in capsys.readouterr().out
    assert [argv[:2] for argv in commands] == [["nugget", name] for name in SMALLER]
    for _, name, *rest in commands:
        assert main([name, *rest, *SMALLER[name]]) == 0, name
        assert "not a safe weld" in capsys.readouterr().out
    fitted = tomllib.loads((tmp_path / "nugget-default-machine.toml").read_text(encoding="utf-8"))
    assert set(fitted) == {"contact", "uncertainty"}
    assert fitted["uncertainty"]["fitted"]["fields"] == ["contact.hardness_factor"]
    hardness, left = fitted["contact"]["hardness_factor"], fitted["uncertainty"]["fitted"]["deviations"][0]
    assert abs(math.log(hardness / EXAMPLE["contact.hardness_factor"])) < 1.96 * left
    assert 0.67 < hardness < 1.5, "not beyond what was believed"
    assert {path.name for path in tmp_path.glob("*.png")} == {"nugget-default-chart.png"}


def test_the_table_that_it_shows_is_part_of_the_example(tmp_path: Path) -> None:
    (table,) = blocks("csv")
    lines = (files("nugget") / "examples" / "trials_logger.csv").read_text(encoding="utf-8").splitlines()
    assert set(table.splitlines()) <= set(lines)
    path = tmp_path / "trials.csv"
    path.write_text(table, encoding="utf-8")
    assert len(read_trials(path, default_setup())) == len(table.splitlines()) - 1


def test_its_numbers_hold_what_the_trials_were_drawn_with() -> None:
    """A line of the fit: title, value, the ends of its interval; in the units that are printed."""
    (text,) = blocks("text")
    setup = default_setup()
    titles = {one.title: one for one in inputs_of(setup).items}
    lines = text.splitlines()[1:]
    assert len(lines) >= 4
    for line in lines:
        item = next(one for title, one in titles.items() if line.startswith(title))
        numbers = line.removeprefix(item.title).replace("ohm m2", "")
        value, low, high = (float(v) for v in re.findall(r"\d[\d.]*(?:e-?\d+)?", numbers)[:3])
        true = item.axis.shown(EXAMPLE.get(item.path, item.own))
        assert at_an_end(item, EXAMPLE.get(item.path, item.own)) or low <= true <= high, line
        assert low < value < high
