"""Suggest: trains compared by the windows they leave, hardware where none is safe, a trial plan."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from folders import visible
from statements import SAMPLE
from statements import fake as fake_sample

from nugget.cli.main import main
from nugget.cli.suggest_text import print_suggestion
from nugget.errors import InputError
from nugget.plot.suggestion_figure import suggestion_figure
from nugget.setup import Setup, default_setup, preset
from nugget.study.calibration.condition import Answer, Ask
from nugget.study.calibration.trial_table import OBSERVED, read_trials
from nugget.study.durations.edges import Edge, Growth
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement.samples import Sample, kept
from nugget.study.statement.statement import state
from nugget.study.suggestion import setting_search as search
from nugget.study.suggestion import trains
from nugget.study.suggestion import trial_plan as planning
from nugget.study.suggestion.candidate import Suggestion, read_free
from nugget.study.suggestion.setting_search import suggest
from nugget.study.suggestion.suggestion_record import suggestion_record
from nugget.study.suggestion.trial_merging import merged
from nugget.study.suggestion.trial_plan import plan, plan_csv, setting_toml

MANY_WELDS = True
PNG = b"\x89PNG\r\n\x1a\n"


def grown(task: tuple[trains.Kind, Setup, float]) -> Growth:
    """Edges without a march: target and limit follow hardness, force, slot and train."""
    kind, setup, longest_s = task
    factor = setup.contact.hardness_factor**-0.5
    start_s = 4e-3 * factor**3 * {"single": 1.0, "preheat": 0.9, "equal": 0.95}[kind]
    until_s = 7e-3 * factor * (1.3 if setup.shunt_fraction < 0.02 else 1.0)
    until_s *= 1.0 - 2e-4 * (setup.force_N - 40.0) ** 2
    target_m = setup.joint.minimum_diameter_m
    edges = (
        Edge("bonded", "Bonding onset (solid-state)", "bond", "m", 1e-3, 1e-3, 1e-3, 0.0, 0.0),
        Edge(
            "minimum_diameter",
            "Minimum weld diameter",
            "joint",
            "m",
            start_s,
            start_s,
            start_s,
            target_m,
            target_m,
        ),
        Edge("can_penetration", "Melted share", "limit", "1", until_s, until_s, until_s, 0.5, 0.5),
    )
    return Growth(edges, longest_s, "", (longest_s,), (0.8e-3,), (0.9e-3,), (1400.0,), 1, 1, 0.1)


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup(["strip.thickness=0.15 mm", "pulse.0.duration=6 ms"])


def told(ask: Ask) -> Answer:
    """What a trial comes to: a button from 4 ms on."""
    (duration_s,) = ask.durations_s
    return Answer((0.62e-3 * (duration_s / 4e-3) ** 0.5,), (0.3,), (900.0,))


def fake(patched: pytest.MonkeyPatch) -> None:
    patched.setattr(search, "grow_train", grown)
    patched.setattr(SAMPLE, fake_sample)
    patched.setattr(planning, "answer", told)


@contextlib.contextmanager
def made_up() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patched:
        fake(patched)
        yield


@pytest.fixture(autouse=True)
def _faked(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the patches of the tests themselves: two that undo each other's leave one of them behind."""
    fake(monkeypatch)


KNOWN = ("electrode.force=5 %", "contact.hardness_factor=x1.1")
"""What makes the made-up welds safe: what their joint and the heat inside follow is known well."""


@pytest.fixture(scope="module")
def found(setup: Setup) -> Suggestion:
    with made_up():
        return suggest(setup, tolerances=KNOWN)


@pytest.fixture(scope="module")
def unsafe(setup: Setup) -> Suggestion:
    with made_up():
        return suggest(setup, tolerances=KNOWN[1:])


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


def test_the_widest_shared_window_is_looked_at_first_and_its_middle_is_suggested(found: Suggestion) -> None:
    assert found.safe
    assert found.best.train.kind == "preheat"
    margins = [one.margin for one in found.candidates]
    assert margins == sorted(margins, reverse=True)
    shared = found.best.window
    assert len(found.best.growths) == 1 + search.BENCHES
    assert found.best.nominal.from_s == pytest.approx(0.9 * 4e-3)
    assert shared.from_s > found.best.nominal.from_s
    assert shared.until_s < found.best.nominal.until_s
    assert found.best.margin == pytest.approx(math.log(shared.until_s / shared.from_s))
    assert found.best.duration_s == pytest.approx(math.sqrt(shared.from_s * shared.until_s), rel=5e-3)
    assert found.best.setup.train[-1].duration_s == pytest.approx(found.best.duration_s)


