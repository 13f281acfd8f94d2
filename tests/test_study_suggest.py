"""Suggest: trains compared by the windows they leave, hardware where none is safe, a trial plan."""

from __future__ import annotations

import csv
import json
import math
from dataclasses import replace
from pathlib import Path

import pytest
from folders import visible
from invented_bench import fake as fake_answer
from statements import SAMPLE
from statements import fake as fake_sample

from nugget.cli.main import main
from nugget.errors import InputError
from nugget.plot.suggestion_figure import suggestion_figure
from nugget.setup import Setup, default_setup, preset
from nugget.study.calibration.trial_table import read_trials
from nugget.study.durations.edges import Edge, Growth
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.suggestion import setting_search as search
from nugget.study.suggestion import trains
from nugget.study.suggestion import trial_plan as planning
from nugget.study.suggestion.candidate import Suggestion, read_free
from nugget.study.suggestion.setting_search import suggest
from nugget.study.suggestion.suggestion_record import suggestion_record
from nugget.study.suggestion.trial_plan import plan, plan_csv, setting_toml

PNG = b"\x89PNG\r\n\x1a\n"


def grown(task: tuple[trains.Kind, Setup, float]) -> Growth:
    """Edges without a march: target and limit follow contact radius, force, slot and train."""
    kind, setup, longest_s = task
    factor = setup.contact.radius_factor
    start_s = 4e-3 * factor**3 * {"single": 1.0, "preheat": 0.9, "equal": 0.95}[kind]
    until_s = 7e-3 * factor * (1.3 if setup.shunt_fraction < 0.02 else 1.0)
    until_s *= 1.0 - 2e-4 * (setup.force_N - 40.0) ** 2
    target_m = setup.joint.target_diameter_m
    edges = (
        Edge("bonded", "Bonds at all", "bond", "m", 1e-3, 1e-3, 1e-3, 0.0, 0.0),
        Edge("target", "Weld-size target", "target", "m", start_s, start_s, start_s, target_m, target_m),
        Edge("can_penetration", "Melted share", "limit", "1", until_s, until_s, until_s, 0.5, 0.5),
    )
    return Growth(edges, longest_s, "", (longest_s,), (0.8e-3,), (0.9e-3,), (1400.0,), 1, 1, 0.1)


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup(["pulse.0.duration=6 ms"])


@pytest.fixture(autouse=True)
def _faked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(search, "grow_train", grown)
    monkeypatch.setattr(SAMPLE, fake_sample)
    monkeypatch.setattr(planning, "answer", fake_answer)


@pytest.fixture
def found(setup: Setup) -> Suggestion:
    return suggest(setup, band=1.05)


def test_all_trains_are_there_and_keep_the_pulse(setup: Setup) -> None:
    known = trains.trains(setup)
    assert [one.kind for one in known] == ["single", "preheat", "preheat", "equal"]
    for one in known:
        pulses = one.with_duration(5e-3).train
        assert pulses[-1].duration_s == pytest.approx(5e-3)
        assert pulses[-1].cool_time_s == 0.0
        if one.kind != "single":
            assert pulses[0].cool_time_s == pytest.approx(trains.COOL_TIME_S)
    seat, equal = known[1].with_duration(5e-3), known[3].with_duration(5e-3)
    assert seat.train[0].duration_s == pytest.approx(0.15 * setup.train[0].duration_s)
    assert equal.train[0].duration_s == pytest.approx(5e-3)


def test_another_cool_time_changes_the_cool_time_alone(setup: Setup) -> None:
    for one in trains.trains(setup)[1:]:
        other = trains.with_cool_time(one, 3e-3)
        assert other is not None
        assert "3 ms cool time" in other.name
        before, after = one.with_duration(5e-3).train, other.with_duration(5e-3).train
        assert after == (replace(before[0], cool_time_s=3e-3), before[1])


def test_counted_half_cycles_stay_whole() -> None:
    sheets = preset("sheets")
    half_s = 1.0 / 120.0
    for one in trains.trains(sheets):
        for pulse in one.with_duration(5 * half_s).train:
            assert pulse.duration_s / half_s == pytest.approx(round(pulse.duration_s / half_s), abs=1e-4)


