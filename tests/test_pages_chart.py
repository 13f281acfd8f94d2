"""The chart page: edges to read, groups to switch, the growth curve of each column."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import browser
import pytest
from growths import growth

from nugget.pages.chart_page import chart_page
from nugget.pages.line_plot import SHAPES
from nugget.plot.trial_marks import MARKERS
from nugget.setup import Setup, default_setup
from nugget.study.charting import duration_chart as module
from nugget.study.charting.duration_chart import Chart, draw_up, plan_chart
from nugget.study.charting.plotted_trials import PlottedTrial
from nugget.study.durations.edges import Growth
from nugget.study.inputs.variation import read_axis
from nugget.study.trial_words import RESULTS

SETUP = default_setup(["strip.thickness=0.15 mm", "pulse.0.duration=6 ms"]).with_(
    {"title": "<script>alert(1)</script>"}
)
TRIALS = tuple(PlottedTrial(5e-3, 0.15e-3, result, None, "coupon") for result in RESULTS)


def narrowing(task: tuple[Setup, float]) -> Growth:
    mm = 1e3 * sum(layer.thickness_m for layer in task[0].strip)
    return growth(26.0 * mm, {"can_penetration": 6.0, "expulsion": 14.0})


@pytest.fixture(scope="module")
def chart() -> Chart:
    axis = read_axis(SETUP, "strip.thickness=0.05:0.30 mm:6")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "grow", narrowing)
        return draw_up(plan_chart(SETUP, axis, welds=32), advice=False)


@pytest.fixture(scope="module")
def file(chart: Chart, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pages") / "chart.html"
    path.write_text(chart_page(chart, TRIALS), encoding="utf-8")
    return path


def test_every_mark_of_a_trial_has_an_outline() -> None:
    assert {letter for letter, _ in MARKERS.values()} | {"*"} == set(SHAPES)


def test_the_table_says_what_the_chart_says(chart: Chart) -> None:
    page = chart_page(chart)
    for column in chart.panels[0].columns:
        for one in (column.window, column.known):
            if one is not None and one.open and one.from_s is not None and one.until_s is not None:
                assert f"{one.from_s * 1e3:.3g} to {one.until_s * 1e3:.3g} ms" in page
    assert sum(column.known is not None and column.known.open for column in chart.panels[0].columns) == 3
    assert page.count("<script>") == 1


def test_an_alternating_source_is_counted_in_half_cycles() -> None:
    source = (
        'source={kind="transformer", open_circuit_voltage_rms="3 V", frequency="50 Hz",'
        ' winding_resistance="0.5 mohm", leakage_inductance="1 uH"}'
    )
    setup = default_setup([source, "pulse=[{half_cycles=2}]"])
    axis = read_axis(setup, "strip.thickness=0.05:0.30 mm:6")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "grow", lambda _: growth(10.0, {"can_penetration": 50.0}, searched_ms=60.0))
        page = chart_page(draw_up(plan_chart(setup, axis, welds=32), advice=False))
    assert "1 to 5 half cycles of 10 ms" in page
    assert "pulse duration, half cycles of 10 ms" in page


@pytest.fixture(scope="module")
def shown() -> Iterator[Any]:
    with browser.started() as found:
        yield found


def test_the_pointer_reads_edges_and_brings_the_growth_curve(shown: Any, file: Path, chart: Chart) -> None:
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    browser.opened(shown, file)
    assert browser.complaints(shown) == []
    assert browser.requests(shown) == []
    svg, said = (shown.find_element(By.CSS_SELECTOR, f"[data-chart] {name}") for name in ("svg", ".reading"))
    svg.send_keys(Keys.HOME)
    first = chart.panels[0].columns[0]
    assert f"minimum diameter reached {float(f'{first.window.from_s * 1e3:.4g}'):g} ms" in said.text
    curves = shown.find_elements(By.CSS_SELECTOR, "[data-column]")
    assert [curve.is_displayed() for curve in curves] == [True] + [False] * 5
    svg.send_keys(Keys.END)
    assert [curve.is_displayed() for curve in curves] == [False] * 5 + [True]


def test_boxes_switch_limits_and_confidence(shown: Any, file: Path) -> None:
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    browser.opened(shown, file)
    svg, said = (shown.find_element(By.CSS_SELECTOR, f"[data-chart] {name}") for name in ("svg", ".reading"))
    svg.send_keys(Keys.HOME)
    assert "melted share" in said.text
    for key in ("can_penetration", "sure", "nominal", "bands"):
        parts = shown.find_elements(By.CSS_SELECTOR, f"[data-chart] svg [data-group='{key}']")
        assert parts
        assert all(part.is_displayed() for part in parts)
        shown.find_element(By.CSS_SELECTOR, f"input[data-shows='{key}']").click()
        assert not any(part.is_displayed() for part in parts)
    assert "melted share" not in said.text


def test_it_prints_and_fits_a_phone(shown: Any, file: Path) -> None:
    browser.opened(shown, file)
    assert browser.printed(shown)[0] <= 2
    browser.sized(shown, 360)
    assert not browser.too_wide(shown)
    browser.sized(shown, 1100)
