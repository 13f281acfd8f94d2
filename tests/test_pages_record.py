"""The weld record: what stands in it, that nothing in it can act, and how a browser shows it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import browser
import pytest
from statements import SAMPLE, fake

import nugget
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.pages.render import Origin, input_hash
from nugget.pages.weld_record import record_page
from nugget.study.statement import judged_rows
from nugget.study.statement.assessment import Assessment, judge

TITLE = "<script>document.title = 'taken'</script> & \"quoted\" 'single'"
MOST_BYTES = 3_000_000
PRINTED_PAGES = 3


@pytest.fixture(scope="module")
def judged() -> Assessment:
    quick = [
        "numerics.refinement=0.25",
        "numerics.tolerance=20 K",
        "pulse.0.duration=2 ms",
        "leads.inductance=0 uH",
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, fake)
        return judge(nugget.default_setup(quick).with_({"title": TITLE}), frames=8)


@pytest.fixture(scope="module")
def page(judged: Assessment) -> str:
    return record_page(judged, Origin("</style><b>mine.toml", "[strip] # <img src=x>", ("title=<i>a</i>",)))


@pytest.fixture(scope="module")
def file(page: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("pages") / "record.html"
    path.write_text(page, encoding="utf-8")
    return path


def words(page: str) -> str:
    """The text of a page, without tags."""
    import html

    body = re.sub(r"<(style|script)>.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", "", body)).split())


def test_it_says_all_that_is_known(page: str, judged: Assessment) -> None:
    told = words(page)
    places = [told.index(text) for text in (judged.verdict, judged.reason, "Next:", "Setting")]
    assert places == sorted(places)
    for row in judged_rows.limit_rows(judged):
        for text in (row.title, row.value, row.margin, row.chance, row.state, row.source):
            assert text in told
    for one in data_sources(judged.weld.setup):
        assert " ".join(one["source"].split()) in told
    assert all(caution in told for caution in CAUTIONS)
    assert nugget.__version__ in told
    assert input_hash(judged.weld.setup) in told
    assert 'material = "nickel-200"' in told


def test_the_hash_tells_inputs_apart(judged: Assessment) -> None:
    setup = judged.weld.setup
    assert input_hash(setup) == input_hash(nugget.Setup.from_document(setup.document()))
    assert input_hash(setup) != input_hash(setup.with_({"electrode.force": 31.0}))


def test_text_from_users_stays_text(page: str) -> None:
    assert len(page.encode()) < MOST_BYTES
    assert page.count("<script>") == 1
    for text in ("<img src", "<b>mine", "<i>a</i>"):
        assert text not in page


class Addresses(HTMLParser):
    """Every address that a page names."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.found: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found += [value or "" for name, value in attrs if name in ("src", "href", "action", "data")]


def test_it_asks_for_nothing_from_elsewhere(page: str) -> None:
    addresses = Addresses(page).found
    assert addresses
    assert all(one.startswith(("data:", "#")) for one in addresses)
    assert "url(" not in page
    assert "@import" not in page


