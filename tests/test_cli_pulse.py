"""``nugget pulse``: one weld from the command line to the sheet, the JSON object and the files."""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NoReturn

import pytest
from folders import visible
from statements import SAMPLE, fake

import nugget
from nugget.cli import workers
from nugget.cli.main import main
from nugget.cli.summary import LINES, print_summary
from nugget.errors import SolverError
from nugget.merit import amounts
from nugget.outcome.record import CAUTIONS
from nugget.plot import style
from nugget.study.statement import assessment as module
from nugget.study.statement.assessment import Assessment
from nugget.study.statement.judged_rows import limit_rows

QUICK = [
    "numerics.refinement=0.25",
    "numerics.tolerance=20 K",
    "pulse.0.duration=2 ms",
    "leads.inductance=0 uH",
]
"""A coarse grid and long steps: the tests read words and files, not accuracy."""
PNG = b"\x89PNG\r\n\x1a\n"
KEYS = [
    "nugget_diameter_m",
    "one_side_melt_diameter_m",
    "bonded_diameter_m",
    "can_penetration",
    "strip_through_ratio",
    "expulsion",
    "can_inner_peak_K",
    "interior_peak_K",
    "interior_peak_time_s",
    "weld_energy_J",
    "source_energy_J",
    "peak_current_A",
    "energy_residual",
    "cells",
    "steps",
    "verdict",
    "limits",
    "statement",
    "peak_reached",
    "circuit_residual",
    "setup",
    "data_sources",
    "version",
]


@dataclass(frozen=True)
class Run:
    """One real run with ``--out``: its assessment, its stdout and its folder."""

    assessment: Assessment
    sheet: str
    folder: Path


@pytest.fixture(scope="module")
def run(tmp_path_factory: pytest.TempPathFactory) -> Run:
    folder, kept = tmp_path_factory.mktemp("pulse") / "results", []
    judge = module.judge

    def keep(*args: Any, **keywords: Any) -> Assessment:
        kept.append(judge(*args, **keywords))
        return kept[-1]

    with pytest.MonkeyPatch.context() as patch, contextlib.redirect_stdout(io.StringIO()) as shown:
        patch.setattr(workers, "cores", lambda: 1)
        patch.setattr(module, "judge", keep)
        patch.setattr(SAMPLE, fake)
        overrides = [word for one in QUICK for word in ("--set", one)]
        assert main(["pulse", *overrides, "--in-full", "--out", str(folder)]) == 0
    return Run(kept[0], shown.getvalue(), folder)


