"""Charts: what is planned, what is reused, what is written, all without a march."""

from __future__ import annotations

import csv
import io
import json
import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import partial
from pathlib import Path
from statistics import NormalDist

import pytest
from chart_and_statement import assert_same
from growths import growth
from hypothesis import given, settings
from hypothesis import strategies as st
from statements import SAMPLE, fake

from nugget.errors import InputError
from nugget.outcome.verdict import MEANING
from nugget.setup import Setup, default_setup, quantity_fields
from nugget.study.charting import duration_chart as module
from nugget.study.charting.chart_record import chart_csv, chart_record
from nugget.study.charting.duration_chart import draw_up, kept, usual_longest
from nugget.study.charting.hardware_changes import TIPS, changes
from nugget.study.durations.branches import with_duration
from nugget.study.durations.edges import Growth
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.inputs.variation import lobe_axis, read_axis
from nugget.study.statement.samples import Sample
from nugget.study.statement.statement import looser, state

SETUP = default_setup(["strip.thickness=0.15 mm", "pulse.0.duration=2.2 ms"])
plan_chart = partial(module.plan_chart, welds=32)
AXIS = read_axis(SETUP, "strip.thickness=0.05:0.30 mm:6")


def made_up(task: tuple[Setup, float]) -> Growth:
    """Target at 26 ms per mm of strip over the contact radius factor, limit at 12 ms less 4 ms per mm."""
    setup, longest_s = task
    mm = 1e3 * sum(layer.thickness_m for layer in setup.strip)
    factor = setup.contact.radius_factor * (setup.force_N / 30.0)
    target, limit = 26.0 * mm / factor, 6.0 * factor
    within = 1e3 * longest_s
    return growth(target if target < within else None, {"can_penetration": limit}, within)


@pytest.fixture(autouse=True)
def no_march(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "grow", made_up)


def test_the_plan_holds_every_column_and_the_welds_of_the_spread() -> None:
    plan = plan_chart(SETUP, AXIS)
    assert len(plan.tasks) == len(AXIS.values) + 32
    grids = {setup.file.numerics.refinement for setup, _ in plan.tasks.values()}
    assert grids == {one.file.numerics.refinement for one in (SETUP, looser(SETUP))}
    assert len(plan_chart(SETUP, AXIS, spread=False).tasks) == len(AXIS.values)
    forces = {setup.force_N for setup, _ in plan.tasks.values()}
    assert min(forces) < 27.0 < 33.0 < max(forces)


def test_a_fit_of_the_machine_and_what_the_user_says_narrow_the_welds() -> None:
    fitted = {"fields": ["electrode.force"], "deviations": [0.005], "correlations": [[1.0]]}
    machine = SETUP.with_({"uncertainty.fitted": fitted})
    forces = [setup.force_N for setup, _ in plan_chart(machine, AXIS).tasks.values()]
    assert 29.0 < min(forces) < max(forces) < 31.0
    known = inputs_of(SETUP, ["electrode.force=1 %"])
    forces = [setup.force_N for setup, _ in plan_chart(SETUP, AXIS, inputs=known).tasks.values()]
    assert 29.0 < min(forces) < max(forces) < 31.0


def test_a_value_that_makes_no_setup_is_bad_input_before_any_march() -> None:
    with pytest.raises(InputError, match="spacing"):
        plan_chart(SETUP, read_axis(SETUP, "spacing=3:9 mm:4"))
    with pytest.raises(InputError, match="unobtainium"):
        plan_chart(SETUP, AXIS, strips=["nickel-200", "unobtainium"])
    with pytest.raises(InputError, match="longest pulse"):
        plan_chart(SETUP, longest_s=20.0)


@settings(max_examples=25, deadline=None)
@given(ms=st.floats(0.1, 500.0))
def test_the_longest_pulse_is_a_round_number_with_room_above_the_setups_own(ms: float) -> None:
    longest_s = usual_longest(with_duration(SETUP, 1e-3 * ms))
    assert 2.999 * ms <= 1e3 * longest_s <= 4.6 * ms
    assert float(f"{longest_s:.1e}") == pytest.approx(longest_s)


