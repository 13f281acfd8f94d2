"""The example scripts run, on a coarse grid, and come to plausible ends."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
import pytest

import nugget
from nugget.examples import calibrating, first_weld, growth_and_window, margins_for_a_pack, own_material
from validation.invented_trials import EXAMPLE, at_an_end, example

COARSE = {"numerics__refinement": 0.3, "numerics__tolerance": "20 K"}


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_first_weld(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    weld = first_weld.main(**COARSE)
    assert f"nugget {weld.nugget_diameter_m * 1e3:.2f} mm" in capsys.readouterr().out
    assert (tmp_path / "first_weld.png").stat().st_size > 10_000


def test_growth_and_window() -> None:
    inside = growth_and_window.main(("0.3 ms", "1.4 ms", "8 ms"), **COARSE)
    assert inside.tolist() == [False, True, False]


def test_own_material(capsys: pytest.CaptureFixture[str]) -> None:
    welds = own_material.main(**COARSE)
    assert list(welds) == ["nickel-200", "drawer-strip"]
    nickel, drawer = welds.values()
    larger = drawer.nugget_diameter_m / nickel.nugget_diameter_m
    assert 1.03 < larger < 1.5, "four times the resistivity, and it melts 200 K earlier"
    assert "estimated for drawer-strip" in capsys.readouterr().out


def test_margins_for_a_pack() -> None:
    worst = margins_for_a_pack.main(**COARSE)
    assert 0.2e-3 < worst["nugget_diameter_m"] < 1.5e-3
    assert worst["interior_peak_K"] > 293.15


def test_calibrating_with_a_cold_resistance_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The films that the trials were drawn with lie in what is left of their ranges."""
    lines = (files("nugget.examples") / "trials_logger.csv").read_text(encoding="utf-8").splitlines()
    few = tmp_path / "few.csv"
    few.write_text("\n".join(row for row in lines if row.startswith("#") or "cell" in row or "mohm" in row))
    found = calibrating.main([], few, **COARSE)
    printed = capsys.readouterr().out
    for path in ("contact.tip.film", "contact.faying.film"):
        assert f"{path}: " in printed
    total = sum(found.get(path) for path in ("contact.tip.film", "contact.faying.film"))
    true = EXAMPLE["contact.tip.film"] + EXAMPLE["contact.faying.film"]
    assert true / 2.0 < total < 2.0 * true
    assert "not to be told: source.internal_resistance" in printed


def test_the_trials_are_what_the_model_says_of_the_invented_machine() -> None:
    """Else draw them anew, ``python -m validation.invented_trials nugget/examples``, and fit them once."""
    drawn = example()
    folder = files("nugget.examples")
    known = (folder / "trials_logger.csv").read_text(encoding="utf-8").splitlines()
    shipped = [row.split(",") for row in known if row.startswith(("coupon", "empty can"))]
    rows = [row.split(",") for row in drawn.rows]
    assert [row[:2] for row in rows] == [row[:2] for row in shipped]
    assert [row[2] for row in rows] == [row[2] for row in shipped]
    for column, spread in ((3, 0.02), (5, 0.02), (6, 0.1)):
        for new, old in zip(rows, shipped, strict=True):
            assert bool(new[column]) == bool(old[column])
            if new[column]:
                assert float(new[column].split()[0]) == pytest.approx(
                    float(old[column].split()[0]), abs=spread
                )
    trace = (folder / "trials_logger_scope.csv").read_text(encoding="utf-8")
    new, old = (
        np.loadtxt(text.splitlines(), delimiter=",", skiprows=k) for k, text in ((1, drawn.trace), (2, trace))
    )
    assert np.abs(new - old)[:, 1:].max(axis=0) / old[:, 1:].max(axis=0) == pytest.approx(0.0, abs=0.02)


@pytest.mark.full
def test_calibrating_finds_what_the_trials_were_drawn_with(capsys: pytest.CaptureFixture[str]) -> None:
    """All inputs, default grid: hidden values in their intervals, none at the end of what is believed."""
    setup = nugget.default_setup()
    with as_file(files("nugget.examples") / "trials_logger.csv") as invented:
        found = nugget.calibrate(setup, invented, advice=False)
    assert found.state == "fitted"
    assert len(found.fitted) >= 4
    for one in found.fitted:
        assert not one.at_its_end
        true = EXAMPLE.get(one.item.path, one.item.own)
        assert at_an_end(one.item, true) or one.low <= true <= one.high, one.item.path
    assert {path for path in EXAMPLE if path.startswith("contact")} <= {one.item.path for one in found.fitted}
    assert not found.unlikely