@pytest.fixture
def here(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty current folder in which every weld turns out as in `run`, at once."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(module, "judge", lambda *_, **__: run.assessment)
    monkeypatch.setattr(workers, "cores", lambda: 1)
    return tmp_path


def names(folder: Path) -> list[str]:
    return visible(folder)


def strict(text: str) -> dict[str, Any]:
    """Read JSON that holds neither NaN nor infinity."""

    def refuse(word: str) -> NoReturn:
        raise AssertionError(word)

    found: dict[str, Any] = json.loads(text, parse_constant=refuse)
    return found


def test_out_holds_summary_fields_and_figures_and_nothing_else(run: Run) -> None:
    assert names(run.folder) == ["histories.png", "record.html", "section.png", "summary.json", "weld.npz"]
    assert (run.folder / "section.png").read_bytes().startswith(PNG)
    assert (run.folder / "histories.png").read_bytes().startswith(PNG)
    assert nugget.load_weld(run.folder / "weld.npz").figures == run.assessment.weld.figures


def test_the_summary_file_holds_every_key(run: Run) -> None:
    found = strict((run.folder / "summary.json").read_text(encoding="utf-8"))
    assert set(KEYS) <= found.keys()
    assert found["setup"]["pulse"][0]["duration"] == "2 ms"
    assert found["version"] == nugget.__version__
    assert {"value", "limit", "margin", "source"} <= found["limits"][0].keys()
    assert {"chances", "decides", "measure", "inputs", "asked"} <= found["statement"].keys()


def test_the_resolved_setup_gives_the_same_setup_again(run: Run) -> None:
    from nugget.setup import setup_from_dict

    again = setup_from_dict(strict((run.folder / "summary.json").read_text(encoding="utf-8"))["setup"])
    assert again.document() == run.assessment.weld.setup.document()


def test_the_sheet_reads_from_strip_to_cautions(run: Run) -> None:
    headings = [
        "River-level logger pack",
        "VERDICT: ",
        "What was welded",
        "What the source delivered",
        "Joint",
        "Interior of the cell",
        "Hardware",
        "Minimum diameter and limits",
        "Sensitivity",
        "Data and numerics",
        "Cautions",
        "Written: ",
    ]
    lines = run.sheet.splitlines()
    places = [next(k for k, line in enumerate(lines) if line.startswith(heading)) for heading in headings]
    assert places == sorted(places)
    told = " ".join(run.sheet.split())
    assert all(caution in told for caution in CAUTIONS)


def test_the_sheet_is_plain_and_fits(run: Run) -> None:
    body = run.sheet.split("\nWritten: ")[0].splitlines()
    assert max(map(len, body)) <= 100
    assert all(line == line.rstrip() for line in body)
    assert "\x1b" not in run.sheet
    assert "nan" not in run.sheet.lower().replace("nanometre", "")


def test_the_sheet_says_what_the_figures_say(run: Run) -> None:
    figures, told = run.assessment.weld.figures, " ".join(run.sheet.split())
    assert f"Nugget {figures['nugget_diameter_m'] * 1e3:.2f} mm" in told
    assert f"peak {figures['peak_current_A']:.0f} A" in told
    assert f"{figures['weld_energy_J']:.2f} J per pair" in told
    assert f"Separator, top {amounts.celsius(figures['interior_peak_K'])}" in told
    assert "an extrapolation" in told
    assert "per spot" in told
    assert run.assessment.verdict.upper() in run.sheet
    for limit in run.assessment.limits:
        assert limit.limit.source in told
    for name in figures["held_past_table"]:
        assert name in told


def test_the_short_page_answers_first_and_fits_fifty_lines(
    run: Run, here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    assert main(["pulse", "--no-plots"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 50
    assert lines[1].startswith(f"VERDICT: {run.assessment.verdict.upper()}")
    told = " ".join(" ".join(lines).split())
    assert told.index(run.assessment.reason) < told.index("Next: measure ") < told.index("Setting")
    for row in limit_rows(run.assessment):
        assert not row.bad or row.state in told


def test_json_is_one_object_and_writes_nothing(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pulse", "--json"]) == 0
    said = capsys.readouterr()
    assert set(KEYS) <= strict(said.out).keys()
    assert said.err == ""
    assert names(here) == []


def test_json_with_out_prints_what_it_writes(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pulse", "--json", "--out", "a/b", "--no-plots"]) == 0
    assert capsys.readouterr().out == (here / "a/b/summary.json").read_text(encoding="utf-8")
    assert names(here / "a/b") == ["summary.json", "weld.npz"]


@pytest.mark.parametrize(
    ("argv", "stem"), [([], "default"), (["mine.toml"], "mine"), (["--preset", "coupon"], "coupon")]
)
def test_figures_are_named_after_the_setup(
    argv: list[str],
    stem: str,
    here: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("nugget.plot.section.section_figure", lambda _: None)
    monkeypatch.setattr("nugget.plot.histories.histories_figure", lambda _: None)
    monkeypatch.setattr(style, "picture", lambda *_: b"drawn")
    (here / "mine.toml").write_text('electrode.force = "20 N"\n', encoding="utf-8")
    assert main(["pulse", *argv]) == 0
    figures = [f"nugget-{stem}-section.png", f"nugget-{stem}-histories.png"]
    assert capsys.readouterr().out.splitlines()[-1] == "Written: " + ", ".join(figures)
    assert names(here) == sorted(["mine.toml", *figures])


def test_tables_hold_histories_and_figures(run: Run, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import csv

    import xarray as xr

    assert main(["pulse", "--no-plots", "--tables", "--out", "t"]) == 0
    assert names(here / "t") == ["figures.csv", "histories.csv", "summary.json", "weld.nc", "weld.npz"]
    weld = run.assessment.weld
    with (here / "t/histories.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [float(row["current_A"]) for row in rows] == weld.history["current_A"].tolist()
    with (here / "t/figures.csv").open(newline="") as stream:
        found = {row["figure"]: row for row in csv.DictReader(stream)}
    assert float(found["nugget_diameter_m"]["value"]) == weld.figures["nugget_diameter_m"]
    assert found["nugget_diameter_m"]["unit"] == "m"
    with xr.open_dataset(here / "t/weld.nc", engine="scipy") as data:
        assert data["history_current_A"].values.tolist() == weld.history["current_A"].tolist()
    assert "weld.nc" in capsys.readouterr().out


def test_no_plots_writes_nothing(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["pulse", "--no-plots"]) == 0
    assert "Written" not in capsys.readouterr().out
    assert names(here) == []


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["none.toml"], ["none.toml"]),
        (["bad.toml"], ["bad.toml", "strip.widht", "strip.width"]),
        (["--set", "strip.width=8"], ["strip.width", "8", "8 mm"]),
        (["--set", "pulse.0.duration=0 ms"], ["pulse.0.duration", "0 ms"]),
        (["--set", "strip.width"], ["strip.width", "FIELD=VALUE"]),
        (["--preset", "cupon"], ["cupon", "coupon"]),
        (["bad.toml", "--preset", "coupon"], ["--preset", "not both"]),
        (["--out", "taken"], ["taken", "a file"]),
        (["--out", "taken/below"], ["taken/below", "a file"]),
    ],
)
def test_bad_input_is_one_line_and_nothing_is_written(
    argv: list[str], words: list[str], here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "bad.toml").write_text('strip.widht = "8 mm"\n', encoding="utf-8")
    (here / "taken").write_text("", encoding="utf-8")
    assert main(["pulse", *argv]) == 2
    said = capsys.readouterr()
    (line,) = said.err.splitlines()
    assert line.startswith("nugget: ")
    assert all(word in line for word in words)
    assert said.out == ""
    assert names(here) == ["bad.toml", "taken"]


def raising(error: BaseException) -> Callable[..., Assessment]:
    def judge(*_: object, **__: object) -> Assessment:
        raise error

    return judge


@pytest.mark.parametrize(
    ("error", "code", "words"),
    [(SolverError(0.001, "it does not converge"), 1, "at 1 ms"), (KeyboardInterrupt(), 130, "interrupted")],
)
def test_a_run_that_ends_early_writes_nothing(
    error: BaseException,
    code: int,
    words: str,
    here: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(module, "judge", raising(error))
    assert main(["pulse", "--out", "results"]) == code
    said = capsys.readouterr()
    assert words in said.err
    assert len(said.err.splitlines()) == 1
    assert said.out == ""
    assert names(here) == []


def test_a_folder_that_takes_no_file_is_refused_before_any_march(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / "taken").write_text("")
    for folder in ("taken", "taken/below", "/proc/below"):
        assert main(["pulse", "--out", folder]) == 2
        told = capsys.readouterr()
        assert told.out == ""
        assert "a folder that can be written" in told.err


@pytest.mark.parametrize("columns", ["80", "100"])
def test_the_short_page_fits_however_narrow(
    run: Run, columns: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    print_summary(run.assessment)
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= int(columns)
    told = " ".join(" ".join(lines).split())
    assert all(row.chance in told for row in limit_rows(run.assessment) if row.bad)
