"""Histories share one readable time axis and name every curve beside it."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

import nugget
from nugget.outcome.weld import Weld, run_weld
from nugget.pages.history_plots import history_plots
from nugget.plot.histories import histories_figure

COARSE = ["numerics.refinement=0.4", "numerics.tolerance=20 K"]


@pytest.fixture(scope="module")
def weld() -> Weld:
    """Two pulses, so that the shading has something to tell apart."""
    train = ["pulse.0.duration=1 ms", "pulse.0.cool_time=2 ms", "pulse.1.duration=5 ms"]
    return run_weld(nugget.default_setup([*COARSE, *train]))


@pytest.fixture(scope="module")
def figure(weld: Weld) -> Figure:
    return histories_figure(weld)


def panel(figure: Figure, title: str) -> Any:
    (found,) = [one for one in figure.axes if one.get_title(loc="left").startswith(title)]
    return found


def curves(axes: Any) -> dict[str, Any]:
    return {line.get_label(): line for line in axes.lines if not line.get_label().startswith("_")}


def test_one_time_axis_from_a_tenth_of_a_millisecond(weld: Weld, figure: Figure) -> None:
    for axes in figure.axes:
        assert axes.get_xscale() == "log"
        assert axes.get_xlim() == (1e-4, weld.history["time_s"][-1])
    formatter = figure.axes[-1].xaxis.get_major_formatter()
    assert [formatter(value, 0) for value in (1e-4, 1e-2, 1.0)] == ["0.1 ms", "10 ms", "1 s"]
    assert figure.axes[-1].get_xlabel().startswith("time")


def test_pulses_are_shaded_in_every_panel(figure: Figure) -> None:
    for axes in figure.axes:
        spans = [patch for patch in axes.patches if isinstance(patch, Rectangle)]
        ends = [(span.get_x(), span.get_x() + span.get_width()) for span in spans]
        np.testing.assert_allclose(ends, [(0.0, 1e-3), (3e-3, 8e-3)], atol=1e-8)


def test_current_and_dynamic_resistance(weld: Weld, figure: Figure) -> None:
    current = curves(panel(figure, "Current"))["current"].get_ydata()
    assert np.nanmax(current) == pytest.approx(weld.figures["peak_current_A"] / 1e3)
    load = curves(panel(figure, "Dynamic resistance"))["load"].get_ydata()
    on = weld.history["load_ohm"] > 0.0
    np.testing.assert_allclose(load[on], weld.history["load_ohm"][on] * 1e3)
    assert np.isnan(load[~on]).any()


def test_the_growth_curve_and_its_target(weld: Weld, figure: Figure) -> None:
    axes = panel(figure, "Joint")
    found = curves(axes)
    assert list(found) == [
        "contact, strip to wall",
        "contact, tip to strip",
        "bonded, solid state",
        "melted on one side",
        "nugget",
    ]
    drawn = np.nanmax(found["nugget"].get_ydata())
    assert drawn == pytest.approx(weld.history["nugget_diameter_m"].max() * 1e3)
    told = [text.get_text() for text in axes.texts]
    assert "minimum 0.48 mm" in told
    assert f"nugget: {drawn:.2f} mm" in told


def test_curves_differ_in_more_than_colour(figure: Figure) -> None:
    for axes in figure.axes:
        looks = [line._dash_pattern for line in curves(axes).values()]
        assert all(one != other for one, other in combinations(looks, 2))


def test_the_interior_against_its_limit(weld: Weld, figure: Figure) -> None:
    axes = panel(figure, "Interior")
    told = [text.get_text() for text in axes.texts]
    assert "limit 130 °C" in told
    assert f"jelly roll, top: {weld.history['roll_K'].max() - 273.15:.0f} °C" in told
    low, high = axes.get_ylim()
    assert low < 20.0 < 130.0 < high


def test_faces_in_perfect_contact_share_a_curve(figure: Figure) -> None:
    assert list(curves(panel(figure, "Can wall"))) == ["wall, inner face and insulating disc, top"]


def test_a_coupon_shows_its_back_face_only() -> None:
    coupon = run_weld(nugget.preset("coupon", [*COARSE, "pulse.0.duration=0.5 ms"]))
    figure = histories_figure(coupon)
    assert list(curves(panel(figure, "Back of the wall"))) == ["back face"]
    assert len(figure.axes) == 4
    assert figure.axes[0].get_xlim()[0] == pytest.approx(5e-5)  # a shorter pulse, an earlier start


@pytest.fixture(scope="module")
def cap() -> Weld:
    return run_weld(nugget.preset("18650-positive", COARSE))


def test_a_positive_end_shows_cap_and_gasket_instead_of_a_winding_that_stays_cool(cap: Weld) -> None:
    figure = histories_figure(cap)
    assert not any(one.get_title(loc="left").startswith("Interior") for one in figure.axes)
    axes = panel(figure, "Cap and gasket")
    found = curves(axes)
    rim, mean = (np.asarray(found[name].get_ydata()) for name in ("gasket, at the cap's rim", "cap, mean"))
    assert np.nanmax(rim) <= cap.gasket_peak_K - 273.15 + 1e-6
    assert np.nanmax(rim) > np.nanmax(mean) > 30.0
    assert any(np.allclose(line.get_ydata(), 120.0) for line in axes.lines)
    titles = [plot.title for plot in history_plots(cap)]
    assert "Cap and gasket" in titles
    assert "Winding" not in titles


def test_events_that_lie_close_are_named_on_both_sides() -> None:
    """A hold that is as long as the pulse: on a logarithmic axis both names lie at one place."""
    long = run_weld(
        nugget.preset("default", [*COARSE, "pulse.0.duration=40 ms", "source.open_circuit_voltage=4 V"])
    )
    sides = {text.get_text(): text.get_ha() for text in histories_figure(long).axes[0].texts}
    assert sides == {"current off": "right", "end of hold": "left"}


def test_the_name_of_an_event_keeps_clear_of_the_title() -> None:
    """A short pulse ends at the left: its name stands below the title, wherever that ends."""
    short = run_weld(nugget.default_setup(COARSE))
    figure = histories_figure(short)
    figure.canvas.draw()
    first = figure.axes[0]
    title = next(one for one in (first.title, first._left_title) if one.get_text())  # type: ignore[attr-defined]
    assert all(one.get_window_extent().y1 <= title.get_window_extent().y0 for one in first.texts)
