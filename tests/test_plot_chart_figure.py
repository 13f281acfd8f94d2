"""The chart as a picture: what it shows and names, on made-up growths."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from growths import growth
from matplotlib.colors import to_rgba
from matplotlib.figure import Figure

from nugget.cli.chart_text import print_chart
from nugget.plot.chart_figure import chart_figure
from nugget.plot.panel import SURE
from nugget.setup import Setup, default_setup
from nugget.study.charting import duration_chart as module
from nugget.study.charting.duration_chart import Plan, draw_up, plan_chart
from nugget.study.charting.plotted_trials import PlottedTrial
from nugget.study.durations.edges import Growth
from nugget.study.inputs.variation import lobe_axis, read_axis
from nugget.study.trial_words import RESULTS

SETUP = default_setup(["strip.thickness=0.15 mm", "pulse.0.duration=6 ms"])
AXIS = read_axis(SETUP, "strip.thickness=0.05:0.30 mm:6")
GREEN = to_rgba(SURE)
Grow = Callable[[tuple[Setup, float]], Growth]


def narrowing(task: tuple[Setup, float]) -> Growth:
    mm = 1e3 * sum(layer.thickness_m for layer in task[0].strip)
    return growth(26.0 * mm, {"can_penetration": 6.0, "expulsion": 14.0})


@cache
def plan(lobe: bool, strips: tuple[str, ...], spread: bool) -> Plan:
    return plan_chart(SETUP, lobe_axis(SETUP) if lobe else AXIS, strips, spread=spread, welds=32)


def figure(
    monkeypatch: pytest.MonkeyPatch,
    grow: Grow = narrowing,
    lobe: bool = False,
    strips: tuple[str, ...] = (),
    spread: bool = True,
    trials: tuple[PlottedTrial, ...] = (),
    advice: bool = False,
) -> Figure:
    monkeypatch.setattr(module, "grow", grow)
    return chart_figure(draw_up(plan(lobe, strips, spread), advice=advice), trials, lobe)


def words(drawn: Figure) -> str:
    inside = [text.get_text() for axes in drawn.axes for text in axes.texts]
    return "\n".join([*inside, *(text.get_text() for text in drawn.texts)])


def test_lines_carry_their_names_and_the_limit_that_binds_is_bold(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = figure(monkeypatch)
    (axes,) = drawn.axes
    weights = {text.get_text(): text.get_weight() for text in axes.texts}
    assert weights["can penetration limit"] == "bold"
    assert weights["expulsion"] == "normal"
    assert weights["reaches the minimum weld diameter"] == "bold"
    assert "bonding onset (solid-state)" in weights
    assert axes.get_ylabel() == "pulse duration, ms"
    assert axes.get_xlabel() == "strip thickness, mm"


def test_names_lie_inside_the_axes_and_on_no_other_name(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = figure(monkeypatch)
    (axes,) = drawn.axes
    boxes = [text.get_window_extent() for text in axes.texts if "no window" not in text.get_text()]
    for k, box in enumerate(boxes):
        assert axes.bbox.x0 <= box.x0
        assert box.x1 <= axes.bbox.x1
        assert not any(box.overlaps(other) for other in boxes[k + 1 :])


def test_the_window_as_set_up_is_outlined_between_its_edges_and_hatched_where_there_is_none(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    drawn = figure(monkeypatch, advice=True)
    (axes,) = drawn.axes
    nominal = next(
        c for c in axes.collections if len(c.get_edgecolor()) and np.allclose(c.get_edgecolor(), GREEN)
    )
    points = nominal.get_paths()[0].vertices
    assert points[:, 0].max() == pytest.approx(6.0 / 26.0, abs=0.01), "up to where the edges cross"
    assert points[:, 1].min() == pytest.approx(1.3, rel=0.01)
    assert points[:, 1].max() == pytest.approx(6.0, rel=0.01)
    sure = next(
        c
        for c in axes.collections
        if len(c.get_facecolor()) and np.allclose(c.get_facecolor(), GREEN) and c.get_paths()
    )
    inside = sure.get_paths()[0].vertices
    assert inside[:, 1].min() > points[:, 1].min()
    assert inside[:, 1].max() < points[:, 1].max()
    assert any(patch.get_hatch() for patch in axes.patches)
    assert "No window at 0.25 mm" in words(drawn)
    assert "comes before the minimum weld diameter" in words(drawn)


def test_the_users_own_setting_is_where_it_belongs(monkeypatch: pytest.MonkeyPatch) -> None:
    (axes,) = figure(monkeypatch).axes
    stars = [line for line in axes.lines if line.get_marker() == "*"]
    assert len(stars) == 1
    assert stars[0].get_xydata()[0] == pytest.approx([0.15, 1e3 * SETUP.train[-1].duration_s])


def test_the_answer_for_the_users_own_setting_stands_above(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = figure(monkeypatch)
    assert "At 0.15 mm: in window 4." in words(drawn)
    assert "ms, as set up 3.9 to 6 ms" in words(drawn)
    assert "At 0.15 mm: 3.9 to 6 ms\n" in words(figure(monkeypatch, spread=False))
    none = figure(monkeypatch, lambda task: growth(None), spread=False)
    assert "At 0.15 mm: no window" in words(none)
    unsure = figure(monkeypatch, lambda task: growth(4.0, {"can_penetration": 150.0 / task[0].force_N}))
    assert "At 0.15 mm: no duration is in window, as set up 4 to 5 ms" in words(unsure)
    assert "At 0.15 mm: 4 ms and more" in words(
        figure(monkeypatch, lambda task: growth(4.0, {}), spread=False)
    )


def test_no_name_covers_the_own_setting_or_a_trial(monkeypatch: pytest.MonkeyPatch) -> None:
    trials = tuple(PlottedTrial(ms * 1e-3, 0.1e-3, "held", None) for ms in (1.5, 2.6, 3.0, 6.0))
    (axes,) = figure(monkeypatch, trials=trials).axes
    alone = [line.get_xydata()[0] for line in axes.lines if len(line.get_xdata()) == 1]
    assert len(alone) == 5
    for x, y in axes.transData.transform(alone):
        assert not any(text.get_window_extent().contains(x, y) for text in axes.texts)


def test_a_window_that_no_limit_ends_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "no limit met" in words(figure(monkeypatch, lambda task: growth(4.0, {"can_penetration": None})))
    stopped = growth(2.0, {"can_penetration": None}, 3.0, "the simulation stopped at 3 ms: why")
    assert "not known beyond" in words(figure(monkeypatch, lambda task: stopped))
    assert "no limit met" not in words(figure(monkeypatch))


def test_a_source_that_runs_out_is_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = growth(4.0, {"can_penetration": None})
    fades = replace(whole, current_A=tuple(1500.0 * 0.8**k for k in range(len(whole.time_s))))
    (axes,) = figure(monkeypatch, lambda task: fades).axes
    assert any(text.get_text() == "current below 50% of its peak" for text in axes.texts)
    assert any(np.allclose(line.get_ydata(), 4.0) and line.get_color() == "#6f6f6f" for line in axes.lines)


def test_what_a_relay_cannot_make_is_drawn_and_named(monkeypatch: pytest.MonkeyPatch) -> None:
    slow = replace(growth(4.0, {"can_penetration": 15.0}), shortest_s=10e-3)
    (axes,) = figure(monkeypatch, lambda task: slow, spread=False).axes
    assert any(text.get_text() == "shortest that the relay makes" for text in axes.texts)
    assert any(np.allclose(line.get_ydata(), 10.0) and line.get_color() == "#6f6f6f" for line in axes.lines)
    assert "relay" not in words(figure(monkeypatch, spread=False))


def test_bands_reach_the_longest_pulse_where_some_welds_never_make_the_joint(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def never_when_light(task: tuple[Setup, float]) -> Growth:
        return growth(None if task[0].force_N < 30.0 else 4.0, {"can_penetration": 15.0})

    (axes,) = figure(monkeypatch, never_when_light).axes
    blue = [
        c
        for c in axes.collections
        if len(c.get_facecolor()) and np.allclose(c.get_facecolor(), [[0, 0.447, 0.698, 0.13]], atol=0.01)
    ]
    points = blue[0].get_paths()[0].vertices
    assert points[:, 1].min() < 4.0
    assert points[:, 1].max() == pytest.approx(20.0)


def test_trials_are_laid_over_their_own_strip(monkeypatch: pytest.MonkeyPatch) -> None:
    trials = (PlottedTrial(5e-3, 0.15e-3, "button", "copper-etp"), PlottedTrial(3e-3, 0.1e-3, "loose", None))
    drawn = figure(monkeypatch, strips=("nickel-200", "copper-etp"), trials=trials)
    crosses = [[line.get_marker() for line in axes.lines].count("x") for axes in drawn.axes]
    assert crosses == [1, 1]
    filled = [
        [p.tolist() for line in axes.lines for p in line.get_xydata() if len(line.get_xdata()) == 1]
        for axes in drawn.axes
    ]
    assert [0.15, 5.0] not in [[round(v, 6) for v in p] for p in filled[0]]
    assert [0.15, 5.0] in [[round(v, 6) for v in p] for p in filled[1]]
    assert "trial: button" in [text.get_text() for text in drawn.legends[0].texts]
    assert [axes.get_title() or axes.get_title("left") for axes in drawn.axes] == ["nickel-200", "copper-etp"]


def test_the_lobe_has_weld_time_along_x(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = figure(monkeypatch, lambda task: growth(4.0, {"can_penetration": 12.0}), lobe=True)
    (axes,) = drawn.axes
    assert axes.get_xlabel() == "weld time, ms"
    assert axes.get_ylabel() == "source open circuit voltage, V"
    assert axes.get_xscale() == "log"
    assert "Weldability lobe" in words(drawn)


@pytest.mark.parametrize(
    "grow",
    [
        lambda task: growth(None, {"can_penetration": None}),
        lambda task: growth(None, {"can_penetration": 0.0}),
        lambda task: growth(2.0, {"can_penetration": None}, 3.0, "the simulation stopped at 3 ms: why"),
        lambda task: growth(None, {"can_penetration": None}, 3.0, "the simulation stopped at 3 ms: why"),
        lambda task: growth(4.0, {"can_penetration": None}, unknown="it stopped"),
        lambda task: growth(0.0, {}),
    ],
)
def test_whatever_was_found_can_be_drawn(grow: Grow, monkeypatch: pytest.MonkeyPatch) -> None:
    figure(monkeypatch, grow).draw_without_rendering()


@pytest.mark.parametrize("form", ["png", "svg", "pdf"])
def test_every_form_of_picture(form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.BytesIO()
    figure(monkeypatch, spread=False).savefig(stream, format=form)
    assert stream.tell() > 5000


def test_a_column_that_could_not_tell_is_not_called_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = figure(
        monkeypatch, lambda task: growth(None, {"can_penetration": None}, 3.0, "the march stopped")
    )
    assert "not known" in words(drawn)
    assert "no window" not in words(drawn)


def test_no_line_leaves_the_axes(monkeypatch: pytest.MonkeyPatch) -> None:
    def early(task: tuple[Setup, float]) -> Growth:
        return growth(4.0, {"can_penetration": 8.0 if task[0].force_N > 29.0 else 0.05, "expulsion": None})

    (axes,) = figure(monkeypatch, early).axes
    low, _ = axes.get_ylim()
    lines = [np.asarray(line.get_ydata(), dtype=float) for line in axes.lines if not line.get_clip_on()]
    assert lines
    assert all(np.nanmin(y) >= low for y in lines if np.isfinite(y).any())


def test_trials_on_a_coupon_are_told_from_those_on_a_cell(monkeypatch: pytest.MonkeyPatch) -> None:
    def drawn(*cells: str | None) -> tuple[int, list[str]]:
        trials = tuple(
            PlottedTrial(3e-3 + k * 1e-3, 0.1e-3, "held", None, cell) for k, cell in enumerate(cells)
        )
        done = figure(monkeypatch, trials=trials)
        under = [line for line in done.axes[0].lines if line.get_marker() == "_"]
        return len(under), [text.get_text() for text in done.legends[0].texts]

    count, key = drawn("coupon", None, "cell", "empty can")
    assert count == 2
    assert key[-1] == "underlined: made on a coupon or an empty can"
    count, key = drawn(None, "cell")
    assert count == 0
    assert not any("underlined" in text for text in key)


def test_the_key_of_many_trials_stays_clear_of_the_axis(monkeypatch: pytest.MonkeyPatch) -> None:
    trials = tuple(PlottedTrial(3e-3, 0.1e-3, name, None) for name in RESULTS)
    drawn = figure(monkeypatch, trials=trials)
    drawn.draw_without_rendering()
    (axes,) = drawn.axes
    assert drawn.legends[0].get_window_extent().y1 < axes.xaxis.label.get_window_extent().y0


def test_pulses_of_a_transformer_are_counted_in_half_cycles(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """60 Hz: the axis has whole half cycles of 8.33 ms, and the answer is in them."""
    mains = default_setup(
        [
            "strip.thickness=0.15 mm",
            'source={kind="transformer", open_circuit_voltage_rms="3 V", frequency="60 Hz",'
            ' winding_resistance="0.5 mohm", leakage_inductance="1 uH"}',
            "pulse=[{half_cycles=2}]",
        ]
    )
    monkeypatch.setattr(module, "grow", lambda task: growth(1e3 / 60.0, {"can_penetration": 5e3 / 120.0}))
    axis = read_axis(mains, "strip.thickness=0.05:0.30 mm:6")
    chart = draw_up(plan_chart(mains, axis, (), spread=False), advice=False)
    print_chart(chart)
    said = capsys.readouterr().out
    assert "Your setting: 2 half cycles at 0.15 mm" in said
    assert re.search(r"0.1 mm +2 half cycles +5 half cycles", said)
    drawn = chart_figure(chart, (), False)
    (axes,) = drawn.axes
    assert axes.get_ylabel() == "pulse duration, half cycles of 8.33 ms"
    ticks = [label.get_text() for label in axes.get_yticklabels()]
    assert {"2", "4", "5"} <= {*ticks}
    assert all(float(tick).is_integer() for tick in ticks)
    assert "At 0.15 mm: 2 to 5 half cycles" in words(drawn)
