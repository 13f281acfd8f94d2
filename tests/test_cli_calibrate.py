"""``nugget calibrate`` from the command line: words, files, exit codes."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path

import pytest
from folders import visible
from invented_bench import fake
from small import options

from nugget.cli.main import main
from nugget.plot.fit_figure import calibration_figure
from nugget.study.calibration import marcher
from nugget.study.calibration.condition import Answer

DEMO = Path(str(files("nugget") / "examples" / "trials_logger.csv"))
PNG = b"\x89PNG\r\n\x1a\n"

QUICK = options("pulse.0.duration=0.1 ms", "leads.inductance=0 uH", "numerics.max_time=0.2 ms")


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(marcher, "answer", fake)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)


def test_it_prints_a_fit_and_writes_what_pulse_takes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["calibrate", str(DEMO), "--fit", "contact.hardness_factor"]) == 0
    printed = capsys.readouterr().out
    for words in (
        "16 welds, 1 scope trace,",
        "95 % interval",
        "spread left",
        "hardness",
        "What each kind of trial tells by itself",
        "peeled, peeled",
        "Assumed",
        "inner face, fitted",
    ):
        assert words in printed
    machine = tmp_path / "nugget-default-machine.toml"
    assert machine.read_text(encoding="utf-8").startswith("# What `nugget calibrate` found")
    assert (tmp_path / "nugget-default-calibration.png").read_bytes().startswith(PNG)
    assert not list(tmp_path.glob("*.jsonl"))
    assert main(["pulse", "--machine", str(machine), *QUICK, "--no-plots"]) == 0


def test_a_trace_needs_no_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    scope = DEMO.with_name("trials_logger_scope.csv")
    assert main(["calibrate", "--trace", str(scope), "--no-plots"]) == 0
    printed = capsys.readouterr().out
    assert "0 welds, 1 scope trace" in printed
    assert "from trials_logger_scope.csv" in (tmp_path / "nugget-default-machine.toml").read_text(
        encoding="utf-8"
    )


def test_a_resistance_needs_no_weld(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "t.csv").write_text("cell,resistance\ncoupon,2.4 mohm\n", encoding="utf-8")
    assert main(["calibrate", "t.csv", "--out", "here"]) == 0
    assert "0 welds, 0 scope traces" in capsys.readouterr().out
    assert set(visible(tmp_path / "here")) == {"calibration.json", "calibration.png", "machine.toml"}


def test_json_goes_to_stdout_alone(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    argv = ["calibrate", str(DEMO), "--fit", "contact.hardness_factor", "--json", "--out", "here"]
    assert main(argv) == 0
    record = json.loads(capsys.readouterr().out)
    assert record["state"] == "fitted"
    assert set(visible(tmp_path / "here")) == {
        "calibration.json",
        "calibration.png",
        "machine.toml",
    }


def test_no_fit_is_an_exit_code_of_one_and_no_machine_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "t.csv").write_text("cell,duration,result\ncoupon,6 ms,held\n", encoding="utf-8")
    assert main(["calibrate", "t.csv"]) == 1
    printed = " ".join(capsys.readouterr().out.split())
    assert "Not identifiable" in printed
    assert "no machine file" in printed
    assert not list(tmp_path.glob("*.toml"))


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["none.csv"], "none.csv: got 'no such file"),
        ([str(DEMO), "--fit", "radius_facto"], "the nearest is radius_factor"),
        ([str(DEMO), "--weld-spread", "12"], "--weld-spread: got '12', expected a share"),
        ([str(DEMO), "--workers", "0"], "--workers: got 0"),
        ([str(DEMO), "--trace", "none.csv"], "none.csv: got 'no such file"),
        ([], "a table of trials, or a --trace of one weld"),
        (["mine.toml"], "a table of trials, or a --trace of one weld"),
    ],
)
def test_bad_input_is_one_line(argv: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["calibrate", *argv]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert words in error


def test_what_is_finished_is_kept_when_it_is_interrupted(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked: list[object] = []

    def interrupted(ask: object) -> Answer:
        asked.append(ask)
        if len(asked) == 5:
            raise KeyboardInterrupt
        return fake(ask)  # type: ignore[arg-type]

    monkeypatch.setattr(marcher, "answer", interrupted)
    argv = ["calibrate", str(DEMO), "--fit", "contact.hardness_factor", "--no-plots"]
    assert main(argv) == 130
    assert "4 finished simulations are kept" in capsys.readouterr().err
    assert main([*argv, "--resume"]) == 0


def test_the_figure_shows_every_condition_and_signal() -> None:
    from nugget.setup import default_setup
    from nugget.study.calibration.bench import gather
    from nugget.study.calibration.fit import calibrate
    from nugget.study.calibration.trial_table import read_trials

    setup = default_setup()
    bench = gather(read_trials(DEMO, setup), setup, DEMO.parent)
    fit = calibrate(bench, only=["contact.hardness_factor"], advice=False)
    titles = [axes.get_title(loc="left") for axes in calibration_figure(fit).axes]
    assert titles[:2] == ["Joint: coupon", "Joint: empty can"]
    assert [title.split(":")[0] for title in titles[2:5]] == ["Current", "Tip voltage", "Fitted inputs"]
