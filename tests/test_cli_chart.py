"""``nugget chart`` from the command line: files, messages, exit codes; the marches are made up."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
from folders import visible
from growths import growth

from nugget import manual
from nugget.cli.main import main
from nugget.setup import Setup
from nugget.study.charting import duration_chart as module
from nugget.study.durations.edges import Growth

QUICK = ("chart", "--workers", "1", "--welds", "32", "--vary", "strip.thickness=0.1:0.3 mm:3")


def made_up(task: tuple[Setup, float]) -> Growth:
    mm = 1e3 * sum(layer.thickness_m for layer in task[0].strip)
    return growth(26.0 * mm, {"can_penetration": 6.0 * task[0].contact.radius_factor})


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(module, "grow", made_up)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_picture_and_a_table_in_the_current_folder(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*QUICK]) == 0
    assert visible(here) == [
        "nugget-default-chart.csv",
        "nugget-default-chart.png",
    ]
    out = capsys.readouterr().out
    assert "0.1 mm  2.6 ms  6 ms" in " ".join(out.split()).replace(
        "0.1 mm 2.6 ms 6 ms", "0.1 mm  2.6 ms  6 ms"
    )
    assert "No window at 0.3 mm" in out
    assert "a window: " in out
    assert "A predicted weld is not a safe weld" in out
    assert "Written: nugget-default-chart.png, nugget-default-chart.csv" in out


def test_every_kind_of_file_that_was_asked_for(here: Path) -> None:
    names = ["a.svg", "b.pdf", "sub/c.json", "d.csv"]
    assert main([*QUICK, "--no-advice", *(f"--out={name}" for name in names)]) == 0
    assert (here / "a.svg").read_text().startswith("<?xml")
    assert (here / "b.pdf").read_bytes().startswith(b"%PDF")
    tree = json.loads((here / "sub/c.json").read_text())
    assert tree["vary"]["values"] == pytest.approx([1e-4, 2e-4, 3e-4], rel=1e-12)
    assert tree["panels"][0]["no_window"] is None
    rows = list(csv.DictReader((here / "d.csv").read_text().splitlines()))
    assert len(rows) == 3


def test_json_alone_writes_nothing_else(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*QUICK, "--json", "--as-set-up", "--strips", "nickel-200, copper-etp"]) == 0
    tree = json.loads(capsys.readouterr().out)
    assert [panel["strip"] for panel in tree["panels"]] == ["nickel-200", "copper-etp"]
    assert tree["inputs_varied"] is False
    assert list(here.iterdir()) == []


def test_the_lobe_and_the_longest_pulse(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert (
        main(["chart", "--workers=1", "--lobe", "--max-duration", "12 ms", "--as-set-up", "--out", "l.json"])
        == 0
    )
    tree = json.loads((here / "l.json").read_text())
    assert tree["vary"]["field"] == "source.open_circuit_voltage"
    assert tree["longest_s"] == pytest.approx(12e-3)


def test_trials_are_read_before_any_march(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "t.csv").write_text("duration,thickness,result\n5 ms,0.1 mm,fine\n")
    assert main([*QUICK, "--trials", "t.csv"]) == 2
    assert "t.csv: line 2: result" in capsys.readouterr().err
    (here / "t.csv").write_text("duration,thickness,result\n5 ms,0.1 mm,held\n")
    assert main([*QUICK, "--trials", "t.csv", "--no-advice"]) == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--vary", "strip.thickness=0.1:0.3:3"], "vary strip.thickness"),
        (["--out", "chart.bmp"], "a name that ends in .png, .svg, .pdf, .csv, .json"),
        (["--strips", "unobtainium"], "unobtainium"),
        (["--strips", "nickel-200,"], "--strips"),
        (["--max-duration", "fast"], "--max-duration"),
        (["--workers", "0"], "--workers"),
        (["--welds", "16"], "welds"),
        (["--trials", "none.csv"], "none.csv"),
        (["--cluster", "tcp://127.0.0.1:1"], "--cluster"),
        (["--preset", "nothing"], "preset"),
    ],
)
def test_bad_input_is_one_line_exit_two_and_nothing_written(
    arguments: list[str],
    says: str,
    here: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from nugget.cli import cluster

    monkeypatch.setattr(cluster, "PATIENCE_S", 0.5)
    assert main([*QUICK, *arguments]) == 2
    error = capsys.readouterr().err
    assert says in error
    assert len(error.strip().splitlines()) == 1
    assert list(here.iterdir()) == []


def test_a_call_that_comes_to_nothing_leaves_what_an_earlier_one_finished(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from nugget.cli import cluster

    monkeypatch.setattr(cluster, "PATIENCE_S", 0.5)
    store = here / "nugget-default-chart.finished.jsonl"
    store.write_text("precious\n")
    assert main([*QUICK, "--cluster", "tcp://127.0.0.1:1"]) == 2
    assert store.read_text() == "precious\n"
    assert main([*QUICK, "--no-advice", "--resume"]) == 0
    assert f"nothing is kept in {store.name}, starting afresh" in capsys.readouterr().err


def test_an_interrupted_chart_says_how_to_go_on_and_does(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    ran: list[float] = []

    def stops(task: tuple[Setup, float]) -> Growth:
        if len(ran) == 4:
            raise KeyboardInterrupt
        ran.append(task[1])
        return made_up(task)

    monkeypatch.setattr(module, "grow", stops)
    assert main([*QUICK, "--out", "chart.csv"]) == 130
    said = capsys.readouterr().err
    assert "4 finished simulations are kept in chart.finished.jsonl" in said
    assert "--resume" in said
    assert not (here / "chart.csv").exists(), "whole or not at all"
    ran.clear()
    ran.append(0.0)  # so that this call is not stopped: it runs fewer than four more
    monkeypatch.setattr(module, "grow", lambda task: (ran.append(task[1]), made_up(task))[1])
    assert main([*QUICK, "--out", "chart.csv", "--no-advice", "--resume"]) == 0
    assert len(ran) - 1 == 3 + 32 - 4, "what was finished is not run again"
    resumed = (here / "chart.csv").read_text()
    assert not (here / "chart.finished.jsonl").exists()
    monkeypatch.setattr(module, "grow", made_up)
    assert main([*QUICK, "--out", "chart.csv", "--no-advice"]) == 0
    assert (here / "chart.csv").read_text() == resumed


def test_a_failed_chart_leaves_no_half_written_file(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from nugget.plot import chart_figure as plot

    def breaks(*_: object) -> None:
        raise ArithmeticError("no picture")

    monkeypatch.setattr(plot, "chart_figure", breaks)
    assert main([*QUICK, "--no-advice"]) == 1
    assert [path.name for path in here.iterdir()] == ["nugget-default-chart.finished.jsonl"]


def test_the_readme_shows_a_chart_and_writes_over_nothing_that_it_ships() -> None:
    root = Path(__file__).parent.parent
    text = (root / "README.md").read_text(encoding="utf-8")
    shown = set(re.findall(r"!\[[^]]+\]\((\S+)\)", text))
    assert shown
    for name in shown:
        assert 10_000 < (root / name).stat().st_size < 500_000, name
    pages = [text, *(manual.written(name) or "" for name in manual.names())]
    blocks = "".join(re.findall(r"```sh\n(.*?)```", "".join(pages), re.DOTALL))
    written = set(re.findall(r"(?:--out|--plot|>) ([\w./-]+)", blocks))
    assert {"mine.toml", "results", "force.pdf"} <= written
    assert not [name for name in written if (root / name).exists()]
    assert "nugget/" not in blocks, "a path that only a checkout has"