def test_the_widest_shared_window_wins_and_its_middle_is_suggested(found: Suggestion) -> None:
    assert found.safe
    assert found.best.train.kind == "preheat"
    margins = [one.margin for one in found.candidates]
    assert margins == sorted(margins, reverse=True)
    start, until = found.best.window.from_s, found.best.window.until_s
    assert start == pytest.approx(0.9 * 4e-3 * 1.05**3)
    assert until == pytest.approx(7e-3 / 1.05 * (1.0 - 2e-4 * 100.0))
    assert found.best.margin == pytest.approx(math.log(until / start))
    assert found.best.duration_s == pytest.approx(math.sqrt(start * until), rel=5e-3)
    assert found.best.setup.train[-1].duration_s == pytest.approx(found.best.duration_s)


def test_a_free_field_is_searched_within_its_bounds(setup: Setup) -> None:
    free = [read_free(setup, "electrode.force=20 N:60 N")]
    found = suggest(setup, free, band=1.05)
    values = dict(found.best.values)
    assert values["electrode.force"] == pytest.approx(40.0, abs=5.1)
    assert found.best.setup.force_N == values["electrode.force"]
    assert found.best.margin > suggest(setup, band=1.05).best.margin
    assert all(20.0 <= dict(one.values)["electrode.force"] <= 60.0 for one in found.candidates)


def test_scattered_welds_decide_between_windows(setup: Setup) -> None:
    found = suggest(setup, inputs=inputs_of(setup), samples=8, band=1.05)
    scattered = [one for one in found.candidates if one.good is not None]
    assert len(scattered) == search.SCATTERED
    shares = [one.good.share for one in scattered if one.good is not None]
    assert shares == sorted(shares, reverse=True)


def test_where_nothing_is_safe_changes_of_hardware_are_tried(setup: Setup) -> None:
    found = suggest(setup, band=1.25)
    assert not found.safe
    tried = {trial.change.what: (trial, shared) for trial, shared in found.hardware}
    assert {"a slot between the tips", "more force", "a smaller tip face"} <= set(tried)
    slot, shared = tried["a slot between the tips"]
    assert slot.window.open
    assert shared.open  # the slot makes a setting that is safe at every contact
    assert found.hardware[0][0] is slot
    source, shared = tried["a stronger source and a shorter pulse"]
    assert source.window.open
    assert not shared.open
    closed = suggest(setup.with_({"contact.radius_factor": 1.5}), band=1.25)
    assert "comes before" in closed.crossing


def test_the_plan_goes_from_coupons_to_a_scrap_cell_and_feeds_calibrate(
    found: Suggestion, setup: Setup, tmp_path: Path
) -> None:
    steps = plan(found)
    kinds = [one.cell for one in steps]
    assert kinds == sorted(kinds, key=["coupon", "empty can", "cell"].index)
    assert set(kinds) == {"coupon", "empty can", "cell"}
    assert all(one.words[0] in ("loose", "stuck", "peeled", "button") for one in steps)
    assert all((one.inside == "") == (one.cell == "coupon") for one in steps)
    sizes = [one.size_m[1] for one in steps if one.cell == "coupon"]
    assert sizes == sorted(sizes)
    path = tmp_path / "trials.csv"
    text = plan_csv(steps, "setting.toml")
    with pytest.raises(InputError, match="no row with a result"):
        read_trials(_written(path, text), found.best.train.setup)
    filled = text.replace("ms,,,", "ms,held,,", 1)
    (trial,) = read_trials(_written(path, filled), found.best.train.setup)
    assert (trial.result, trial.count) == ("held", planning.COUPONS)
    rows = list(csv.reader(line for line in text.splitlines() if not line.startswith("#")))
    assert {len(row) for row in rows} == {len(planning.COLUMNS)}
    assert text.count("# A trial plan") == text.count("--machine setting.toml") == 1