def test_windows_narrow_to_nothing_where_the_edges_cross() -> None:
    found = draw_up(plan_chart(SETUP, AXIS, longest_s=20e-3), advice=False)
    (panel,) = found.panels
    for column in panel.columns:
        expected = 26.0 * column.value * 1e3 < 6.0
        assert column.window.open == expected
        assert column.known is not None
        if column.known.open:
            assert expected, "never where the weld as set up has none"
            assert column.known.from_s > column.window.from_s
            assert column.known.until_s < column.window.until_s
    opened = [column.known is not None and column.known.open for column in panel.columns]
    assert opened == [True, True, False, False, False, False], "a fifth of the force decides at 0.15 mm"
    assert found.own_s == pytest.approx(SETUP.train[-1].duration_s)


def test_one_panel_for_each_strip_and_none_twice() -> None:
    found = draw_up(plan_chart(SETUP, AXIS, strips=["nickel-200", "copper-etp", "nickel-200"]), advice=False)
    assert [panel.strip for panel in found.panels] == ["nickel-200", "copper-etp"]
    assert found.panels[1].setup.strip[0].material.name == "copper-etp"


def test_any_executor_gives_the_same_chart() -> None:
    plan = plan_chart(SETUP, AXIS)
    with ThreadPoolExecutor(3) as executor:
        assert draw_up(plan, executor) == draw_up(plan)


def test_advice_is_what_was_tried_for_the_closed_column_nearest_to_the_users_own() -> None:
    seen: list[tuple[str, int]] = []
    plan = plan_chart(SETUP, AXIS)
    found = draw_up(plan, on_done=lambda key, total: seen.append((key, total)))
    advice = found.panels[0].advice
    assert advice is not None
    assert advice.value == pytest.approx(0.25e-3), "the first closed one beyond 0.15 mm"
    assert "comes before" in advice.crossing
    opened = {trial.change.what: trial for trial in advice.trials if trial.window.open}
    assert set(opened) == {"more force", "thinner strip"}, "all that the made-up growth reacts to"
    assert advice.trials[0].window.open, "what helps comes first"
    assert opened["more force"].change.values == {"electrode.force": 45.0}, "the moderate form is enough"
    assert "45 N instead of 30 N" in opened["more force"].sentence
    assert "to 9 ms" in opened["more force"].sentence
    assert len({key for key, _ in seen}) == seen[-1][1], "every march is counted, those of the advice too"
    assert seen[-1][1] > len(plan.tasks)


def test_no_advice_where_every_column_has_a_window() -> None:
    axis = read_axis(SETUP, "electrode.force=30:60 N:3")
    assert draw_up(plan_chart(SETUP, axis)).panels[0].advice is None


def test_changes_that_a_setup_cannot_take_are_left_out() -> None:
    whats = {change.what for change in changes(SETUP)}
    assert "a slot between the tips" in whats
    indirect = default_setup(["arrangement.kind=indirect"])
    assert "a slot between the tips" not in {change.what for change in changes(indirect)}
    for change in changes(SETUP):
        for path, value in change.values.items():
            if isinstance(value, str):
                assert change.setup.document()[path.split(".")[0]]["material"] == value
            else:
                assert quantity_fields(change.setup)[path].path == path
                assert value >= 0.0


def test_changes_come_by_what_they_cost_and_what_is_there_already_is_no_change() -> None:
    costs = [change.cost for change in changes(SETUP)]
    assert costs == sorted(costs)
    tips = [change.setup.electrode.material.name for change in changes(SETUP) if change.what == TIPS]
    assert tips == ["molybdenum", "tungsten"]
    worn = default_setup(["electrode.worn_flat=0.4 mm"])
    dressed = {change.what: change for change in changes(worn)}["a freshly dressed tip"]
    assert dressed.setup.electrode.worn_flat_m == pytest.approx(0.1e-3)


def test_an_interrupted_chart_goes_on_and_ends_the_same(tmp_path: Path) -> None:
    path, plan = tmp_path / "chart.finished.jsonl", plan_chart(SETUP, AXIS)
    ran = 0

    def stops(task: tuple[Setup, float]) -> Growth:
        nonlocal ran
        ran += 1
        if ran == 10:
            raise KeyboardInterrupt
        return made_up(task)

    module.grow = stops  # type: ignore[assignment]
    with pytest.raises(KeyboardInterrupt):
        draw_up(plan, finished=kept(path))
    finished = kept(path, resume=True)
    assert len(finished) == 9
    assert draw_up(plan, finished=finished) == draw_up(plan)
    again = kept(path, resume=True)
    module.grow = None  # type: ignore[assignment]
    assert draw_up(plan, finished=again) is not None, "everything is in the file"