@pytest.mark.parametrize("which", ["found", "unsafe"])
def test_what_is_suggested_is_what_a_pulse_says_of_the_same_weld(
    which: str, request: pytest.FixtureRequest
) -> None:
    suggestion: Suggestion = request.getfixturevalue(which)
    one = suggestion.best
    assert one.statement is not None
    judged = state(one.setup, inputs_of(one.setup, suggestion.tolerances))
    assert judged.record() == one.statement.record()
    assert suggestion.safe == (judged.verdict == "in window") == (which == "found")


def test_windows_alone_never_make_a_setting_safe(unsafe: Suggestion) -> None:
    """Every bench that was drawn has a window, but a fifth of the welds makes too small a joint."""
    assert unsafe.best.window.open
    assert unsafe.best.statement is not None
    assert unsafe.best.statement.verdict == "uncertain"
    assert not unsafe.safe


def test_a_free_field_is_searched_within_its_bounds(setup: Setup, request: pytest.FixtureRequest) -> None:
    free = [read_free(setup, "electrode.force=20 N:60 N")]
    found = suggest(setup, free, KNOWN)
    values = dict(found.best.values)
    assert values["electrode.force"] == pytest.approx(40.0, abs=5.1)
    assert found.best.setup.force_N == values["electrode.force"]
    assert found.best.margin > request.getfixturevalue("found").best.margin
    assert all(20.0 <= dict(one.values)["electrode.force"] <= 60.0 for one in found.candidates)