def _written(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


def test_an_unsafe_plan_stops_at_coupons_of_single_pulses(setup: Setup) -> None:
    unsafe = suggest(setup, band=1.25)
    assert {one.cell for one in plan(unsafe)} == {"coupon"}
    assert unsafe.best.train.kind == "preheat"
    assert unsafe.tried.train.kind == "single"
    assert "NOT SAFE" in setting_toml(unsafe)


def test_where_nothing_is_safe_it_says_how_well_the_contact_must_be_known(setup: Setup) -> None:
    unsafe = suggest(setup, band=1.25)
    assert unsafe.known is not None
    band, window = unsafe.known
    assert 1.0 < band < 1.25
    assert window.open
    again = suggest(setup, band=band)
    assert again.safe
    assert again.known is None
    assert not suggest(setup, band=1.04 * band).safe


def test_the_setting_can_be_laid_over_the_setup(setup: Setup) -> None:
    import tomllib

    found = suggest(setup, [read_free(setup, "electrode.force=20 N:60 N")], band=1.05)
    tree = tomllib.loads(setting_toml(found))
    laid = setup.with_({"pulse": tree["pulse"], "electrode.force": tree["electrode"]["force"]})
    assert laid.train == found.best.setup.train
    assert laid.force_N == found.best.setup.force_N
    record = json.loads(json.dumps(suggestion_record(found, plan(found)), allow_nan=False))
    assert record["safe"] is True
    assert record["candidates"][0]["recommended_s"] == found.best.duration_s


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("electrode.force", "FIELD=LOW:HIGH"),
        ("electrode.force=50 N:20 N", "a lower value first"),
        ("electrode.force=20 mm:50 mm", "a force"),
        ("pulse.0.duration=1 ms:2 ms", "searched anyway"),
        ("forse=1 N:2 N", "nearest is force"),
    ],
)
def test_a_free_field_that_cannot_be_is_one_line(setup: Setup, text: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        read_free(setup, text)
    assert words in str(caught.value)


def test_two_equal_pulses_are_marched_as_such() -> None:
    quick = default_setup(
        [
            "cell.kind=coupon",
            "numerics.refinement=0.25",
            "numerics.tolerance=20 K",
            "source.internal_resistance=2 mohm",
        ]
    )
    pair = next(one for one in trains.trains(quick) if one.kind == "equal").setup
    growth = trains.grow_train(("equal", pair, 6e-3))
    target = growth.edge("target")
    assert target.duration_s is not None
    assert target.low_s is not None
    assert target.high_s is not None
    assert target.low_s <= target.duration_s <= target.high_s
    assert target.high_s < 1.6 * target.low_s
    single = trains.grow_train(("single", quick, 6e-3)).edge("target")
    assert single.duration_s is not None
    assert target.duration_s < 1.1 * single.duration_s


def test_a_pair_that_is_enough_from_the_shortest_on_is_placed_there_and_a_limit_at_zero() -> None:
    quick = default_setup(["cell.kind=coupon", "numerics.refinement=0.25", "numerics.tolerance=40 K"])
    easy = quick.with_({"joint.minimum_diameter": "0.05 mm", "limits.can_penetration": 0.001})
    pair = next(one for one in trains.trains(easy) if one.kind == "equal").setup
    pairs = trains._Pairs(pair)
    pairs.run(4e-3)
    target, limit = (pairs.edge(c, None) for c in pairs.criteria if c.key in ("target", "can_penetration"))
    assert (target.duration_s, target.low_s) == (4e-3, 0.0)
    assert limit.duration_s == 0.0


def test_the_command_prints_and_writes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    assert main(["suggest", "--band", "1.05", "--samples", "8"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    for words in (
        "Suggested: ",
        "every contact",
        "Trial plan",
        "discharged scrap cell",
        "never a permission",
    ):
        assert words in printed
    names = {name.removeprefix("nugget-default-") for name in visible(tmp_path)}
    assert names == {"suggested.toml", "trials.csv", "suggest.png"}
    assert (tmp_path / "nugget-default-suggest.png").read_bytes().startswith(PNG)
    assert main(["suggest", "--samples", "8", "--json", "--out", "here"]) == 0
    assert json.loads(capsys.readouterr().out)["safe"] is False
    assert set(visible(tmp_path / "here")) == {
        "coupons-only.toml",
        "suggest.json",
        "suggest.png",
        "trials.csv",
    }
    filled_in = tmp_path / "nugget-default-trials.csv"
    filled_in.write_text("results from the bench", encoding="utf-8")
    assert main(["suggest", "--samples", "8", "--no-plots"]) == 0
    said = capsys.readouterr()
    assert filled_in.read_text(encoding="utf-8") == "results from the bench"
    assert "nugget-default-trials.csv is not as nugget wrote it" in said.err
    assert "nugget-default-trials-2.csv" in said.out
    assert "coupon" in (tmp_path / "nugget-default-trials-2.csv").read_text(encoding="utf-8")
    printed = " ".join(said.out.split())
    assert "No safe setting" in printed
    assert "Changes of hardware that were tried" in printed
    assert "No further than coupons" in printed


@pytest.mark.parametrize(
    "argv",
    [["--band", "3"], ["--workers", "0"], ["--allow", "x=1:2"], ["--longest", "5"], ["--samples", "2"]],
)
def test_bad_input_is_one_line(
    argv: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["suggest", *argv]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_the_figure_names_every_candidate(found: Suggestion) -> None:
    labels = [text.get_text() for text in suggestion_figure(found).axes[0].get_yticklabels()]
    assert labels == [one.train.name for one in found.candidates]