def test_every_picture_and_table_has_words(page: str) -> None:
    for tag in re.findall(r"<svg\b[^>]*>", page):
        assert "aria-hidden" in tag or re.search(r'aria-label="[^"]+"', tag)
    assert page.count("<table") == page.count("<caption") + page.count('<thead><tr><th scope="col">Item')
    levels = [int(level) for level in re.findall(r"<h(\d)", page)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(later - level <= 1 for level, later in pairwise(levels))


def test_frames_are_those_that_were_kept(judged: Assessment, page: str) -> None:
    assert judged.weld.fields is not None
    kept = len(judged.weld.fields.time_s)
    assert 8 <= kept < 17
    hottest = judged.weld.snapshots["hottest"].time_s in judged.weld.fields.time_s
    assert page.count('<figure class="frame') == kept + (not hottest)


def test_a_weld_without_fields_in_time_has_a_record_too(judged: Assessment) -> None:
    from dataclasses import replace

    page = record_page(replace(judged, weld=replace(judged.weld, fields=None)))
    assert page.count('<figure class="frame') == len({s.time_s for s in judged.weld.snapshots.values()})


def test_python_writes_the_same_page(judged: Assessment, tmp_path: Path) -> None:
    path = nugget.Assessment.of(judged).to_html(tmp_path / "mine.html")
    assert words(path.read_text(encoding="utf-8")).startswith("Weld record")


@pytest.fixture(scope="module")
def shown() -> Iterator[Any]:
    with browser.started() as found:
        yield found


def test_it_loads_offline_without_a_complaint(shown: Any, file: Path) -> None:
    browser.opened(shown, file)
    assert shown.title == f"Weld record: {TITLE}"
    assert browser.complaints(shown) == []
    assert browser.requests(shown) == []


NEXT_FRAME = """
const frames = [...document.querySelectorAll(".frame")];
const now = () => frames.findIndex((one) => one.offsetParent !== null);
const before = now();
const watch = setInterval(() => {
    if (now() !== before) { clearInterval(watch); arguments[0](true); }
}, 20);
"""
"""Waits until another frame shows."""


def test_the_slider_moves_through_the_frames(shown: Any, file: Path) -> None:
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    browser.opened(shown, file)
    frames = shown.find_elements(By.CSS_SELECTOR, ".frame")

    def visible() -> list[int]:
        return [k for k, frame in enumerate(frames) if frame.is_displayed()]

    (first,) = visible()
    assert "now" in frames[first].get_attribute("class")
    slider = shown.find_element(By.ID, "instant")
    slider.send_keys(Keys.ARROW_RIGHT)
    assert visible() == [first + 1]
    assert shown.find_element(By.CSS_SELECTOR, ".live output").text == frames[first + 1].get_attribute(
        "data-time"
    )
    button = shown.find_element(By.CSS_SELECTOR, ".live button")
    button.click()
    assert button.text == "Stop"
    assert shown.execute_async_script(NEXT_FRAME)
    button.click()
    assert button.text == "Run in time"


def test_the_pointer_and_the_keys_read_values(shown: Any, file: Path, judged: Assessment) -> None:
    from selenium.webdriver import ActionChains
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    browser.opened(shown, file)
    plot = shown.find_element(By.CSS_SELECTOR, ".plot")
    svg, said = (plot.find_element(By.CSS_SELECTOR, name) for name in ("svg", ".reading"))
    assert said.text == ""
    shown.execute_script("arguments[0].scrollIntoView({block: 'center'})", svg)
    ActionChains(shown).move_to_element_with_offset(svg, svg.size["width"] // 2 - 20, 0).perform()
    diameter = judged.weld.history["nugget_diameter_m"][-1] * 1e3
    assert f"nugget {float(f'{diameter:.4g}'):g} mm" in said.text
    svg.send_keys(Keys.HOME)
    assert "nugget 0 mm" in said.text
    svg.send_keys(Keys.END, Keys.ARROW_LEFT)
    late = 1e3 * judged.weld.history["time_s"][-2]
    assert f"time {float(f'{late:.4g}'):g} ms" in said.text


def test_it_prints_to_three_pages_and_fits_a_phone(shown: Any, file: Path) -> None:
    browser.opened(shown, file)
    assert browser.printed(shown)[0] <= PRINTED_PAGES
    browser.sized(shown, 360)
    assert not browser.too_wide(shown)
    browser.sized(shown, 1100)


def test_without_scripts_four_stills_show(file: Path) -> None:
    from selenium.webdriver.common.by import By

    with browser.started("--blink-settings=scriptEnabled=false") as plain:
        browser.opened(plain, file)
        frames = plain.find_elements(By.CSS_SELECTOR, ".frame")
        assert 2 <= sum(frame.is_displayed() for frame in frames) <= 4
        assert not plain.find_element(By.ID, "instant").is_displayed()
