"""The bench card: safe only where everything agrees, on one page, as HTML and PDF."""

from __future__ import annotations

import io
import re
from pathlib import Path

import browser
import pytest
from growths import growth
from test_pages_record import words

from nugget.cli import workers
from nugget.cli.main import main
from nugget.errors import NuggetError
from nugget.pages.bench_card import BenchCard, bench_card, card_page
from nugget.plot.card_figure import card_figure
from nugget.setup import Setup, default_setup
from nugget.study.charting import shared_window as module
from nugget.study.charting.shared_window import shared_window, window_tasks
from nugget.study.durations.edges import Growth
from nugget.study.durations.window import Window, agreed

SETUP = default_setup(["pulse.0.duration=6 ms"])
OPEN = agreed([growth(4.0, {"can_penetration": 9.0}), growth(5.0, {"can_penetration": 8.0})])


def test_a_pulse_inside_the_shared_window_is_set_with_its_range() -> None:
    card = bench_card(SETUP, OPEN)
    assert card.safe
    assert card.headline == "Set 6 ms"
    assert dict(card.rows)["Safe range"].startswith("5 ms to 8 ms at every contact radius")
    assert dict(card.rows)["Force"] == "30 N on each tip"


@pytest.mark.parametrize(
    ("setup", "window", "words"),
    [
        (SETUP.with_({"pulse.0.duration": 9e-3}), OPEN, "lies outside 5 ms to 8 ms"),
        (SETUP.with_({"pulse.0.duration": 4e-3}), OPEN, "lies outside 5 ms to 8 ms"),
        (SETUP, agreed([growth(4.0), growth(16.0)]), "no duration reaches"),
        (SETUP, agreed([growth(4.0, {"expulsion": None}, unknown="it stopped")] * 2), "not known"),
        (SETUP, agreed([growth(4.0), growth(4.0, {"can_penetration": 0.0})]), "no duration reaches"),
    ],
)
def test_anything_else_is_no_safe_setting(setup: Setup, window: Window, words: str) -> None:
    card = bench_card(setup, window)
    assert not card.safe
    assert card.headline.startswith("NO SAFE SETTING")
    assert words in card.why
    assert "Safe range" not in dict(card.rows)
    assert card.knob == card.span == ""


def test_both_spots_of_a_pair_and_all_radii_have_to_agree(monkeypatch: pytest.MonkeyPatch) -> None:
    def hotter_at_one_spot(task: tuple[Setup, float]) -> Growth:
        return growth(4.0, {"can_penetration": 5.0 if task[0].polarity < 0 else 15.0})

    monkeypatch.setattr(module, "grow", hotter_at_one_spot)
    tasks = window_tasks(SETUP)
    assert len(tasks) == 6
    window = shared_window(tasks)
    assert window.until_s == 5e-3
    assert not bench_card(SETUP, window).safe
    assert len(window_tasks(SETUP.with_({"arrangement.polarity": "positive"}))) == 3


def drawn(card: BenchCard, title: str = "A title with $x_1 and <b>") -> bytes:
    figure = card_figure(title, card.headline, "below", card.rows, card.lists, ["foot"])
    stream = io.BytesIO()
    figure.savefig(stream, format="pdf")
    return stream.getvalue()


def test_the_pdf_is_one_page_of_a4_and_nothing_runs_off_it() -> None:
    data = drawn(bench_card(SETUP, OPEN))
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", data)) == 1
    width, height = (float(v) for v in re.search(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+)", data).groups())  # type: ignore[union-attr]
    assert (width, height) == pytest.approx((595.3, 841.9), abs=0.6)
    card = bench_card(SETUP, OPEN)
    figure = card_figure("t " * 80, card.headline, "below", card.rows, card.lists, ["foot"])
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [text.get_window_extent(renderer) for text in figure.texts]
    assert all(box.x1 <= figure.bbox.width and box.y0 >= 0.0 for box in boxes)
    for above, below in zip(figure.texts, figure.texts[1:], strict=False):
        if above.get_position()[0] == below.get_position()[0]:
            assert above.get_window_extent(renderer).y0 >= below.get_window_extent(renderer).y1 - 1.0


def test_a_card_that_fits_in_no_letters_is_refused() -> None:
    with pytest.raises(NuggetError, match="one page"):
        drawn(bench_card(SETUP, OPEN), "word " * 5000)


def test_the_page_prints_to_one_side_and_needs_no_script(tmp_path: Path) -> None:
    page = card_page(bench_card(SETUP.with_({"title": "<script>x</script>"}), OPEN))
    assert "<script" not in page
    assert "NO SAFE SETTING" not in words(page)
    path = tmp_path / "card.html"
    path.write_text(page, encoding="utf-8")
    with browser.started() as shown:
        browser.opened(shown, path)
        assert browser.complaints(shown) == []
        assert browser.printed(shown)[0] == 1
        browser.sized(shown, 360)
        assert not browser.too_wide(shown)


def test_the_command_prints_and_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(module, "grow", lambda _: growth(2.0, {"can_penetration": 9.0}))
    monkeypatch.setattr(workers, "cores", lambda: 1)
    assert main(["card", "--out", "wall"]) == 0
    assert "Set 2.5 ms" in capsys.readouterr().out
    assert {path.name for path in (tmp_path / "wall").iterdir()} >= {"card.html", "card.pdf"}
