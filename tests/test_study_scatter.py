"""Scatter: the statement of many welds, their spread, and what matters most."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict, replace
from pathlib import Path

import pytest
from folders import visible
from statements import SAMPLE, fake

from nugget.cli.main import main
from nugget.plot.scatter_figure import scatter_figure
from nugget.setup import Setup, default_setup
from nugget.study.scattering.scatter_record import scatter_csv, scatter_record
from nugget.study.scattering.statistics import influences, quantiles
from nugget.study.statement.samples import Sample, kept, sample, sample_from
from nugget.study.statement.statement import Statement, state

QUICK = [
    "numerics.refinement=0.25",
    "numerics.tolerance=20 K",
    "pulse.0.duration=1 ms",
    "leads.inductance=0 uH",
]
PNG = b"\x89PNG\r\n\x1a\n"


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


@pytest.fixture(scope="module")
def many(setup: Setup) -> Statement:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, fake)
        return state(setup, welds=(64,))


def test_what_matters_most_comes_first(many: Statement) -> None:
    found = {one.figure: one for one in influences(many)}
    assert found["nugget_diameter_m"].inputs[0] == "tip force"
    assert found["nugget_diameter_m"].correlation[0] > 0.99
    assert found["interior_peak_K"].inputs[0] == "hardness"
    assert found["interior_peak_K"].correlation[0] < -0.99
    assert all(
        abs(r) < 3.0 * found["nugget_diameter_m"].noise for r in found["nugget_diameter_m"].correlation[1:]
    )
    assert "peak_current_A" not in found  # it does not vary
    low, middle, high = quantiles(many)["nugget_diameter_m"]
    assert low < middle < high


def test_table_and_record_hold_every_weld(many: Statement) -> None:
    table = list(csv.DictReader(io.StringIO(scatter_csv(many))))
    assert len(table) == 64
    force = float(table[5]["electrode.force [N]"])
    assert float(table[5]["nugget_diameter_m"]) == pytest.approx(0.66e-3 * force / 30.0)
    record = json.loads(json.dumps(scatter_record(many), allow_nan=False))
    assert record["welds"] == 64
    assert {one["key"] for one in record["chances"]} >= {"good", "enough", "interior_temperature"}
    assert record["cautions"]


def test_an_interrupted_scatter_goes_on(
    setup: Setup, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    calls: list[Setup] = []

    def interrupted(one: Setup) -> Sample:
        calls.append(one)
        if len(calls) == 10:
            raise KeyboardInterrupt
        return fake(one)

    monkeypatch.setattr(SAMPLE, interrupted)
    store = tmp_path / "s.jsonl"
    with pytest.raises(KeyboardInterrupt):
        state(setup, welds=(16,), finished=kept(store))
    again = state(setup, welds=(16,), finished=kept(store, resume=True))
    assert len(again.samples) == 16
    assert len(calls) == 10 + 16 - 9


def test_a_real_weld_becomes_a_sample() -> None:
    quick = default_setup(QUICK)
    one = sample(quick)
    assert one.peak_reached
    assert 0.0 <= one.figures["nugget_diameter_m"] < 1e-3
    assert set(one.limits) == {limit.id for limit in quick.limits}
    assert sample_from(json.loads(json.dumps(asdict(one)))) == one


def test_a_weld_without_interior_has_no_interior_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    def bare(one: Setup) -> Sample:
        whole = fake(one)
        figures = {k: v for k, v in whole.figures.items() if not k.startswith("interior")}
        return replace(whole, figures=figures)

    monkeypatch.setattr(SAMPLE, bare)
    coupon = default_setup(["cell.kind=coupon"])
    found = state(coupon, welds=(16,))
    assert "interior_peak_K" not in quantiles(found)
    assert "interior_temperature" not in {one.key for one in found.chances}
    assert [len(axes.get_title(loc="left")) > 0 for axes in scatter_figure(found).axes] == [True] * 4


def test_the_command_prints_and_writes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(SAMPLE, fake)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    assert main(["scatter", "--samples", "16", "--tolerance", "electrode.force=5 %"]) == 0
    printed = capsys.readouterr().out
    for words in (
        "minimum diameter reached within every limit",
        "rank correlation",
        "stated",
        "not a safe weld",
    ):
        assert words in printed
    assert (tmp_path / "nugget-default-scatter.png").read_bytes().startswith(PNG)
    assert (tmp_path / "nugget-default-scatter.csv").read_text(encoding="utf-8").count("\n") == 17
    assert main(["scatter", "--samples", "8", "--json", "--out", "here"]) == 0
    assert json.loads(capsys.readouterr().out)["welds"] == 8
    assert set(visible(tmp_path / "here")) == {"scatter.csv", "scatter.json", "scatter.png"}


@pytest.mark.parametrize("argv", [["--samples", "2"], ["--workers", "0"], ["--tolerance", "x=1"]])
def test_bad_input_is_one_line(
    argv: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["scatter", *argv]) == 2
    assert capsys.readouterr().err.count("\n") == 1
