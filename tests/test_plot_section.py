"""The cross-section shows what was solved: whole, named, in mm and °C, with its isotherms."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from matplotlib.contour import QuadContourSet
from matplotlib.figure import Figure

import nugget
from nugget.outcome.probing import is_mirrored
from nugget.outcome.weld import LayerInfo, Weld, run_weld
from nugget.plot.section import layer_name, layers, section_figure, whole_field

COARSE = ["numerics.refinement=0.4", "numerics.tolerance=20 K"]


@pytest.fixture(scope="module")
def weld() -> Weld:
    return run_weld(nugget.default_setup([*COARSE, "pulse.0.duration=4 ms", "hold_time=10 ms"]))


@pytest.fixture(scope="module")
def figure(weld: Weld) -> Figure:
    return section_figure(weld)


@pytest.fixture(scope="module")
def sheets() -> Weld:
    source = ["source.kind=constant current", "source.current=9 kA"]
    return run_weld(nugget.preset("sheets", [*COARSE, *source, "pulse.0.duration=20 ms"]))


def isotherms(panel: Any) -> dict[str, QuadContourSet]:
    found = [one for one in panel.collections if isinstance(one, QuadContourSet)]
    return {str(one.get_label()): one for one in found}


def words(panel: Any) -> list[str]:
    return [text.get_text() for text in panel.texts]


def test_two_panels_with_time_and_temperature(weld: Weld, figure: Figure) -> None:
    hottest, inner = figure.axes
    state = f"{weld.snapshots['hottest'].time_s * 1e3:.3g} ms"
    assert hottest.get_title(loc="left").startswith(f"Hottest moment, {state}")
    top = weld.figures["hottest_K"] - 273.15
    assert hottest.get_title(loc="left").endswith(f": {top:.0f} °C")
    assert inner.get_title(loc="left").startswith("Top of the winding at its peak")
    for panel in figure.axes:
        assert "mm" in panel.get_xlabel()
        assert "mm" in panel.get_ylabel()
        assert panel.get_aspect() == 1.0
        (scale,) = panel.child_axes
        assert scale.get_xlabel() == "temperature, °C"


def test_layers_are_named(figure: Figure) -> None:
    names = ["strip: Nickel 200", "wall: Deep-drawn can steel", "disc: Polypropylene"]
    for panel in figure.axes:
        assert set(names) <= set(words(panel))
    assert "tip: CuCrZr" in words(figure.axes[0])


def test_the_tip_is_gone_after_it_lifted(weld: Weld, figure: Figure) -> None:
    assert weld.snapshots["interior peak"].time_s > weld.setup.train_s + weld.setup.hold_s
    assert "tip: CuCrZr" not in words(figure.axes[1])
    strip_m = sum(layer.thickness_m for layer in weld.setup.strip)
    field = whole_field(weld, weld.snapshots["interior peak"])
    assert np.isnan(field.temperature[field.centres[1] > strip_m * 1e3]).all()


def test_the_melt_isotherm_encloses_the_melt(weld: Weld, figure: Figure) -> None:
    (path,) = isotherms(figure.axes[0])["melting point"].get_paths()
    liquid = whole_field(weld, weld.snapshots["hottest"])
    melted = np.abs(liquid.centres[0])[(liquid.melting > 0.0).any(axis=0)].max()
    reach = np.abs(path.vertices[:, 0]).max()
    assert melted <= reach <= melted + np.diff(liquid.r_faces).max()
    # When the winding is hottest all metal is solid again, and the disc is still molten.
    (disc,) = [layer for layer in weld.layers if layer.role == "disc"]
    (path,) = isotherms(figure.axes[1])["melting point"].get_paths()
    slack = 0.5 * np.diff(liquid.z_faces).min()
    assert (path.vertices[:, 1] > disc.bottom_m * 1e3 - slack).all()
    assert (path.vertices[:, 1] < disc.top_m * 1e3 + slack).all()


def test_the_limit_isotherm_lies_at_the_limit(figure: Figure) -> None:
    line = isotherms(figure.axes[0])["130 °C, limit of the top of the winding"]
    assert list(line.levels) == [pytest.approx(130.0)]


def test_the_legend_tells_the_two_isotherms_apart(figure: Figure) -> None:
    (legend,) = figure.legends
    told = [text.get_text() for text in legend.get_texts()]
    assert told == ["melting point", "130 °C, limit of the top of the winding"]
    first, second = legend.get_lines()
    assert first.get_linestyle() != second.get_linestyle()


def test_without_a_limit_there_is_no_limit_isotherm(weld: Weld) -> None:
    import dataclasses

    off = {f"limits.{limit.id}": "none" for limit in weld.setup.limits}
    free = dataclasses.replace(weld, setup=weld.setup.with_(off))
    (legend,) = section_figure(free).legends
    assert [text.get_text() for text in legend.get_texts()] == ["melting point"]


def test_the_field_is_mirrored_at_the_axis_and_blank_in_air(weld: Weld) -> None:
    field = whole_field(weld, weld.snapshots["hottest"])
    np.testing.assert_array_equal(field.temperature, field.temperature[:, ::-1])
    np.testing.assert_allclose(field.r_faces, -field.r_faces[::-1])
    half = field.temperature[:, field.temperature.shape[1] // 2 :]
    assert (np.isnan(half) == ~weld.active).all()
    assert np.nanmax(half) == pytest.approx(weld.figures["hottest_K"] - 273.15)


def test_opposed_sheets_are_unfolded_at_their_mirror_plane(sheets: Weld) -> None:
    assert is_mirrored(sheets)
    field = whole_field(sheets, sheets.snapshots["hottest"])
    np.testing.assert_array_equal(field.temperature, field.temperature[::-1])
    roles = [band.role for band in layers(sheets, sheets.snapshots["hottest"])]
    assert roles == ["shank", "tip", "strip", "strip", "tip", "shank"]
    (panel,) = section_figure(sheets).axes
    assert words(panel).count("tip: CuCrZr") == 2


def test_names_of_layers() -> None:
    def band(role: str, title: str) -> LayerInfo:
        return LayerInfo(title, role, 0.0, 1.0, 1.0)

    assert layer_name(band("can", "Deep-drawn can steel, 0.06 % C"), False) == "wall: Deep-drawn can steel"
    assert layer_name(band("can", "Copper, hard drawn"), True) == "sheet: Copper"
    assert layer_name(band("roll", "Jelly roll, iron phosphate"), False) == "jelly roll"
    assert layer_name(band("lower tip", "CuCrZr (C18150)"), True) == "tip: CuCrZr"