def test_nothing_is_called_safe_by_the_few_welds_that_rank(
    found: Suggestion, unsafe: Suggestion, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(search.statement, "WELDS", (32, 64))
    looker = search._Looker(KNOWN, 10e-3, None, None, kept(), None)
    sure = looker.state(found.best.setup)
    assert sure.verdict == "in window"
    assert len(sure.samples) == 64
    looker = search._Looker(KNOWN[1:], 10e-3, None, None, kept(), None)
    doubtful = looker.state(unsafe.best.setup)
    assert doubtful.verdict != "in window"
    assert len(doubtful.samples) == 32


def test_a_pulse_is_lengthened_where_only_the_joint_is_in_doubt(
    found: Suggestion, monkeypatch: pytest.MonkeyPatch
) -> None:
    def longer(one: Setup) -> Sample:
        """The joint grows with the pulse, and is not quite sure at that of the fixture."""
        share = (one.train[-1].duration_s / found.best.duration_s) ** 2
        return fake_sample(one.with_({"electrode.force": 0.93 * share * one.force_N}))

    monkeypatch.setattr(SAMPLE, longer)
    again = suggest(found.setup, tolerances=KNOWN)
    assert again.best.train == found.best.train
    assert again.best.duration_s == pytest.approx(search.SHIFT * found.best.duration_s, rel=5e-3)
    assert again.safe


def test_where_nothing_is_safe_changes_are_tried_and_the_cheapest_that_helps_comes_first(
    unsafe: Suggestion,
) -> None:
    tried = {one.change.what: one for one in unsafe.options}
    named = {"less force", "a slot between the tips", "tips of another metal", "strip of another metal"}
    assert named <= set(tried)
    assert unsafe.options[0] is tried["more force"]
    assert tried["more force"].safe
    assert tried["less force"].statement is not None
    assert not tried["less force"].safe
    opening = [one.change.cost for one in unsafe.options[2:] if one.window.open]
    assert opening == sorted(opening)


def test_it_says_which_edges_cross_where_there_is_no_window(setup: Setup) -> None:
    closed = suggest(setup.with_({"contact.hardness_factor": 0.3}), tolerances=KNOWN)
    assert "comes before" in closed.crossing
    assert closed.best.statement is not None


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
    text = plan_csv(found, steps, "nugget calibrate trials.csv --machine setting.toml")
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


def test_an_unsafe_plan_stops_at_coupons_of_single_pulses(unsafe: Suggestion) -> None:
    assert {one.cell for one in plan(unsafe)} == {"coupon"}
    assert unsafe.best.train.kind == "preheat"
    assert unsafe.tried.train.kind == "single"
    assert "for trials on coupons only" in setting_toml(unsafe)


def test_no_plan_is_made_of_steps_that_cannot_succeed(
    unsafe: Suggestion, monkeypatch: pytest.MonkeyPatch
) -> None:
    cold = Answer((-0.2e-3,), (0.0,), (300.0,))
    monkeypatch.setattr(planning, "answer", lambda ask: cold)
    assert plan(unsafe) == ()
    text = " ".join(print_of(unsafe, ()).split())
    assert "No trial plan" in text
    assert "Trial plan," not in text


def test_the_setting_can_be_laid_over_the_setup(setup: Setup) -> None:
    import tomllib

    found = suggest(setup, [read_free(setup, "electrode.force=20 N:60 N")], KNOWN)
    tree = tomllib.loads(setting_toml(found))
    laid = setup.with_({"pulse": tree["pulse"], "electrode.force": tree["electrode"]["force"]})
    assert laid.train == found.best.setup.train
    assert laid.force_N == found.best.setup.force_N
    record = json.loads(json.dumps(suggestion_record(found, plan(found)), allow_nan=False))
    assert record["safe"] is True
    assert record["candidates"][0]["duration_s"] == found.best.duration_s


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
    target = growth.edge("minimum_diameter")
    assert target.duration_s is not None
    assert target.low_s is not None
    assert target.high_s is not None
    assert target.low_s <= target.duration_s <= target.high_s
    assert target.high_s < 1.6 * target.low_s
    single = trains.grow_train(("single", quick, 6e-3)).edge("minimum_diameter")
    assert single.duration_s is not None
    assert target.duration_s < 1.1 * single.duration_s


def test_a_pair_that_is_enough_from_the_shortest_on_is_placed_there_and_a_limit_at_zero() -> None:
    quick = default_setup(["cell.kind=coupon", "numerics.refinement=0.25", "numerics.tolerance=40 K"])
    easy = quick.with_({"joint.minimum_diameter": "0.05 mm", "limits.can_penetration": 0.001})
    pair = next(one for one in trains.trains(easy) if one.kind == "equal").setup
    pairs = trains._Pairs(pair)
    pairs.run(4e-3)
    target, limit = (
        pairs.edge(c, None) for c in pairs.criteria if c.key in ("minimum_diameter", "can_penetration")
    )
    assert (target.duration_s, target.low_s) == (4e-3, 0.0)
    assert limit.duration_s == 0.0


TOLD = [word for text in KNOWN for word in ("--tolerance", text)]


def test_the_command_prints_and_writes(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    assert main(["suggest", *TOLD, "--set", "pulse.0.duration=6 ms", "--set", "strip.width=9 mm"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    for words in (
        "Suggested: ",
        "VERDICT: IN WINDOW",
        "Trial plan",
        "discharged scrap cell",
        "not a safe weld",
    ):
        assert words in printed
    in_force = f"{TOLD[0]} '{TOLD[1]}' {TOLD[2]} {TOLD[3]}"
    suggested = "--machine nugget-default-suggested.toml --set 'strip.width=9 mm'"
    assert f"nugget pulse {suggested} {in_force}" in printed
    names = {name.removeprefix("nugget-default-") for name in visible(tmp_path)}
    assert names == {"suggested.toml", "trials.csv", "suggest.png"}
    assert (tmp_path / "nugget-default-suggest.png").read_bytes().startswith(PNG)
    header = (tmp_path / "nugget-default-trials.csv").read_text(encoding="utf-8")
    assert f"# nugget calibrate nugget-default-trials.csv {suggested}\n" in header


def test_an_unsafe_suggestion_is_for_coupons_only(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str], unsafe: Suggestion
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(search, "suggest", lambda *_: unsafe)
    assert main(["suggest", "--json", "--out", "here"]) == 0
    assert json.loads(capsys.readouterr().out)["safe"] is False
    names = {"coupons-only.toml", "suggest.json", "suggest.png", "trials.csv"}
    assert set(visible(tmp_path / "here")) == names


def test_a_table_that_was_filled_in_keeps_what_was_measured_and_takes_the_new_plan(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str], unsafe: Suggestion
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(search, "suggest", lambda *_: unsafe)
    assert main(["suggest", "--no-plots"]) == 0
    table = tmp_path / "nugget-default-trials.csv"
    lines = table.read_text(encoding="utf-8").splitlines()
    row = next(k for k, line in enumerate(lines) if line.startswith("coupon,"))
    filled = lines[row].replace("ms,,,", "ms,button,0.61 mm,", 1)
    mine = 'coupon,5.5 ms,held,,,1,"mine, with oil"'
    mixed = ["# my own remark", *lines[:row], filled, mine, *lines[row + 1 :]]
    table.write_text("\n".join(mixed), encoding="utf-8")
    capsys.readouterr()
    assert main(["suggest", "--no-plots"]) == 0
    said = capsys.readouterr()
    assert "what was filled in is kept" in said.err
    text = table.read_text(encoding="utf-8")
    kept = text.splitlines()
    assert {filled, mine, "# my own remark"} <= set(kept)
    assert kept.count(filled) == kept.count(mine) == 1
    trials = read_trials(table, default_setup())
    assert [one.result for one in trials] == ["button", "held"]
    asked = [line for line in kept if "expected: " in line and line != filled]
    assert asked, "the new plan is there too"
    assert not any(line.startswith(filled.split(" ms")[0] + " ms") for line in asked)
    assert main(["suggest", "--no-plots"]) == 0
    assert table.read_text(encoding="utf-8") == text, "the same plan again changes nothing"
    assert set(visible(tmp_path)) == {"nugget-default-trials.csv", "nugget-default-coupons-only.toml"}


def test_a_plan_asks_only_for_pulses_that_the_switch_can_make() -> None:
    relay = default_setup(["switch.kind=relay", "pulse.0.duration=14 ms"])
    shortest_s = relay.circuit.switch.shortest_s
    planned = planning._tidy({1e-3, 0.999 * shortest_s, 12.34e-3}, relay)
    assert min(planned) > shortest_s
    assert planned[-1] == pytest.approx(12e-3)
    assert [trains.trains(relay)[0].with_duration(one).train[-1].duration_s for one in planned] == planned
    half_s = 1.0 / 120.0
    counted = planning._tidy({0.6 * half_s, 3.3 * half_s}, preset("sheets"))
    assert [one / half_s for one in counted] == pytest.approx([1.0, 3.0])


def test_rows_of_other_pulses_do_not_share_a_table() -> None:
    old = "# Pulses: one pulse.\ncell,duration,result\ncoupon,2 ms,button\n"
    new = "# Pulses: two equal pulses.\ncell,duration,result\ncoupon,3 ms,\n"
    assert merged(old, new, {}) is None
    assert merged("results from the bench", new, {}) is None
    twice = f"{new.splitlines()[0]}\ncell,duration,result,remark,remark\ncoupon,2 ms,button,mine,and mine\n"
    assert merged(twice, new, {}) is None, "one of two columns of a name would be lost"


@pytest.mark.parametrize(
    "filled",
    [
        *({name: "0.6 mm"} for name in ("button", "pull", "print", "resistance")),
        {"inside": "clean"},
        {"trace": "first.csv"},
        {"note": "expected: button; joint 0.61 mm; sparks flew"},
        {"note": "expected: button; joint 0.61 mm, sparks flew"},
        {"remark": "tip was dull"},
    ],
    ids=str,
)
def test_whatever_was_filled_into_a_row_of_a_plan_stays(filled: dict[str, str]) -> None:
    asked = {"cell": "coupon", "duration": "2 ms", "count": "3", "note": "expected: button; joint 0.61 mm"}
    head = ["cell", "duration", "result", *OBSERVED[1:-1], "remark", "note"]

    def table(row: dict[str, str]) -> str:
        return "# Pulses: one pulse.\n" + ",".join(head) + "\n" + ",".join(_quoted(row, head)) + "\n"

    new = "# Pulses: one pulse.\ncell,duration,result,count,note\n"
    new += "coupon,9 ms,,3,expected: button; joint 0.9 mm\n"
    both = merged(table(asked | filled), new, {})
    assert both is not None
    rows = list(csv.DictReader(line for line in both.splitlines() if not line.startswith("#")))
    (mine,) = (row for row in rows if row["duration"] == "2 ms")
    assert {name: mine[name] for name in filled} == filled
    given_way = merged(table(asked), new, {})
    assert given_way is not None
    assert "2 ms" not in given_way, "what nobody has welded gives way"


def _quoted(row: dict[str, str], head: list[str]) -> list[str]:
    return ['"' + row.get(name, "") + '"' for name in head]


def test_a_field_that_the_plan_changes_is_a_column_and_old_rows_say_what_they_had() -> None:
    old = "cell;duration;result\ncoupon;2,5 ms;button\n"
    head = "# Pulses: one pulse.\ncell,duration,result,electrode.force,note\n"
    new = f"{head}coupon,2.5 ms,,40 N,expected: button\n"
    both = merged(old, new, {"electrode.force": "30 N"})
    assert both is not None
    rows = list(csv.DictReader(line for line in both.splitlines() if not line.startswith("#")))
    assert [(row["duration"], row["result"], row["electrode.force"]) for row in rows] == [
        ("2.5 ms", "button", "30 N"),
        ("2.5 ms", "", "40 N"),
    ]


@pytest.mark.parametrize("argv", [["--workers", "0"], ["--allow", "x=1:2"], ["--max-duration", "5"]])
def test_bad_input_is_one_line(
    argv: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["suggest", *argv]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def print_of(found: Suggestion, steps: tuple[planning.Step, ...]) -> str:
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        print_suggestion(found, steps)
    return out.getvalue()


def test_the_figure_names_every_candidate(found: Suggestion) -> None:
    labels = [text.get_text() for text in suggestion_figure(found).axes[0].get_yticklabels()]
    assert labels == [one.train.name for one in found.candidates]