def test_the_table_holds_every_edge_in_si() -> None:
    found = draw_up(plan_chart(SETUP, AXIS, longest_s=20e-3), advice=False)
    rows = list(csv.DictReader(io.StringIO(chart_csv(found))))
    assert len(rows) == 6
    first = rows[0]
    assert float(first["strip.thickness [m]"]) == 0.05e-3
    assert float(first["minimum_diameter_from_s"]) == pytest.approx(1.3e-3)
    assert float(first["can_penetration_until_s"]) == pytest.approx(6e-3)
    assert float(first["window_until_s"]) == pytest.approx(6e-3)
    assert first["window_ends_with"] == "can_penetration"
    assert float(first["minimum_diameter_in_50_percent_s"]) == pytest.approx(1.3e-3, rel=0.04)
    early, late = (float(first[f"minimum_diameter_in_{share}_percent_s"]) for share in (5, 95))
    assert early < float(first["minimum_diameter_from_s"]) < late < float(first["in_window_from_s"]) * 1.1
    assert rows[-1]["window_ends_with"] == "no window"
    assert rows[-1]["window_from_s"] == rows[-1]["in_window_from_s"] == ""


def test_the_record_is_json_and_says_where_its_numbers_come_from() -> None:
    found = draw_up(plan_chart(SETUP, lobe_axis(SETUP), strips=["nickel-200", "copper-etp"]))
    tree = json.loads(json.dumps(chart_record(found), allow_nan=False))
    assert tree["setup"] == SETUP.document(whole=True)
    assert tree["vary"]["field"] == "source.open_circuit_voltage"
    assert len(tree["panels"]) == 2
    assert set(tree["panels"][0]["columns"][0]) == {"value", "window", "known", "growth"}
    assert tree["panels"][0]["statement"]["verdict"] in MEANING
    items = {source["item"] for source in tree["data_sources"]}
    assert any(item.startswith("copper-etp") for item in items)
    assert any(item.startswith("nickel-200") for item in items)
    assert "predicted weld is not a safe weld" in tree["cautions"][0]


def exact(ms: float, width: float, quantile: float) -> float:
    """Quantile of a duration [s] in inverse proportion to the force, which is normal."""
    return 1e-3 * ms / (1.0 + 0.5 * width * NormalDist().inv_cdf(1.0 - quantile))


def test_bands_are_the_quantiles_of_the_same_spread_as_a_statement_takes() -> None:
    """The made-up target goes with one over the force (+-20 %) and the thickness (+-5 %)."""
    found = draw_up(plan_chart(SETUP, AXIS, longest_s=20e-3), advice=False)
    column = found.panels[0].columns[1]
    assert column.known is not None
    target = column.known.band("minimum_diameter")
    middle = 26.0 * column.value * 1e3
    width = math.hypot(0.20, 0.05)
    assert target.middle_s == pytest.approx(1e-3 * middle, rel=0.04)
    for got, quantile in ((target.early_s, 0.05), (target.late_s, 0.95)):
        assert got == pytest.approx(exact(middle, width, quantile), rel=0.05)
    assert target.early_s < exact(middle, width, 0.07), "an error of the fit widens a band"
    assert target.late_s > exact(middle, width, 0.93)


def test_what_is_said_of_the_own_setting_is_the_statement() -> None:
    (panel,) = draw_up(plan_chart(SETUP.with_({"pulse.0.duration": 5e-3}), AXIS), advice=False).panels
    assert panel.said is not None
    at = next(c for c in panel.columns if c.value == pytest.approx(0.15e-3))
    assert at.known is not None
    own = at.known.durations_s.index(5e-3)
    assert panel.said.verdict == at.known.verdicts[own]
    assert (
        f"minimum diameter reached in {100.0 * at.known.chances['enough'][own].share:.0f} %"
        in panel.said.reason
    )
    if panel.said.verdict == "uncertain":
        assert panel.said.decides[0][0] == "tip force"


