"""The example scripts run, on a coarse grid, and come to plausible ends."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

import pytest

from nugget.examples import calibrating, first_weld, growth_and_window, margins_for_a_pack, own_material

COARSE = {"numerics__refinement": 0.3, "numerics__tolerance": "20 K"}


@pytest.fixture(autouse=True)
def _elsewhere(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


def test_first_weld(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    weld = first_weld.main(**COARSE)
    assert f"nugget {weld.nugget_diameter_m * 1e3:.2f} mm" in capsys.readouterr().out
    assert (tmp_path / "first_weld.png").stat().st_size > 10_000


def test_growth_and_window() -> None:
    inside = growth_and_window.main(("0.5 ms", "2.5 ms", "8 ms"), **COARSE)
    assert inside.tolist() == [False, True, False]


def test_own_material(capsys: pytest.CaptureFixture[str]) -> None:
    welds = own_material.main(**COARSE)
    sizes = [weld.nugget_diameter_m for weld in welds.values()]
    assert list(welds) == ["nickel-200", "drawer-strip"]
    assert abs(sizes[0] - sizes[1]) > 1e-6
    assert "estimated for drawer-strip" in capsys.readouterr().out


def test_margins_for_a_pack() -> None:
    worst = margins_for_a_pack.main(**COARSE)
    assert 0.2e-3 < worst["nugget_diameter_m"] < 1.5e-3
    assert worst["interior_peak_K"] > 293.15


def test_calibrating(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On so coarse a grid the fit need not lie where the trials were drawn; it ends within its bounds."""
    lines = (files("nugget.examples") / "trials_logger.csv").read_text(encoding="utf-8").splitlines()
    few = tmp_path / "few.csv"
    few.write_text("\n".join(row for row in lines if not row.startswith(("empty can", "coupon,6 ms"))))
    fitted = calibrating.main(["contact.radius_factor=0.85:1.2"], few, **COARSE)
    value = fitted.get("contact.radius_factor")
    assert value == pytest.approx(1.2) or 0.85 < value < 1.2
    assert f"contact.radius_factor: {value:.4g}, 95 %" in capsys.readouterr().out
    assert value != 1.0
