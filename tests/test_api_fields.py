"""Fields in time, values at points, and what leaves for other programs."""

from __future__ import annotations

import logging
import xml.etree.ElementTree as ET
from pathlib import Path
from typing import Any

import meshio
import numpy as np
import pytest
import xarray as xr
from small import coarse

import nugget
from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.export import vtk
from nugget.outcome.fields import NAMES

SETUP = coarse("pulse.0.duration=0.3 ms")
END_S = 3e-4


@pytest.fixture(scope="module")
def weld() -> nugget.Weld:
    return nugget.simulate(SETUP, every=1)


@pytest.fixture(scope="module")
def opposed() -> nugget.Weld:
    strong = ("source.kind=constant current", "source.current=9 kA", "pulse.0.duration=2 ms")
    setup = coarse(*strong, name="sheets")
    return nugget.simulate(setup, every=1)


def current(weld: nugget.Weld, layer: str, instant: int) -> float:
    """What flows down through the middle row of a layer [A]."""
    assert weld.fields is not None
    found = next(one for one in weld.layers if one.role == layer)
    row = int(np.searchsorted(weld.z_faces_m, 0.5 * (found.bottom_m + found.top_m))) - 1
    density = weld.fields.current_density_z_A_m2[instant, row]
    return -float(np.nansum(density * np.pi * np.diff(weld.r_faces_m**2)))


def test_keeping_fields_changes_no_figure(weld: nugget.Weld) -> None:
    assert nugget.simulate(SETUP).figures == weld.figures
    assert nugget.simulate(SETUP, keep=[1e-4]).figures == weld.figures


