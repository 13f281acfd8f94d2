"""The bench card: safe only where everything agrees, on one page, as HTML and PDF."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path

import browser
import pytest
from statements import SAMPLE, fake
from test_pages_record import words

from nugget.cli import workers
from nugget.cli.main import main
from nugget.errors import NuggetError
from nugget.pages.bench_card import BenchCard, bench_card, card_page
from nugget.plot.card_figure import card_figure
from nugget.setup import Setup, default_setup
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement.safe_range import IN_WINDOW, STEP, safe_range
from nugget.study.statement.samples import Sample
from nugget.study.statement.statement import state

SETUP = default_setup(["strip.thickness=0.15 mm", "pulse.0.duration=6 ms"])
KNOWN = ("contact.hardness_factor=x1.02", "electrode.force=2 %", "strip.thickness=1 %")
"""With what else varies without effect on the made-up welds: a statement that is decided."""


def made_up(setup: Setup) -> Sample:
    """The joint is made from 4.5 ms on, the inside too hot from 8 ms on, both in proportion."""
    whole, ms = fake(setup), 1e3 * setup.train[-1].duration_s
    soft = setup.contact.hardness_factor
    excess = whole.excess | {
        "minimum_diameter": ms / 4.5 - 1.0,
        "interior_temperature": ms / (8.0 * soft) - 1.0,
    }
    return replace(whole, excess=excess)


@pytest.fixture(autouse=True)
def no_march(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(SAMPLE, made_up)


def card_of(setup: Setup = SETUP, known: tuple[str, ...] = KNOWN) -> BenchCard:
    return bench_card(safe_range(setup, inputs_of(setup, known)))


@pytest.fixture(scope="module")
def card() -> BenchCard:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, made_up)
        return card_of()


def test_a_pulse_in_window_is_set_with_the_range_of_those_that_are(card: BenchCard) -> None:
    assert card.safe
    assert card.headline == "Set 6 ms"
    assert dict(card.rows)["Safe range"] == "5.05 ms to 7.14 ms"
    assert "no harm to the cell in 99 %" in card.below[0]
    assert "Below: too cold" in card.below[0] or "Below: uncertain" in card.below[0]
    assert dict(card.rows)["Force"] == "30 N on each tip"


@pytest.mark.parametrize(
    ("ms", "known"), [(5.5, KNOWN), (6.0, ("contact.hardness_factor=x1.2", *KNOWN[1:])), (6.5, KNOWN[:1])]
)
def test_a_card_prints_no_range_with_an_end_whose_own_statement_is_not_in_window(
    ms: float, known: tuple[str, ...]
) -> None:
    setup = SETUP.with_({"pulse.0.duration": 1e-3 * ms})
    inputs = inputs_of(setup, known)
    found = safe_range(setup, inputs)
    assert found.safe == (state(setup, inputs).verdict == IN_WINDOW)
    if not found.safe:
        assert "Safe range" not in dict(bench_card(found).rows)
        return
    for end_s in (found.from_s, found.until_s):
        there = setup.with_({"pulse.0.duration": end_s})
        assert state(there, inputs.around(there)).verdict == IN_WINDOW
    beyond = setup.with_({"pulse.0.duration": STEP * (found.until_s or 0.0)})
    assert state(beyond, inputs.around(beyond)).verdict == found.above != IN_WINDOW


@pytest.mark.parametrize(
    ("ms", "known", "word"), [(9.0, KNOWN, "too hot"), (4.0, KNOWN, "too cold"), (7.0, (), "uncertain")]
)
def test_anything_else_is_no_safe_setting(ms: float, known: tuple[str, ...], word: str) -> None:
    card = card_of(SETUP.with_({"pulse.0.duration": 1e-3 * ms}), known)
    assert not card.safe
    assert card.headline.startswith("NO SAFE SETTING")
    assert f"The statement for {ms:g} ms is '{word}'" in card.why
    assert "Safe range" not in dict(card.rows)
    assert card.setting == card.span == card.sure == ""
    assert card.step in " ".join(card.below)
    assert ("measure" in card.step) == (word == "uncertain")


def test_marches_are_counted_over_all_durations() -> None:
    seen: list[tuple[str, int]] = []
    safe_range(SETUP, inputs_of(SETUP, KNOWN), on_done=lambda key, total: seen.append((key, total)))
    assert all(k < total for k, (_, total) in enumerate(seen))
    assert seen[-1][1] == len(seen)


def drawn(card: BenchCard, title: str = "A title with $x_1 and <b>") -> bytes:
    figure = card_figure(title, card.headline, ["below"], card.rows, card.lists, ["foot"])
    stream = io.BytesIO()
    figure.savefig(stream, format="pdf")
    return stream.getvalue()


def test_the_pdf_is_one_page_of_a4_and_nothing_runs_off_it(card: BenchCard) -> None:
    data = drawn(card)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", data)) == 1
    width, height = (float(v) for v in re.search(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+)", data).groups())  # type: ignore[union-attr]
    assert (width, height) == pytest.approx((595.3, 841.9), abs=0.6)
    figure = card_figure("t " * 80, card.headline, ["below"], card.rows, card.lists, ["foot"])
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    renderer = FigureCanvasAgg(figure).get_renderer()
    boxes = [text.get_window_extent(renderer) for text in figure.texts]
    assert all(box.x1 <= figure.bbox.width and box.y0 >= 0.0 for box in boxes)
    for above, below in zip(figure.texts, figure.texts[1:], strict=False):
        if above.get_position()[0] == below.get_position()[0]:
            assert above.get_window_extent(renderer).y0 >= below.get_window_extent(renderer).y1 - 1.0


def test_a_card_that_fits_in_no_letters_is_refused(card: BenchCard) -> None:
    with pytest.raises(NuggetError, match="one page"):
        drawn(card, "word " * 5000)


def test_the_page_prints_to_one_side_and_needs_no_script(tmp_path: Path) -> None:
    page = card_page(card_of(SETUP.with_({"title": "<script>x</script>"})))
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
        why, step = (
            "because of this and that, " * 14,
            "measure one thing, then `nugget card --set a=b`; " * 14,
        )
        path.write_text(card_page(replace(card_of(SETUP), safe=False, why=why, step=step)), encoding="utf-8")
        browser.opened(shown, path)
        assert browser.printed(shown)[0] == 1


def test_the_command_prints_and_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(workers, "cores", lambda: 1)
    thick = ("--set", "strip.thickness=0.15 mm")
    options = [word for one in KNOWN for word in ("--tolerance", one)]
    assert main(["card", *thick, "--set", "pulse.0.duration=6 ms", *options, "--out", "wall"]) == 0
    assert "Set 6 ms" in capsys.readouterr().out
    assert {path.name for path in (tmp_path / "wall").iterdir()} >= {"card.html", "card.pdf"}
    assert main(["card", *thick, "--set", "pulse.0.duration=7 ms", "--out", "wall"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "NO SAFE SETTING" in out
    assert "nugget calibrate" in out or "nugget suggest" in out
    assert "Safe range" not in out