def test_a_weld_that_stopped_makes_no_window_wider() -> None:
    def some_stop(task: tuple[Setup, float]) -> Growth:
        whole = made_up(task)
        return replace(whole, ended="it stopped") if task[0].force_N > 33.0 else whole

    plain = draw_up(plan_chart(SETUP, AXIS), advice=False).panels[0].columns
    module.grow = some_stop  # type: ignore[assignment]
    stopped = draw_up(plan_chart(SETUP, AXIS), advice=False).panels[0].columns
    assert not any(column.known is not None and column.known.open for column in stopped)
    assert any(column.known is not None and column.known.open for column in plain)
    module.grow = lambda task: replace(made_up(task), ended="it stopped")  # type: ignore[assignment]
    assert all(c.known is None for c in draw_up(plan_chart(SETUP, AXIS), advice=False).panels[0].columns)


def weld_of_the_same_rule(setup: Setup) -> Sample:
    """What `made_up` says of every duration, said of the setup's own."""
    growths = {edge.key: edge for edge in made_up((setup, 1.0)).edges}
    own_s, whole = setup.train[-1].duration_s, fake(setup)
    excess = {
        key: -1.0 if key not in growths else own_s / growths[key].duration_s - 1.0 for key in whole.excess
    }
    return replace(whole, excess=excess)


@pytest.mark.parametrize("ms", [3.0, 4.5, 6.0])
def test_a_chart_says_of_the_own_setting_what_a_statement_says(
    ms: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SAMPLE, weld_of_the_same_rule)
    setup = SETUP.with_({"pulse.0.duration": 1e-3 * ms})
    (panel,) = draw_up(plan_chart(setup, AXIS, longest_s=20e-3), advice=False).panels
    assert_same(panel, state(setup, welds=(32,)), 0.15e-3)


def test_a_relay_that_does_not_obey_exactly_widens_every_band(monkeypatch: pytest.MonkeyPatch) -> None:
    """Edges at 10 and 20 ms of real contact; what it is told comes out with a normal scatter."""
    monkeypatch.setattr(module, "grow", lambda task: growth(10.0, {"can_penetration": 20.0}, 60.0))
    relay = SETUP.with_({"switch.kind": "relay", "pulse.0.duration": "15 ms"})
    scatter_s = relay.circuit.switch.spread_s
    axis = read_axis(relay, "electrode.force=25:35 N:3")
    for column in draw_up(plan_chart(relay, axis, longest_s=60e-3), advice=False).panels[0].columns:
        assert column.known is not None
        target = column.known.band("minimum_diameter")
        assert target.late_s - target.early_s == pytest.approx(2.0 * 1.645 * scatter_s, rel=0.2)
        assert column.known.from_s > 10e-3 + 1.645 * scatter_s
        assert column.known.until_s < 20e-3 - 2.326 * scatter_s


def test_the_best_that_is_named_is_a_pulse_that_the_relay_makes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The joint is there from 4 ms on and the wall is gone at 8: the contacts part after 10 at the least."""
    late = replace(growth(4.0, {"can_penetration": 8.0}, 60.0), shortest_s=10e-3)
    monkeypatch.setattr(module, "grow", lambda task: late)
    relay = SETUP.with_({"switch.kind": "relay", "pulse.0.duration": "15 ms"})
    axis = read_axis(relay, "electrode.force=25:35 N:3")
    for column in draw_up(plan_chart(relay, axis, longest_s=60e-3), advice=False).panels[0].columns:
        assert column.known is not None
        assert column.known.best[0] >= 10e-3
        assert not column.known.open


def test_limits_that_most_welds_keep_to_the_end_blur_no_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """A limit at 30 ms per 30 N, looked for up to 30 ms: what is found in half of the welds says where."""

    def cut(task: tuple[Setup, float]) -> Growth:
        setup, longest_s = task
        edge_s = 1e-3 * setup.force_N
        found = growth(4.0, {"can_penetration": None}, 1e3 * longest_s)
        at = edge_s if edge_s <= longest_s else None
        excess = None if at is not None else longest_s / edge_s - 1.0
        edges = [
            replace(one, duration_s=at, excess=excess) if one.key == "can_penetration" else one
            for one in found.edges
        ]
        return replace(found, edges=tuple(edges))

    monkeypatch.setattr(module, "grow", cut)
    axis = read_axis(SETUP, "cell.wall=0.28:0.32 mm:3")
    for column in draw_up(plan_chart(SETUP, axis, longest_s=30e-3), advice=False).panels[0].columns:
        assert column.known is not None
        limit = column.known.band("can_penetration")
        assert limit.early_s == pytest.approx(30e-3 * (1.0 - 1.645 * 0.1), rel=0.06)
        assert limit.early_s < 30e-3 * (1.0 - 1.0 * 0.1)
