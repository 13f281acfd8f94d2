"""The fit, on a stand-in for the march whose answers are known in closed form."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from invented_bench import fake, rows, trace

from nugget.errors import InputError, SolverError
from nugget.setup import Setup, default_setup
from nugget.study.calibration import marcher
from nugget.study.calibration.bench import Bench, gather
from nugget.study.calibration.condition import Answer, Ask
from nugget.study.calibration.fit import Calibration, calibrate
from nugget.study.calibration.fit_record import calibration_record, machine_toml
from nugget.study.calibration.knobs import Knob, read_knob, usual_knobs
from nugget.study.calibration.trial_table import read_trials


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


@pytest.fixture
def faked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(marcher, "answer", fake)


@pytest.fixture
def bench(setup: Setup, tmp_path: Path) -> Callable[..., Bench]:
    def make(text: str, scope: str = "") -> Bench:
        path = tmp_path / "trials.csv"
        path.write_text(text, encoding="utf-8")
        scopes = []
        if scope:
            scopes = [tmp_path / "scope.csv"]
            scopes[0].write_text(scope, encoding="utf-8")
        return gather(read_trials(path, setup), setup, tmp_path, scopes)

    return make


def knobs(setup: Setup, *names: str) -> list[Knob]:
    return [read_knob(setup, name) for name in names]


def holds(calibration: Calibration, path: str, value: float) -> bool:
    fitted = next(f for f in calibration.fitted if f.knob.path == path)
    return fitted.low <= value <= fitted.high


@pytest.mark.usefixtures("faked")
def test_known_values_lie_in_their_intervals(setup: Setup, bench: Callable[..., Bench]) -> None:
    both = knobs(setup, "contact.radius_factor", "internal_resistance")
    calibration = calibrate(bench(rows(setup, 6)), both)
    assert calibration.state == "fitted"
    assert holds(calibration, "contact.radius_factor", 1.15)
    assert holds(calibration, "source.internal_resistance", 6e-3)
    for fitted, bound in zip(calibration.fitted, calibration.bounds, strict=True):
        width = math.log(fitted.high / fitted.low)
        assert 0.7 < width / (2.0 * 1.96 * bound) < 1.5
    assert calibration.gain > 3.0


@pytest.mark.usefixtures("faked")
def test_more_welds_narrow_the_intervals(setup: Setup, bench: Callable[..., Bench]) -> None:
    both = knobs(setup, "contact.radius_factor", "internal_resistance")
    few, many = (calibrate(bench(rows(setup, n)), both, advice=False).bounds for n in (6, 54))
    assert many == pytest.approx(few / 3.0, rel=0.5)


@pytest.mark.usefixtures("faked")
def test_it_picks_what_can_be_told_and_names_what_does_the_same(
    setup: Setup, bench: Callable[..., Bench]
) -> None:
    calibration = calibrate(bench(rows(setup, 6)))
    paths = {f.knob.path for f in calibration.fitted}
    assert "contact.radius_factor" in paths
    series = {"source.internal_resistance", "leads.resistance", "source.open_circuit_voltage"}
    assert len(paths & series) == 1
    reasons = {b.knob.path: b.reason for b in calibration.blind}
    assert set(reasons) == {k.path for k in usual_knobs(setup)} - paths
    assert all("not distinguishable from" in reasons[path] for path in series - paths)
    assert reasons["contact.faying.film"] == "too small an effect on the observations"


@pytest.mark.usefixtures("faked")
def test_a_trace_tells_the_inductance(setup: Setup, bench: Callable[..., Bench]) -> None:
    inductance = [*knobs(setup, "inductance"), *knobs(setup, "internal_resistance")]
    calibration = calibrate(bench(rows(setup, 2), trace(setup)), inductance, advice=False)
    assert holds(calibration, "leads.inductance", 0.6e-6)
    assert holds(calibration, "source.internal_resistance", 6e-3)


@pytest.mark.usefixtures("faked")
def test_advice_names_the_trace_that_was_not_taken(setup: Setup, bench: Callable[..., Bench]) -> None:
    without = calibrate(bench(rows(setup, 2)))
    assert without.advice[0].kind == "trace"
    assert 0.0 < without.advice[0].factor < 1.0
    factors = [one.factor for one in without.advice]
    assert any(one.kind == "peel" for one in without.advice)
    assert all(f < 1.0 for f in factors)


@pytest.mark.usefixtures("faked")
def test_data_that_say_nothing_give_no_values(setup: Setup, bench: Callable[..., Bench]) -> None:
    calibration = calibrate(bench("cell,duration,result\ncoupon,6 ms,held\n"))
    assert calibration.state == "says nothing"
    assert calibration.fitted == ()
    assert calibration.overrides == {}
    chosen = knobs(setup, "contact.faying.film")
    forced = calibrate(bench("cell,duration,result\ncoupon,6 ms,held\n"), chosen)
    assert forced.state == "says nothing"


def test_a_model_that_jumps_about_is_not_taken_for_a_fit(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    def uneven(ask: Ask) -> Answer:
        seed = int(1e9 * ask.setup.contact.radius_factor) % 2**32
        noise = 0.3e-3 * np.random.default_rng(seed).normal(size=len(ask.durations_s))
        good = fake(ask)
        sizes = tuple(float(s + n) for s, n in zip(good.size_m, noise, strict=True))
        return Answer(**{**vars(good), "size_m": sizes})

    monkeypatch.setattr(marcher, "answer", uneven)
    calibration = calibrate(bench(rows(setup, 3)), knobs(setup, "contact.radius_factor"))
    assert calibration.state == "not converged"
    assert calibration.fitted == ()
    assert "uneven" in calibration.why or "still moved" in calibration.why


def test_a_jump_of_the_model_is_not_taken_for_a_fit(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    """As where a small contact burns through at once: the stand-in runs through everything between.

    Halfway down the jump it would be likelier than anywhere else.
    """

    def jumping(ask: Ask) -> Answer:
        good, factor = fake(ask), ask.setup.contact.radius_factor
        smaller = 0.3e-3 * (factor - 0.8)
        sizes = (0.4e-3, 0.585e-3) if factor < 0.8 else (0.80e-3 - smaller, 0.83e-3 - smaller)
        return Answer(**{**vars(good), "size_m": sizes})

    monkeypatch.setattr(marcher, "answer", jumping)
    lines = ["coupon,4 ms,button,0.62 mm,4", "coupon,8 ms,button,0.72 mm,4"]
    data = bench("\n".join(["cell,duration,result,button,count", *lines]))
    calibration = calibrate(data, knobs(setup, "contact.radius_factor"), advice=False)
    assert calibration.state == "fitted"
    assert calibration.fitted[0].low < 1.3 < calibration.fitted[0].high
    assert calibration.fitted[0].low > 1.0


def test_a_march_that_stops_everywhere_is_said(
    setup: Setup, bench: Callable[..., Bench], monkeypatch: pytest.MonkeyPatch
) -> None:
    own = setup.contact.radius_factor

    def only_here(ask: Ask) -> Answer:
        there = abs(ask.setup.contact.radius_factor - own) < 1e-9
        return fake(ask) if there else Answer(failed="it stopped")

    monkeypatch.setattr(marcher, "answer", only_here)
    calibration = calibrate(bench(rows(setup, 3)), knobs(setup, "contact.radius_factor"))
    assert calibration.state == "not converged"
    assert "it stopped" in calibration.why
    monkeypatch.setattr(marcher, "answer", lambda ask: Answer(failed="it stopped"))
    with pytest.raises(SolverError, match="it stopped"):
        calibrate(bench(rows(setup, 3)), knobs(setup, "contact.radius_factor"))


@pytest.mark.usefixtures("faked")
def test_an_odd_row_is_named(setup: Setup, bench: Callable[..., Bench]) -> None:
    text = rows(setup, 6) + "\ncoupon,1 ms,button,1.2 mm\n"
    calibration = calibrate(bench(text), knobs(setup, "contact.radius_factor"), advice=False)
    assert calibration.state == "fitted"
    assert "line 44: button" in calibration.unlikely


@pytest.mark.usefixtures("faked")
def test_finished_marches_are_not_run_again(
    setup: Setup, bench: Callable[..., Bench], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, one = bench(rows(setup, 3)), knobs(setup, "contact.radius_factor")
    store = tmp_path / "finished.jsonl"
    first = calibrate(data, one, finished=marcher.kept(store))
    calls: list[Ask] = []
    monkeypatch.setattr(marcher, "answer", lambda ask: calls.append(ask) or fake(ask))
    again = calibrate(data, one, finished=marcher.kept(store, resume=True))
    assert calls == []
    assert again.fitted == first.fitted


@pytest.mark.usefixtures("faked")
def test_the_machine_file_is_the_fit(setup: Setup, bench: Callable[..., Bench]) -> None:
    import tomllib

    both = knobs(setup, "contact.radius_factor", "internal_resistance")
    calibration = calibrate(bench(rows(setup, 6)), both, advice=False)
    tree = tomllib.loads(machine_toml(calibration, "trials.csv"))
    assert tree["contact"]["radius_factor"] == pytest.approx(calibration.fitted[0].value, rel=1e-4)
    assert tree["source"]["internal_resistance"].endswith(" mohm")
    laid = setup.with_(calibration.overrides)
    assert laid.contact.radius_factor == pytest.approx(calibration.fitted[0].value)
    record = calibration_record(calibration)
    assert record["state"] == "fitted"
    assert [f["field"] for f in record["fitted"]] == ["contact.radius_factor", "source.internal_resistance"]


@pytest.mark.parametrize(
    ("text", "given", "expected"),
    [
        ("radius_facto", "radius_facto", "nearest is radius_factor"),
        ("contact.radius_factor=2:1", "2:1", "the lower one first"),
        ("contact.radius_factor=1.1:2", "1.1:2", "bounds that hold the setup's own value"),
        ("contact.radius_factor=a:b", "a:b", "LOW:HIGH"),
        ("contact.hardness_factor=5 mm:6 mm", "5 mm:6 mm", "a number without a unit"),
        ("contact.faying_radius_allowance", "0.0", "above zero"),
    ],
)
def test_a_knob_that_cannot_be_is_one_line(setup: Setup, text: str, given: str, expected: str) -> None:
    with pytest.raises(InputError) as caught:
        read_knob(setup, text)
    assert given in str(caught.value)
    assert expected in str(caught.value)
