"""The fit, on a stand-in for the march whose answers are known in closed form."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from invented_bench import AREA_M2, TRUE, fake, rows, trace

from nugget.errors import InputError, SolverError
from nugget.setup import Setup, default_setup
from nugget.study.calibration import marcher
from nugget.study.calibration.bench import Bench, gather
from nugget.study.calibration.condition import Answer, Ask
from nugget.study.calibration.fit import NARROWED, Calibration, Fitted, _alongside, calibrate
from nugget.study.calibration.fit_record import calibration_record, machine_toml
from nugget.study.calibration.posterior import WIDER, _wider
from nugget.study.calibration.trial_table import read_trials
from nugget.study.inputs.uncertain import inputs_of

HARDNESS, SOURCE = "contact.hardness_factor", "source.internal_resistance"
FILMS = ("contact.tip.film", "contact.faying.film")


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup(["strip.thickness=0.15 mm", "pulse.0.duration=2.2 ms"])


@pytest.fixture
def faked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(marcher, "answer", fake)


@pytest.fixture
def bench(setup: Setup, tmp_path: Path) -> Callable[..., Bench]:
    def make(text: str = "", scope: str = "") -> Bench:
        path, scopes = tmp_path / "trials.csv", []
        path.write_text(text, encoding="utf-8")
        if scope:
            scopes = [tmp_path / "scope.csv"]
            scopes[0].write_text(scope, encoding="utf-8")
        return gather(read_trials(path, setup) if text else (), setup, tmp_path, scopes)

    return make


def fitted(calibration: Calibration, path: str) -> Fitted:
    return next(one for one in calibration.fitted if one.item.path == path)


@pytest.mark.usefixtures("faked")
def test_known_values_lie_in_their_intervals(setup: Setup, bench: Callable[..., Bench]) -> None:
    found = calibrate(bench(rows(setup, 6), trace(setup)))
    assert found.state == "fitted"
    hardness = fitted(found, HARDNESS)
    assert hardness.low <= float(TRUE[HARDNESS]) <= hardness.high
    assert hardness.deviation < NARROWED
    assert not any(one.at_its_end for one in found.fitted)
    assert found.gain > 3.0
    true = setup.with_(TRUE)
    series = sum(f.value for f in found.fitted if f.item.path in (SOURCE, "leads.resistance"))
    left = {SOURCE, "leads.resistance"} - {f.item.path for f in found.fitted}
    series += sum(setup.get(path) or 0.0 for path in left)
    assert series == pytest.approx(true.get(SOURCE) + true.get("leads.resistance"), rel=0.05)


@pytest.mark.usefixtures("faked")
@pytest.mark.parametrize("welds", [6, 20])
def test_the_posterior_is_that_of_a_grid(setup: Setup, bench: Callable[..., Bench], welds: int) -> None:
    """One input: mean and deviation against the posterior worked out point by point."""
    data = bench(rows(setup, welds))
    found = calibrate(data, only=[HARDNESS], advice=False)
    inputs = inputs_of(setup).some([[one.path for one in inputs_of(setup).items].index(HARDNESS)])
    z = np.linspace(-3.0, 3.0, 241)
    outputs = np.array([data.vector([fake(ask) for ask in data.asks(inputs, row)]) for row in z[:, None]])
    log = data.log_likelihood(outputs) - 0.5 * z**2
    weight = np.exp(log - log.max())
    mean = float(z @ weight / weight.sum())
    deviation = math.sqrt(float((z - mean) ** 2 @ weight / weight.sum()))
    one = fitted(found, HARDNESS)
    assert one.place == pytest.approx(mean, abs=0.3 * deviation)
    assert one.deviation == pytest.approx(deviation, rel=0.25)


@pytest.mark.usefixtures("faked")
def test_a_resistance_alone_narrows_the_sum_of_the_films(setup: Setup, bench: Callable[..., Bench]) -> None:
    sum_ohm_m2 = 4e-11
    data = bench(f"cell,resistance\ncoupon,{(1e-3 + sum_ohm_m2 / AREA_M2) * 1e3:.4f} mohm\n")
    found = calibrate(data)
    assert found.state == "fitted"
    assert {one.item.path for one in found.fitted} == set(FILMS)
    assert sum(one.value for one in found.fitted) == pytest.approx(sum_ohm_m2, rel=0.15)
    assert found.correlations[0, 1] < -0.3
    assert [one.title for one in found.told] == ["cold resistances"]
    assert {title for title, _ in found.told[0].left} == {"film under the tip", "film at the faying surface"}
    machine = setup.with_(tomllib.loads(machine_toml(found, "t.csv")))
    before, after = (
        np.std([sum(values_at(one, row)) for row in one.drawn(256, 3)])
        for one in (inputs_of(setup), inputs_of(machine))
    )
    assert after < 0.9 * before


def values_at(inputs: object, row: object) -> list[float]:
    values = inputs.values(row)  # type: ignore[attr-defined]
    return [v for one, v in zip(inputs.items, values, strict=True) if one.path in FILMS]  # type: ignore[attr-defined]


@pytest.mark.usefixtures("faked")
def test_a_trace_alone_tells_the_circuit(setup: Setup, bench: Callable[..., Bench]) -> None:
    found = calibrate(bench(scope=trace(setup)))
    assert found.state == "fitted"
    assert [one.title for one in found.told] == ["scope traces"]
    paths = {one.item.path for one in found.fitted}
    assert {SOURCE, "leads.inductance"} <= paths
    assert HARDNESS not in paths
    assert (
        next(one for one in found.unidentified if one.item.path == HARDNESS).reason
        == "too small an effect on the observations"
    )


@pytest.mark.usefixtures("faked")
def test_a_print_alone_tells_the_hardness(setup: Setup, bench: Callable[..., Bench]) -> None:
    found = calibrate(bench("cell,duration,print\ncoupon,4 ms,0.62 mm\n"))
    assert found.state == "fitted"
    assert [one.item.path for one in found.fitted] == [HARDNESS]
    assert fitted(found, HARDNESS).value < 0.9
    assert found.told[0].title == "prints"


@pytest.mark.usefixtures("faked")
def test_advice_names_the_trace_and_the_resistance_that_were_not_taken(
    setup: Setup, bench: Callable[..., Bench]
) -> None:
    kinds = [one.kind for one in calibrate(bench(rows(setup, 2))).advice]
    assert {"trace", "cold"} <= set(kinds)
    assert all(0.0 < one.factor < 1.0 for one in calibrate(bench(rows(setup, 2))).advice)


@pytest.mark.usefixtures("faked")
def test_data_that_say_nothing_give_no_values(setup: Setup, bench: Callable[..., Bench]) -> None:
    found = calibrate(bench("cell,duration,result\ncoupon,6 ms,held\n"))
    assert found.state == "says nothing"
    assert found.fitted == ()
    assert found.overrides == {}


def test_a_march_that_stops_everywhere_is_said(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(marcher, "answer", lambda ask: Answer(failed="it stopped"))
    with pytest.raises(SolverError, match="it stopped"):
        calibrate(bench(rows(setup, 3)))


def leaping(share: float) -> Callable[[Ask], Answer]:
    """The stand-in with joints that leap from march to march by a share, without any rule."""

    def march(ask: Ask) -> Answer:
        good, seed = fake(ask), int(1e12 * ask.setup.contact.hardness_factor) % 2**32
        leap = 1.0 + share * float(np.random.default_rng(seed).normal())
        return replace(good, size_m=tuple(size * leap for size in good.size_m))

    return march


def test_leaps_from_march_to_march_widen_the_interval_and_end_nothing(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    true_m = fake(Ask(setup.with_({HARDNESS: 0.8}), (12e-3,), (), ())).size_m[0]
    sizes = true_m + 0.12 * 0.6e-3 * np.random.default_rng(4).normal(size=20)
    lines = [f"coupon,12 ms,button,{1e3 * max(size, 0.6e-3):.4f} mm" for size in sizes]
    data, found = bench("\n".join(["cell,duration,result,button", *lines])), []
    for share in (0.0, 0.05):
        monkeypatch.setattr(marcher, "answer", leaping(share))
        found.append(calibrate(data, only=[HARDNESS], advice=False))
    even, uneven = (fitted(one, HARDNESS) for one in found)
    assert found[0].unevenness < 0.2 < found[1].unevenness
    for one in (even, uneven):
        assert one.low <= 0.8 <= one.high
    # Twenty rows that spread by 0.07 mm each tell 0.016 mm, a joint of 0.7 mm leaps by 0.035 mm.
    assert uneven.deviation > 1.3 * even.deviation


def test_a_model_without_rule_tells_nothing(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(marcher, "answer", leaping(0.6))
    found = calibrate(bench(rows(setup, 6)), only=[HARDNESS], advice=False)
    assert found.state != "fitted" or fitted(found, HARDNESS).deviation > 0.6


def test_what_the_coarser_grid_is_off_by_is_corrected(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Joints of the coarse grid that are 0.1 mm too large."""

    def biased(ask: Ask) -> Answer:
        good, off = fake(ask), 0.1e-3 if ask.setup.file.numerics.refinement < 1.0 else 0.0
        return replace(good, size_m=tuple(size + off for size in good.size_m))

    data, found = bench(rows(setup, 6)), []
    for march in (fake, biased):
        monkeypatch.setattr(marcher, "answer", march)
        found.append(fitted(calibrate(data, only=[HARDNESS], advice=False), HARDNESS))
    assert found[1].place == pytest.approx(found[0].place, abs=0.3 * found[0].deviation)
    assert found[1].deviation == pytest.approx(found[0].deviation, rel=0.3)


