"""Scatter: welds drawn by stated tolerances, chances with intervals, what matters most."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest
from folders import visible
from hypothesis import given
from hypothesis import strategies as st
from nugget.study.scattering.tolerance import drawn, setups_of, usual_tolerances, with_tolerances
from nugget.study.scattering.welds import Sample, Scatter, kept, sample, sample_from, scatter

from nugget.cli.main import main
from nugget.errors import InputError, MarchError
from nugget.plot.scatter_figure import scatter_figure
from nugget.setup import Setup, default_setup
from nugget.study.scattering import welds
from nugget.study.scattering.scatter_record import scatter_csv, scatter_record
from nugget.study.scattering.statistics import chance, chances, influences, quantiles

QUICK = ["numerics.refinement=0.25", "numerics.tolerance=20 K", "pulse.0.duration=1 ms"]
PNG = b"\x89PNG\r\n\x1a\n"


def fake(setup: Setup) -> Sample:
    """A weld without a march: the joint follows the force, the heat the contact radius."""
    fused = 0.6e-3 * setup.force_N / 30.0
    peak = 300.0 + 60.0 / setup.contact.radius_factor**2
    values = {limit.id: 0.0 for limit in setup.limits} | {"interior_temperature": peak}
    figures = {
        "nugget_diameter_m": fused,
        "target_diameter_m": setup.joint.target_diameter_m,
        "bonded_diameter_m": fused,
        "can_penetration": 0.2,
        "can_inner_peak_K": 4.0 * peak,
        "interior_peak_K": peak,
        "peak_current_A": 1400.0,
        "weld_energy_J": 20.0,
    }
    broken = tuple(k.id for k in setup.limits if k.id == "interior_temperature" and peak > 370.0)
    return Sample(figures, values, broken, True)


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


@pytest.fixture(scope="module")
def many(setup: Setup) -> Scatter:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(welds, "sample", fake)
        return scatter(setup, usual_tolerances(setup), 64)


def test_the_usual_tolerances_have_a_reason(setup: Setup) -> None:
    found = {one.field.path: one for one in usual_tolerances(setup)}
    assert set(found) == {
        "arrangement.spacing",
        "cell.wall",
        "contact.radius_factor",
        "electrode.face_diameter",
        "electrode.force",
        "source.open_circuit_voltage",
        "strip.thickness",
    }
    assert all(one.source for one in found.values())
    assert found["contact.radius_factor"].kind == "factor"


def test_opposed_tips_have_no_spacing() -> None:
    from nugget.setup import preset

    found = {one.field.path for one in usual_tolerances(preset("sheets"))}
    assert "arrangement.spacing" not in found
    assert "source.current_rms" in found


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("electrode.force=10 %", 27.0, 33.0),
        ("force=3 N", 27.0, 33.0),
        ("electrode.force=x1.5", 20.0, 45.0),
        ("ambient.temperature=5 K", 288.15, 298.15),
    ],
)
def test_95_percent_lie_within_the_width(setup: Setup, text: str, low: float, high: float) -> None:
    path = text.split("=")[0]
    one = next(t for t in with_tolerances(setup, [text]) if t.field.path.endswith(path))
    assert one.value(-2.0) == pytest.approx(low, rel=1e-5)
    assert one.value(2.0) == pytest.approx(high, rel=1e-5)
    assert one.value(0.0) == pytest.approx(one.own, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("electrode.force", "FIELD=WIDTH"),
        ("electrode.forse=10 %", "nearest is electrode.force"),
        ("electrode.force=10 mm", "a force"),
        ("electrode.force=80 %", "at most 60 %"),
        ("electrode.force=10,5 %", "expected a share such as '10 %'"),
        ("electrode.force=x0.5", "a factor above 1"),
        ("contact.spread=10 %", "an amount, as the setup has zero here"),
        ("electrode.worn_flat=5 %", "a field that the setup gives a value"),
    ],
)
def test_a_tolerance_that_cannot_be_is_one_line(setup: Setup, text: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        with_tolerances(setup, [text])
    assert words in str(caught.value)


def test_none_leaves_a_field_alone(setup: Setup) -> None:
    found = {one.field.path for one in with_tolerances(setup, ["electrode.force=none"])}
    assert "electrode.force" not in found
    none = [f"{path}=none" for path in (*found, "electrode.force")]
    with pytest.raises(InputError, match="at least one field"):
        with_tolerances(setup, none)


def test_a_tolerance_beyond_what_can_be_says_which(setup: Setup) -> None:
    wide = with_tolerances(setup, ["arrangement.spacing=6 mm"])
    with pytest.raises(InputError, match=r"narrow a tolerance"):
        setups_of(setup, wide, drawn(wide, 16, 1))


TOLERANCES = usual_tolerances(default_setup())[:3]


@given(st.integers(8, 200), st.integers(0, 5))
def test_draws_are_even_repeatable_and_standard(samples: int, seed: int) -> None:
    cloud = drawn(TOLERANCES, samples, seed)
    assert cloud.shape == (samples, 3)
    assert np.array_equal(cloud, drawn(TOLERANCES, samples, seed))
    assert np.abs(cloud.mean(axis=0)).max() < 4.0 / samples**0.5
    assert np.abs(cloud).max() <= 3.0


def test_too_few_samples_are_one_line(setup: Setup) -> None:
    with pytest.raises(InputError, match="samples: got 3"):
        drawn(usual_tolerances(setup), 3, 1)


def test_chances_count_what_happened(many: Scatter) -> None:
    found = {one.key: one for one in chances(many)}
    forces = 30.0 * (1.0 + 0.1 * many.deviations[:, 4])
    targets = np.array([one.figures["target_diameter_m"] for one in many.samples])
    assert found["enough"].count == int((0.6e-3 * forces / 30.0 >= targets - 1e-9).sum())
    assert found["interior_temperature"].count == sum(
        "interior_temperature" in s.broken for s in many.samples
    )
    good = sum(s.enough and not s.broken for s in many.samples)
    assert found["good"].count == good
    for one in found.values():
        assert 0.0 <= one.low <= one.share <= one.high <= 1.0


def test_the_interval_is_wilsons() -> None:
    one = chance("x", "", 8, 10)
    z, n, p = 1.959964, 10, 0.8
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * (p * (1 - p) / n + z * z / (4 * n * n)) ** 0.5
    assert (one.low, one.high) == (pytest.approx(middle - half), pytest.approx(middle + half))
    assert chance("x", "", 0, 500).high < 0.01


def test_what_matters_most_comes_first(many: Scatter) -> None:
    found = {one.figure: one for one in influences(many)}
    assert found["nugget_diameter_m"].inputs[0] == "electrode force"
    assert found["nugget_diameter_m"].correlation[0] > 0.99
    assert found["interior_peak_K"].inputs[0] == "contact radius factor"
    assert found["interior_peak_K"].correlation[0] < -0.99
    assert all(
        abs(r) < 3.0 * found["nugget_diameter_m"].noise for r in found["nugget_diameter_m"].correlation[1:]
    )
    assert "peak_current_A" not in found  # it does not vary
    low, middle, high = quantiles(many)["nugget_diameter_m"]
    assert low < middle < high


def test_table_and_record_hold_every_weld(many: Scatter) -> None:
    table = list(csv.DictReader(io.StringIO(scatter_csv(many))))
    assert len(table) == 64
    force = float(table[5]["electrode.force [N]"])
    assert float(table[5]["nugget_diameter_m"]) == pytest.approx(0.6e-3 * force / 30.0)
    record = json.loads(json.dumps(scatter_record(many), allow_nan=False))
    assert record["samples"] == 64
    assert {one["key"] for one in record["chances"]} >= {"good", "enough", "interior_temperature"}
    assert record["cautions"]


def test_welds_that_were_not_finished_are_counted_apart(
    setup: Setup, monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: list[Setup] = []

    def every_fourth(one: Setup) -> Sample:
        calls.append(one)
        return Sample({}, {}, (), False, "it stopped") if len(calls) % 4 == 0 else fake(one)

    monkeypatch.setattr(welds, "sample", every_fourth)
    found = scatter(setup, usual_tolerances(setup), 16)
    assert (len(found.samples), len(found.failed), len(found.deviations)) == (12, 4, 12)
    monkeypatch.setattr(welds, "sample", lambda _: Sample({}, {}, (), False, "it stopped"))
    with pytest.raises(MarchError, match="none of 16 welds"):
        scatter(setup, usual_tolerances(setup), 16)


def test_an_interrupted_scatter_goes_on(
    setup: Setup, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    calls: list[Setup] = []

    def interrupted(one: Setup) -> Sample:
        calls.append(one)
        if len(calls) == 10:
            raise KeyboardInterrupt
        return fake(one)

    monkeypatch.setattr(welds, "sample", interrupted)
    store = tmp_path / "s.jsonl"
    with pytest.raises(KeyboardInterrupt):
        scatter(setup, usual_tolerances(setup), 16, finished=kept(store))
    again = scatter(setup, usual_tolerances(setup), 16, finished=kept(store, resume=True))
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

    monkeypatch.setattr(welds, "sample", bare)
    coupon = default_setup(["cell.kind=coupon"])
    found = scatter(coupon, usual_tolerances(coupon), 16)
    assert "interior_peak_K" not in quantiles(found)
    assert "interior_temperature" not in {one.key for one in chances(found)}
    assert [len(axes.get_title(loc="left")) > 0 for axes in scatter_figure(found).axes] == [True] * 4


def test_the_command_prints_and_writes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(welds, "sample", fake)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    assert main(["scatter", "--samples", "16", "--tolerance", "electrode.force=5 %"]) == 0
    printed = capsys.readouterr().out
    for words in ("joint suffices and every limit holds", "rank correlation", "stated", "never a permission"):
        assert words in printed
    assert (tmp_path / "nugget-default-scatter.png").read_bytes().startswith(PNG)
    assert (tmp_path / "nugget-default-scatter.csv").read_text(encoding="utf-8").count("\n") == 17
    assert main(["scatter", "--samples", "8", "--json", "--out", "here"]) == 0
    assert json.loads(capsys.readouterr().out)["samples"] == 8
    assert set(visible(tmp_path / "here")) == {"scatter.csv", "scatter.json", "scatter.png"}


@pytest.mark.parametrize("argv", [["--samples", "2"], ["--workers", "0"], ["--tolerance", "x=1"]])
def test_bad_input_is_one_line(
    argv: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["scatter", *argv]) == 2
    assert capsys.readouterr().err.count("\n") == 1
