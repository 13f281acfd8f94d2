"""Setups and saved welds side by side: what differs, in table, terminal and page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import browser
import pytest
from statements import SAMPLE, fake

import nugget
from nugget.cli import workers
from nugget.cli.main import main
from nugget.pages.comparison_page import comparison_page
from nugget.study import comparison
from nugget.study.comparison import Comparison, Entry, side_by_side
from nugget.study.statement.assessment import Assessment, judge

QUICK = ["numerics.refinement=0.25", "numerics.tolerance=20 K", "pulse.0.duration=1 ms"]


@pytest.fixture(scope="module")
def judged() -> Assessment:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, fake)
        return judge(nugget.default_setup(QUICK))


@pytest.fixture(scope="module")
def longer() -> Assessment:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, fake)
        return judge(nugget.default_setup([*QUICK[:2], "pulse.0.duration=2 ms", "electrode.force=40 N"]))


@pytest.fixture(scope="module")
def both(judged: Assessment, longer: Assessment) -> Comparison:
    entries = [Entry("<b>short</b>", judged.weld, judged), Entry("longer", longer.weld, longer)]
    return side_by_side(entries)


def test_inputs_that_differ_and_no_others(both: Comparison) -> None:
    found = {line.title: line.values for line in both.inputs}
    assert found == {"pulse.0.duration": ("1 ms", "2 ms"), "electrode.force": ("30 N", "40 N")}


def test_answers_are_those_of_the_assessments(
    both: Comparison, judged: Assessment, longer: Assessment
) -> None:
    found = {line.title: line.values for line in both.answers}
    assert found["verdict"] == (judged.verdict, longer.verdict)
    sizes = [f"{one.weld.figures['nugget_diameter_m'] * 1e3:.2f} mm" for one in (judged, longer)]
    assert found["Nugget diameter"] == tuple(sizes)
    assert len(both.limits) == len(judged.limits)


def test_a_saved_weld_never_passes_for_a_judged_one(judged: Assessment) -> None:
    entry = Entry("saved", judged.weld)
    assert "not judged over what is not known exactly" in entry.verdict
    assert "as set up" in entry.verdict


def test_how_often_a_limit_is_broken_is_said(judged: Assessment) -> None:
    found = side_by_side([Entry("a", judged.weld, judged), Entry("b", judged.weld)])
    title = next(one.title for one in judged.limits if one.limit.id == "interior_temperature")
    line = next(one for one in found.limits if one.title == title)
    assert line.values[0].startswith("TOO OFTEN")
    assert "; not met in " in line.values[0]
    assert "not met in" not in line.values[1]


def test_compare_judges_setups_and_takes_welds_as_they_are(
    judged: Assessment, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Any] = []

    def judge_once(setup: Any, *_: Any, **__: Any) -> Assessment:
        asked.append(setup)
        return judged

    monkeypatch.setattr(comparison, "judge", judge_once)
    setup = judged.weld.setup
    found = comparison.compare({"a": setup, "b": judged.weld})
    assert asked == [setup]
    assert [entry.assessment for entry in found.entries] == [judged, None]


def test_the_command_reads_all_three_and_writes_a_page(
    judged: Assessment, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(comparison, "judge", lambda *_, **__: judged)
    monkeypatch.setattr(workers, "cores", lambda: 1)
    judged.weld.save(tmp_path / "old.npz")
    (tmp_path / "mine.toml").write_text('electrode.force = "20 N"\n')
    assert main(["compare", "mine.toml", "coupon", "old.npz", "--out", "all.html"]) == 0
    told = capsys.readouterr().out
    for words in ("mine.toml", "coupon", "old.npz", "Inputs that differ", "verdict", "not a safe weld"):
        assert words in told
    assert (tmp_path / "all.html").read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["coupon"], "two or more"),
        (["coupon", "coupon"], "once"),
        (["coupon", "none.toml"], "none.toml"),
        (["coupon", "none.npz"], "none.npz"),
        (["coupon", "default", "--out", "page.pdf"], ".html"),
    ],
)
def test_bad_input_is_one_line(
    argv: list[str],
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["compare", *argv]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert words in line


def test_the_page_in_a_browser(both: Comparison, tmp_path: Path) -> None:
    path = tmp_path / "compared.html"
    path.write_text(comparison_page(both), encoding="utf-8")
    with browser.started(width=360) as shown:
        browser.opened(shown, path)
        assert browser.complaints(shown) == []
        assert browser.requests(shown) == []
        assert not browser.too_wide(shown)
        assert shown.title == "Comparison: <b>short</b> and longer"
        assert browser.printed(shown)[0] <= 2