@pytest.mark.usefixtures("faked")
def test_an_odd_row_is_named(setup: Setup, bench: Callable[..., Bench]) -> None:
    text = rows(setup, 6) + "\ncoupon,1 ms,button,1.2 mm\n"
    found = calibrate(bench(text), only=[HARDNESS], advice=False)
    assert found.state == "fitted"
    assert "line 44: button" in found.unlikely


@pytest.mark.usefixtures("faked")
def test_finished_marches_are_not_run_again(
    setup: Setup, bench: Callable[..., Bench], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, store = bench(rows(setup, 3)), tmp_path / "finished.jsonl"
    first = calibrate(data, only=[HARDNESS], finished=marcher.kept(store))
    calls: list[Ask] = []
    monkeypatch.setattr(marcher, "answer", lambda ask: calls.append(ask) or fake(ask))
    again = calibrate(data, only=[HARDNESS], finished=marcher.kept(store, resume=True))
    assert calls == []
    assert again.fitted == first.fitted


@pytest.mark.usefixtures("faked")
def test_the_machine_file_is_the_posterior(setup: Setup, bench: Callable[..., Bench]) -> None:
    found = calibrate(bench(rows(setup, 6), trace(setup)), advice=False)
    tree = tomllib.loads(machine_toml(found, "trials.csv"))
    assert tree["contact"]["hardness_factor"] == pytest.approx(fitted(found, HARDNESS).value, rel=1e-4)
    assert tree["source"]["internal_resistance"].endswith(" mohm")
    inputs = inputs_of(setup.with_(tree))
    after = {one.path: one for one in inputs.items}
    for one in found.fitted:
        if one.item.spread.kind == "factor":
            width = after[one.item.path].value(1.0) / after[one.item.path].value(-1.0)
            assert math.log(width) == pytest.approx(2.0 * one.log_deviation, rel=0.01)
    record = calibration_record(found)
    assert record["state"] == "fitted"
    assert {f["field"] for f in record["fitted"]} == {one.item.path for one in found.fitted}
    at = [list(after).index(one.item.path) for one in found.carried]
    assert found.correlations == pytest.approx(np.array(inputs.correlation)[np.ix_(at, at)], abs=1e-3)


@pytest.mark.usefixtures("faked")
def test_a_sum_is_known_after_the_fit_as_well_as_in_it(setup: Setup, bench: Callable[..., Bench]) -> None:
    """A trace tells source and leads together: the leads stay as uncertain as they were by themselves."""
    found = calibrate(bench(scope=trace(setup)), advice=False)
    series = (SOURCE, "leads.resistance")
    assert [one.item.path for one in found.alongside if one.item.path in series] == ["leads.resistance"]
    at = [k for k, one in enumerate(found.carried) if one.item.path in series]
    share = np.array([found.carried[k].value * found.carried[k].log_deviation for k in at])
    deviation_ohm = math.sqrt(share @ found.correlations[np.ix_(at, at)] @ share)
    machine = inputs_of(setup.with_(tomllib.loads(machine_toml(found, "t.csv"))))
    columns = [k for k, one in enumerate(machine.items) if one.path in series]
    drawn = np.array([machine.values(row) for row in machine.drawn(512, 3)])[:, columns]
    assert drawn.sum(axis=1).std() == pytest.approx(deviation_ohm, rel=0.1)
    assert deviation_ohm < 0.6 * math.hypot(*drawn.std(axis=0))


def test_a_film_near_the_end_of_its_range_keeps_its_way_back(setup: Setup) -> None:
    """The slope of the logarithm is small there; what goes into the machine file still reaches so far."""
    film = next(one for one in inputs_of(setup).items if one.path == "contact.tip.film")
    low, value, high = (film.value(1.8 + sign * 1.96 * 0.3) for sign in (-1.0, 0.0, 1.0))
    one = Fitted(film, value, low, high, 1.8, 0.3)
    assert value * math.exp(-1.96 * one.log_deviation) == pytest.approx(low)
    assert film.log_slope(1.8) * 0.3 < 0.8 * one.log_deviation


@pytest.mark.usefixtures("faked")
def test_a_second_table_goes_on_from_the_first(setup: Setup, bench: Callable[..., Bench]) -> None:
    first = calibrate(bench(rows(setup, 3)), only=[HARDNESS], advice=False)
    machine = setup.with_(tomllib.loads(machine_toml(first, "t.csv")))
    data = replace(bench(rows(setup, 3, seed=2)), setup=machine)
    cases = tuple(
        replace(one, condition=replace(one.condition, setup=machine.with_({"cell.kind": "coupon"})))
        for one in data.cases
    )
    second = calibrate(replace(data, cases=cases), only=[HARDNESS], advice=False)
    one, two = fitted(first, HARDNESS), fitted(second, HARDNESS)
    assert two.log_deviation == pytest.approx(one.log_deviation / math.sqrt(2.0), rel=0.3)


EARLIER = {
    "source.open_circuit_voltage": "13.2 V",
    "cell.wall": "0.26 mm",
    "uncertainty.fitted": {
        "fields": ["source.open_circuit_voltage", "cell.wall"],
        "deviations": [0.008, 0.03],
        "correlations": [[1.0, -0.1], [-0.1, 1.0]],
    },
}


@pytest.mark.usefixtures("faked")
@pytest.mark.parametrize("only", [(), FILMS])
def test_a_later_fit_keeps_what_an_earlier_one_told(
    setup: Setup, bench: Callable[..., Bench], only: tuple[str, ...]
) -> None:
    machine = setup.with_(EARLIER)
    data = replace(bench("cell,resistance\ncoupon,2.4 mohm\n"), setup=machine)
    found = calibrate(data, only=only, advice=False)
    assert found.state == "fitted"
    assert not {one.item.path for one in found.fitted} & set(EARLIER)
    later = tomllib.loads(machine_toml(found, "t.csv"))
    assert float(later["cell"]["wall"].split()[0]) == pytest.approx(0.26, rel=0.005)
    assert float(later["source"]["open_circuit_voltage"].split()[0]) == pytest.approx(13.2, rel=0.002)
    left = later["uncertainty"]["fitted"]
    at = [left["fields"].index(path) for path in EARLIER["uncertainty.fitted"]["fields"]]  # type: ignore[index]
    assert [left["deviations"][k] for k in at] == pytest.approx([0.008, 0.03], rel=0.02)
    assert left["correlations"][at[0]][at[1]] == pytest.approx(-0.1, abs=0.02)
    inputs_of(setup.with_(later))


def test_what_is_chosen_for_each_weld_is_not_handed_on_unless_it_is_told(setup: Setup) -> None:
    inputs = inputs_of(setup)
    paths = [one.path for one in inputs.items]
    hardness, force = paths.index(HARDNESS), paths.index("electrode.force")
    covariance = np.eye(len(paths))
    covariance[hardness, force] = covariance[force, hardness] = 0.6
    assert _alongside(inputs, covariance, []) == [hardness]


def test_an_amount_that_may_be_nothing_has_a_deviation(setup: Setup) -> None:
    none = setup.with_({"contact.tip.film": "0 ohm m2"})
    item = next(
        one for one in inputs_of(none, ["contact.tip.film=2e-11 ohm m2"]).items if one.path == FILMS[0]
    )
    assert math.isfinite(Fitted(item, 1e-11, 0.0, 2e-11, 1.0, 0.5).log_deviation)


def test_a_field_without_a_spread_cannot_be_fitted(setup: Setup, bench: Callable[..., Bench]) -> None:
    with pytest.raises(InputError) as caught:
        calibrate(bench(rows(setup, 2)), only=["contact.radius_factor"])
    assert "or a spread of its own" in str(caught.value)


def test_what_welds_tell_is_less_certain_than_their_response_but_never_less_than_before() -> None:
    known = np.diag([1e-4, 0.25, 1.0])
    wider = _wider(known)
    assert np.sqrt(wider[0, 0] / known[0, 0]) == pytest.approx(WIDER, rel=1e-3)
    assert known[1, 1] < wider[1, 1] < WIDER**2 * known[1, 1]
    assert wider[2, 2] == pytest.approx(1.0)