def test_every_step_is_kept_as_it_was(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    np.testing.assert_array_equal(weld.fields.time_s, weld.history["time_s"])
    for number, state in enumerate(nugget.iter_steps(SETUP)):
        kept = weld.fields.temperature_K[number]
        np.testing.assert_array_equal(kept[weld.active], state.temperature[weld.active])
        assert np.isnan(kept[~weld.active]).all()


def test_every_few_steps_keeps_the_first_and_the_last(weld: nugget.Weld) -> None:
    few = nugget.simulate(SETUP, every=7)
    assert few.fields is not None
    times = weld.history["time_s"]
    assert few.fields.time_s.tolist() == sorted({*times[::7], times[-1]})


def test_instants_lie_on_the_line_between_steps(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    times = weld.fields.time_s
    middle = 0.25 * times[10] + 0.75 * times[11]
    kept = nugget.simulate(SETUP, keep=[middle, "0 ms", times[5]]).fields
    assert kept is not None
    assert kept.time_s.tolist() == [0.0, times[5], middle]
    for name in NAMES:
        values = getattr(weld.fields, name)
        np.testing.assert_array_equal(getattr(kept, name)[1], values[5])
        np.testing.assert_allclose(
            getattr(kept, name)[2], 0.25 * values[10] + 0.75 * values[11], rtol=1e-12, atol=1e-9
        )


def test_an_instant_after_the_end_is_left_out_and_said(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.WARNING, logger="nugget"):
        weld = nugget.simulate(SETUP, keep=[1e-4, 20.0])
    assert weld.fields is not None
    assert weld.fields.time_s.tolist() == [1e-4]
    assert "1 instants after that were not kept" in caplog.text


@pytest.mark.parametrize(
    "options",
    [
        {"every": 0},
        {"every": 1.5},
        {"keep": [-1.0]},
        {"keep": []},
        {"keep": [1e9]},
        {"keep": [0.0], "every": 1},
    ],
)
def test_what_cannot_be_kept_is_one_line(options: dict[str, Any]) -> None:
    with pytest.raises(InputError, match=r"keep|every"):
        nugget.simulate(SETUP, **options)


def test_current_density_adds_up_to_the_current(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    pulsed = np.flatnonzero((weld.fields.time_s > 0.0) & (weld.fields.time_s <= END_S))
    assert len(pulsed) > 5
    for instant in pulsed:
        told = weld.history["current_A"][instant]
        assert current(weld, "tip", instant) == pytest.approx(told, rel=1e-4)
    assert weld.fields.time_s[-1] > END_S
    assert current(weld, "tip", -1) == 0.0


def test_current_is_conserved_in_every_cell_it_passes(opposed: nugget.Weld) -> None:
    """Nothing leaves an opposed weld sideways, so that every row carries all of it."""
    assert opposed.fields is not None
    told = np.interp(opposed.fields.time_s, opposed.history["time_s"], opposed.history["current_A"])
    for layer in ("strip", "tip", "shank"):
        assert current(opposed, layer, 1) == pytest.approx(told[1], rel=1e-4)


def test_liquid_fraction_and_potential_stay_within_their_bounds(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    liquid = weld.fields.liquid_fraction[:, weld.active]
    assert liquid.min() == 0.0
    assert liquid.max() <= 1.0
    hot = nugget.simulate(coarse("pulse.0.duration=2 ms"), every=3)
    assert hot.fields is not None
    assert hot.fields.liquid_fraction[:, hot.active].max() == 1.0
    top = np.nanmax(weld.fields.potential_V[8])
    load = weld.history["load_ohm"][8] * weld.history["current_A"][8]
    assert 0.4 * load < top <= 0.5 * load  # one of two tips


def test_a_point_at_a_cell_centre_has_the_value_of_the_cell(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    r = 0.5 * (weld.r_faces_m[1:] + weld.r_faces_m[:-1])
    z = 0.5 * (weld.z_faces_m[1:] + weld.z_faces_m[:-1])
    rr, zz = np.meshgrid(r, z)
    for number in (0, 9, -1):
        found = weld.at(rr, zz, weld.fields.time_s[number])
        np.testing.assert_allclose(found, weld.fields.temperature_K[number], rtol=1e-13)
    hottest = weld.at(rr, zz)
    assert np.nanmax(hottest) == pytest.approx(weld.hottest_K, rel=1e-13)


def test_between_cells_and_steps_it_is_linear_and_layers_are_not_mixed(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    T, times = weld.fields.temperature_K, weld.fields.time_s
    r = 0.5 * (weld.r_faces_m[1:] + weld.r_faces_m[:-1])
    z = 0.5 * (weld.z_faces_m[1:] + weld.z_faces_m[:-1])
    strip = next(one for one in weld.layers if one.role == "strip")
    k = int(np.searchsorted(weld.z_faces_m, strip.bottom_m + 1e-9)) - 1
    point = 0.3 * r[2] + 0.7 * r[3], 0.6 * z[k] + 0.4 * z[k + 1]
    square = np.array([[0.3 * 0.6, 0.7 * 0.6], [0.3 * 0.4, 0.7 * 0.4]])
    assert weld.at(*point, times[8]) == pytest.approx(float((square * T[8, k : k + 2, 2:4]).sum()), rel=1e-12)
    half = 0.5 * (times[8] + times[9])
    both = 0.5 * (weld.at(*point, times[8]) + weld.at(*point, times[9]))
    assert weld.at(*point, half) == pytest.approx(float(both), rel=1e-12)
    assert weld.at(*point, 0.9 * times[8] + 0.1 * times[9], method="nearest") == weld.at(*point, times[8])
    # Just above and just below the faying surface stand the cells of strip and wall.
    assert weld.at(r[0], 1e-9, times[8]) == pytest.approx(T[8, k, 0], rel=1e-13)
    assert weld.at(r[0], -1e-9, times[8]) == pytest.approx(T[8, k - 1, 0], rel=1e-13)


def test_air_is_not_a_number_and_shapes_broadcast(weld: nugget.Weld) -> None:
    assert weld.fields is not None
    strip = next(one for one in weld.layers if one.role == "strip")
    outside = [strip.radius_m * 1.5, 1.0, 0.0, 0.0]
    heights = [0.5 * strip.top_m, 0.5 * strip.top_m, 1.0, -1.0]
    assert np.isnan(weld.at(outside, heights)).all()
    found = weld.at(np.zeros((3, 1)), 1e-6, weld.fields.time_s[:4])
    assert found.shape == (3, 4)
    assert np.isfinite(found).all()
    assert np.array_equal(weld.at(-1e-4, 1e-6, 1e-4), weld.at(1e-4, 1e-6, 1e-4))


def test_what_was_not_kept_is_said(weld: nugget.Weld) -> None:
    bare = nugget.simulate(SETUP)
    assert bare.at(0.0, 1e-6) == pytest.approx(float(weld.at(0.0, 1e-6)))
    with pytest.raises(InputError, match="every=1"):
        bare.at(0.0, 1e-6, 1e-4)
    with pytest.raises(InputError, match="an instant from 0 to"):
        weld.at(0.0, 1e-6, 30.0)
    with pytest.raises(InputError, match="field: got 'temperature'"):
        weld.at(0.0, 1e-6, field="temperature")
    with pytest.raises(InputError, match="t: got None"):
        weld.at(0.0, 1e-6, field="potential_V")
    with pytest.raises(InputError, match="method"):
        weld.at(0.0, 1e-6, method="cubic")  # type: ignore[arg-type]


def test_a_mirrored_weld_answers_below_its_plane_too(opposed: nugget.Weld) -> None:
    assert opposed.z_faces_m[0] == 0.0
    up, down = opposed.at(1e-4, [5e-5, -5e-5], 1e-3)
    assert up == down
    for name, sign in (
        ("potential_V", -1.0),
        ("current_density_r_A_m2", -1.0),
        ("current_density_z_A_m2", 1.0),
    ):
        up, down = opposed.at(1e-4, [5e-5, -5e-5], 1e-3, field=name)
        assert down == sign * up != 0.0


def test_kept_fields_are_saved_and_read_back(weld: nugget.Weld, tmp_path: Path) -> None:
    again = nugget.load_weld(weld.save(tmp_path / "weld.npz"))
    assert weld.fields is not None
    assert again.fields is not None
    for name, values in vars(weld.fields).items():
        np.testing.assert_array_equal(getattr(again.fields, name), values)


def test_the_dataset_has_units_and_survives_a_file(weld: nugget.Weld, tmp_path: Path) -> None:
    data = weld.to_xarray()
    assert weld.fields is not None
    units = {
        "temperature_K": "K",
        "liquid_fraction": "1",
        "potential_V": "V",
        "current_density_r_A_m2": "A/m2",
        "current_density_z_A_m2": "A/m2",
    }
    for name, unit in units.items():
        assert data[name].dims == ("time", "z", "r")
        assert data[name].attrs["units"] == unit
        np.testing.assert_array_equal(data[name].values, getattr(weld.fields, name))
    assert {data[name].attrs["units"] for name in ("z", "r")} == {"m"}
    assert data["time"].attrs["units"] == "s"
    np.testing.assert_array_equal(data["history_current_A"].values, weld.history["current_A"])
    assert data["history_current_A"].attrs["units"] == "A"
    data.to_netcdf(tmp_path / "weld.nc", engine="scipy")
    with xr.open_dataset(tmp_path / "weld.nc", engine="scipy", decode_times=False) as again:
        xr.testing.assert_equal(again["temperature_K"], data["temperature_K"])
        assert again["potential_V"].attrs["units"] == "V"


def test_without_kept_fields_the_dataset_holds_the_two_moments() -> None:
    weld = nugget.simulate(SETUP)
    data = weld.to_xarray()
    assert "potential_V" not in data
    assert data["time"].values.tolist() == sorted({s.time_s for s in weld.snapshots.values()})
    assert float(data["temperature_K"].max()) == weld.hottest_K


def test_the_table_of_histories_has_time_as_its_index(weld: nugget.Weld) -> None:
    table = weld.to_dataframe()
    np.testing.assert_array_equal(table.index.to_numpy(), weld.history["time_s"])
    np.testing.assert_array_equal(table["current_A"].to_numpy(), weld.history["current_A"])
    assert table.attrs["units"]["contact_radius_m"] == "m"


def volumes(mesh: meshio.Mesh) -> list[FloatArray]:
    """Volume of every wedge and hexahedron by the divergence theorem, faces as VTK orders them."""
    faces = {
        "wedge": ((0, 1, 2), (3, 5, 4), (0, 3, 4, 1), (1, 4, 5, 2), (2, 5, 3, 0)),
        "hexahedron": (
            *((0, 3, 2, 1), (4, 5, 6, 7), (0, 1, 5, 4)),
            *((1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7)),
        ),
    }
    found = []
    for block in mesh.cells:
        total = np.zeros(len(block.data))
        for face in faces[block.type]:
            corners = mesh.points[block.data[:, face]]
            for k in range(1, len(face) - 1):
                a, b, c = corners[:, 0], corners[:, k], corners[:, k + 1]
                total += np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
        found.append(total)
    return found


def test_a_section_is_read_back_cell_by_cell(weld: nugget.Weld, tmp_path: Path) -> None:
    assert weld.fields is not None
    t = weld.fields.time_s[9]
    (path,) = weld.to_vtk(tmp_path / "section.vtu", t=t)
    mesh = meshio.read(path)
    assert [block.type for block in mesh.cells] == ["quad"]
    middle = mesh.points[mesh.cells[0].data].mean(axis=1)
    for name in ("temperature_K", "liquid_fraction", "potential_V"):
        expected = weld.at(middle[:, 0], middle[:, 2], t, field=name)
        np.testing.assert_allclose(mesh.cell_data[name][0], expected, rtol=1e-12)
    density = mesh.cell_data["current_density_A_m2"][0]
    expected = weld.at(middle[:, 0], middle[:, 2], t, field="current_density_z_A_m2")
    np.testing.assert_allclose(density[:, 2], expected, rtol=1e-9, atol=1e-3)
    layer = mesh.cell_data["layer"][0].astype(int)
    for number in range(len(weld.layers)):
        inside = middle[layer == number, 2]
        assert (inside > weld.layers[number].bottom_m).all()
        assert (inside < weld.layers[number].top_m).all()


def test_a_turned_weld_fills_its_volume(weld: nugget.Weld, tmp_path: Path) -> None:
    (path,) = weld.to_vtk(tmp_path / "turned.vtu", segments=24)
    mesh = meshio.read(path)
    ring = np.pi * np.diff(weld.r_faces_m**2)[None, :] * np.diff(weld.z_faces_m)[:, None]
    whole = float(ring[weld.active].sum())
    polygon = 24.0 / (2.0 * np.pi) * np.sin(2.0 * np.pi / 24.0)  # area of a 24-gon in its circle
    each = np.concatenate(volumes(mesh))
    assert each.min() > 0.0
    assert each.sum() == pytest.approx(whole * polygon, rel=1e-9)
    hottest = max(float(np.max(values)) for values in mesh.cell_data["temperature_K"])
    assert hottest == pytest.approx(weld.hottest_K, rel=1e-12)


def test_a_mirrored_weld_is_written_whole(opposed: nugget.Weld, tmp_path: Path) -> None:
    (path,) = opposed.to_vtk(tmp_path / "whole.vtu")
    mesh = meshio.read(path)
    assert mesh.points[:, 2].min() == -mesh.points[:, 2].max()
    assert len(mesh.cells[0].data) == 2 * int(opposed.active.sum())
    potential = mesh.cell_data["potential_V"][0]
    assert np.nanmin(potential) == -np.nanmax(potential)


def test_instants_become_a_series(weld: nugget.Weld, tmp_path: Path) -> None:
    few = nugget.simulate(SETUP, keep=[0.0, 1e-4, 2e-4])
    collection, *parts = few.to_vtk(tmp_path / "series.pvd")
    entries = ET.parse(collection).getroot().findall("./Collection/DataSet")
    assert [float(entry.attrib["timestep"]) for entry in entries] == [0.0, 1e-4, 2e-4]
    assert [tmp_path / entry.attrib["file"] for entry in entries] == parts
    warmer = [float(np.nanmax(meshio.read(part).cell_data["temperature_K"][0])) for part in parts]
    assert warmer == sorted(warmer)


def test_what_vtk_cannot_do_is_one_line(
    weld: nugget.Weld, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for path, options, words in (
        ("weld.vtx", {}, "a name that ends in"),
        ("weld.vtu", {"t": 30.0}, "an instant from"),
        ("weld.vtu", {"segments": 2}, "segments"),
        ("weld.pvd", {"t": 0.0}, "every instant"),
    ):
        with pytest.raises(InputError, match=words):
            weld.to_vtk(tmp_path / path, **options)  # type: ignore[arg-type]
    monkeypatch.setitem(__import__("sys").modules, "meshio", None)
    with pytest.raises(InputError, match=r"pip install 'nugget\[fields\]'"):
        vtk.write_vtk(weld, tmp_path / "weld.vtu", None, None)
    assert not list(tmp_path.iterdir())


def test_a_judged_weld_draws_exports_and_shows_itself(tmp_path: Path) -> None:
    assessment = nugget.judge(coarse("pulse.0.duration=0.05 ms"))
    assert isinstance(assessment.weld, nugget.Weld)
    assessment.weld.plot_section().savefig(tmp_path / "section.png")
    assert assessment.verdict == assessment.statement.verdict == "too cold"
    assert len(repr(assessment).splitlines()) <= 3
    html = assessment._repr_html_()
    assert assessment.verdict in html
    assert "data:image/png;base64," in html
    assert "not a safe weld" in html


def test_text_in_a_notebook_is_escaped() -> None:
    weld = nugget.simulate(coarse("title=<script>alert(1)</script>", "pulse.0.duration=0.02 ms"))
    html = weld._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def test_a_weld_prints_in_a_few_lines_and_completes_its_figures(weld: nugget.Weld) -> None:
    assert len(repr(weld).splitlines()) <= 9
    assert len(repr(weld)) < 500
    assert {"nugget_diameter_m", "at", "to_xarray", "history"} <= set(dir(weld))


def test_a_section_is_drawn_where_the_caller_wants(weld: nugget.Weld) -> None:
    from matplotlib.figure import Figure

    figure = Figure()
    left, right = figure.subplots(1, 2)
    assert weld.plot_section(ax=right) is right
    assert right.has_data()
    assert not left.has_data()
