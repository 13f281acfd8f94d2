"""Sweeps: every combination, labelled, with its units; a march that stops is a gap and a message."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pint
import pytest
from small import coarse

import nugget
from nugget.errors import InputError, SolverError
from nugget.outcome.weld import Weld, run_weld
from nugget.setup import Setup
from nugget.study import sweep as sweep_module

QUICK = coarse("pulse.0.duration=0.1 ms")
FORCES, TIMES = ["20 N", 30.0], [1e-4, "0.15 ms", 0.0002]


@pytest.fixture(scope="module")
def swept() -> nugget.Sweep:
    return nugget.sweep(QUICK, {"electrode.force": FORCES, "pulse.0.duration": TIMES})


def test_every_combination_is_the_weld_of_its_own_setup(swept: nugget.Sweep) -> None:
    assert swept.shape == (2, 3)
    for row, force in enumerate(("20 N", "30 N")):
        for column, duration in enumerate(("0.1 ms", "0.15 ms", "0.2 ms")):
            one = QUICK.with_({"electrode.force": force, "pulse.0.duration": duration})
            alone = run_weld(one).figures
            for name in ("peak_current_A", "hottest_K", "weld_energy_J", "contact_diameter_m"):
                assert swept[name][row, column] == pytest.approx(alone[name], rel=1e-12)


def test_the_dataset_says_dimensions_coordinates_and_units(swept: nugget.Sweep, tmp_path: Path) -> None:
    import xarray as xr

    data = swept.to_xarray()
    assert data["hottest_K"].dims == ("electrode.force", "pulse.0.duration")
    assert data["electrode.force"].values.tolist() == [20.0, 30.0]
    assert data["electrode.force"].attrs["units"] == "N"
    assert data["pulse.0.duration"].attrs["units"] == "s"
    assert data["hottest_K"].attrs["units"] == "K"
    assert data["weld_energy_J"].attrs["units"] == "J"
    one = data["hottest_K"].sel({"electrode.force": 30.0}).isel({"pulse.0.duration": 2})
    assert one.item() == swept["hottest_K"][1, 2]
    assert set(data[sweep_module.STATE].values.ravel()) <= {"too cold", "too hot", "in window", "no window"}
    data.to_netcdf(tmp_path / "sweep.nc", engine="scipy")
    with xr.open_dataset(tmp_path / "sweep.nc", engine="scipy") as again:
        xr.testing.assert_equal(again["hottest_K"], data["hottest_K"])


def test_the_table_has_a_row_for_each_weld(swept: nugget.Sweep) -> None:
    table = swept.to_dataframe()
    assert len(table) == 6
    assert table.index.names == ["electrode.force", "pulse.0.duration"]
    assert table.loc[(30.0, 2e-4), "hottest_K"] == swept["hottest_K"][1, 2]
    assert table.attrs["units"]["hottest_K"] == "K"
    single = nugget.sweep(QUICK, {"electrode.force": [20.0]}).to_dataframe()
    assert single.index.name == "electrode.force"


def test_an_executor_gives_the_same_numbers(swept: nugget.Sweep) -> None:
    done: list[tuple[int, int]] = []
    with ThreadPoolExecutor(2) as executor:
        again = nugget.sweep(
            QUICK,
            {"electrode.force": FORCES, "pulse.0.duration": TIMES},
            executor=executor,
            on_done=lambda now, all_: done.append((now, all_)),
        )
    assert done == [(n, 6) for n in range(1, 7)]
    for name in swept.figures:
        np.testing.assert_array_equal(again[name], swept[name])


def test_a_march_that_stops_is_a_gap_with_its_reason(monkeypatch: pytest.MonkeyPatch) -> None:
    def stops_at_30(setup: Setup) -> Weld:
        if setup.force_N == 30.0:
            raise SolverError(1e-3, "made to stop")
        return run_weld(setup)

    monkeypatch.setattr(sweep_module, "run_weld", stops_at_30)
    found = nugget.sweep(QUICK, {"electrode.force": [20.0, 30.0, 40.0]})
    assert np.isnan(found["hottest_K"]).tolist() == [False, True, False]
    assert list(found.failures) == [(1,)]
    data = found.to_xarray()
    assert "made to stop" in str(data["failure"].values[1])
    assert data["failure"].values[0] == ""
    assert found.states.tolist()[1] == ""
    assert "stopped: 1" in repr(found)


def test_names_and_pint_quantities_are_values_too() -> None:
    found = nugget.sweep(
        QUICK,
        {
            "strip.material": ["nickel-200", "copper"],
            "electrode.force": [pint.UnitRegistry().Quantity(0.03, "kN")],
        },
        figures=["hottest_K"],
    )
    assert found.to_xarray()["strip.material"].values.tolist() == ["nickel-200", "copper"]
    assert found.fields[1].labels == (30.0,)
    assert list(found.figures) == ["hottest_K"]
    assert found["hottest_K"][0, 0] > found["hottest_K"][1, 0]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({}, "fields: got 'nothing'"),
        ({"electrode.force": "20 N"}, "a list of values"),
        ({"electrode.force": []}, "a list of values"),
        ({"electrode.force": ["20 mm"]}, "electrode.force"),
        ({"electrode.force": [-5.0]}, "electrode.force"),
        ({"electrode.force": ["20 N", 20.0]}, "different values"),
        ({"electrode.forc": [20.0]}, "forc"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_marched(
    fields: dict[str, list[object]], words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sweep_module, "run_weld", lambda setup: pytest.fail("marched"))
    with pytest.raises(InputError, match=words) as caught:
        nugget.sweep(QUICK, fields)
    assert "--" not in str(caught.value)


def test_an_unknown_figure_is_named_before_anything_is_marched(monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patched:
        patched.setattr(sweep_module, "run_weld", lambda setup: pytest.fail("marched"))
        with pytest.raises(InputError, match=r"hottest_C.*the nearest is hottest_K"):
            nugget.sweep(QUICK, {"electrode.force": [20.0]}, figures=["hottest_C"])
        with pytest.raises(InputError, match="title"):
            nugget.sweep(QUICK, {"electrode.force": [20.0]}, figures=["title"])
    with pytest.raises(KeyError, match="hottest_C"):
        _ = nugget.sweep(QUICK, {"electrode.force": [20.0]})["hottest_C"]


def test_a_sweep_prints_in_a_few_lines(swept: nugget.Sweep) -> None:
    assert len(repr(swept).splitlines()) == 3
    assert "electrode.force: 20, 30 N" in repr(swept)
