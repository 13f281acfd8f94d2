"""What is said of a weld whose inputs are not known exactly: chances, verdict, what would settle it."""

from __future__ import annotations

import json
import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm
from small import coarse
from statements import SAMPLE, fake

from nugget.errors import SolverError
from nugget.merit.limit import titles
from nugget.setup import Setup, default_setup
from nugget.study.durations.criteria import criteria_of
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement import statement as module
from nugget.study.statement.chances import JOINT, Chance, Surface
from nugget.study.statement.judged_rows import next_step
from nugget.study.statement.measuring import Advice, narrows, remaining
from nugget.study.statement.reasons import Said
from nugget.study.statement.response_surface import fit
from nugget.study.statement.samples import Sample, sample
from nugget.study.statement.statement import Statement, state
from nugget.study.statement.words import by_sampling, decided_by, undecided, verdict_of, wanted

SETUP = default_setup()
MANY_WELDS = True


@pytest.fixture(scope="module")
def found() -> Statement:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, fake)
        return state(SETUP)


def test_chances_are_those_of_the_rule(found: Statement) -> None:
    """Joint: 0.66 mm at 30 N, 0.6 mm needed; force +-20 % at 95 %, so 0.1 at one sigma."""
    joint = found.chance(JOINT)
    target_m = SETUP.joint.minimum_diameter_m
    # Half of the thicknesses that the target follows from vary too; here the target is the strip's 4 t.
    thickness = 0.025 * target_m
    exact = norm.cdf((0.66e-3 - target_m) / math.hypot(0.066e-3, thickness))
    assert joint is not None
    assert joint.share == pytest.approx(exact, abs=0.04)
    assert joint.low <= exact <= joint.high
    harm = found.chance("interior_temperature")
    assert harm is not None
    exact = norm.cdf(math.log(60.0 / 70.0) / (0.5 * math.log(1.5)))
    assert harm.share == pytest.approx(exact, abs=0.04)
    assert harm.high >= exact, "never optimistic on harm"


def test_an_open_verdict_names_input_and_measurement(found: Statement) -> None:
    assert found.verdict == "uncertain"
    assert found.decides[0][0] == "hardness"
    assert f"it depends on '{titles(SETUP.limits)['interior_temperature'].lower()}'" in found.reason
    assert "hardness" in found.reason
    assert {one.key for one in found.advice} <= {"coupons", "force", "strip"}
    assert found.advice[0].fields
    json.dumps(found.record(), allow_nan=False)


def test_what_is_measured_decides(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(SAMPLE, fake)
    known = inputs_of(SETUP, ["contact.hardness_factor=x1.05", "electrode.force=2 %", "strip.thickness=1 %"])
    found = state(SETUP, known)
    assert found.verdict == "in window"
    assert not found.advice
    soft = SETUP.with_({"contact.hardness_factor": 0.6})
    tight = ["contact.hardness_factor=x1.05", "electrode.force=2 %", "strip.thickness=1 %"]
    assert state(soft, inputs_of(soft, tight)).verdict == "too hot"
    weak = SETUP.with_({"electrode.force": 20.0})
    assert state(weak, inputs_of(weak, tight)).verdict == "too cold"
    both = soft.with_({"electrode.force": 20.0})
    assert state(both, inputs_of(both, tight)).verdict == "no window"


def test_how_sure_it_has_to_be_is_the_users(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(SAMPLE, fake)
    tight = ["contact.hardness_factor=x1.1", "electrode.force=8 %", "strip.thickness=1 %"]
    assert state(SETUP, inputs_of(SETUP, tight)).verdict == "in window"
    strict = SETUP.with_({"uncertainty.joint": 0.999999})
    assert state(strict, inputs_of(strict, tight)).verdict == "uncertain"


def test_a_pool_says_the_same_and_so_does_a_second_call(
    found: Statement, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(SAMPLE, fake)
    with ThreadPoolExecutor(3) as pool:
        again = state(SETUP, executor=pool)
    assert (again.verdict, again.reason, again.chances) == (found.verdict, found.reason, found.chances)


def test_welds_that_were_not_finished_count_as_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[Setup] = []

    def every_eighth(one: Setup) -> Sample:
        calls.append(one)
        return Sample({}, {}, (), False, "it stopped") if len(calls) % 8 == 0 else fake(one)

    monkeypatch.setattr(SAMPLE, every_eighth)
    some = state(SETUP, welds=(32,))
    assert (len(some.samples), len(some.failed)) == (28, 4)
    harm = some.chance("harm")
    assert harm is not None
    assert harm.share > 0.125
    assert some.chance("unfinished") is not None
    monkeypatch.setattr(SAMPLE, lambda _: Sample({}, {}, (), False, "it stopped"))
    with pytest.raises(SolverError, match="32 of 32 welds"):
        state(SETUP, welds=(32,))


def test_more_welds_only_where_they_may_decide(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[Setup] = []

    def counted(one: Setup) -> Sample:
        calls.append(one)
        return fake(one)

    monkeypatch.setattr(SAMPLE, counted)
    tight = ["contact.hardness_factor=x1.05", "electrode.force=2 %", "strip.thickness=1 %"]
    found = state(SETUP, inputs_of(SETUP, tight))
    assert found.verdict == "in window"
    assert len(calls) == module.FEW, "fewer do not say so"
    calls.clear()
    cold = SETUP.with_({"joint.minimum_diameter": "2 mm"})
    assert state(cold, inputs_of(cold, tight)).verdict == "too cold"
    assert len(calls) == module.WELDS[0]


def test_no_weld_is_simulated_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[Setup] = []
    told: list[int] = []

    def counted(one: Setup) -> Sample:
        calls.append(one)
        return fake(one)

    monkeypatch.setattr(SAMPLE, counted)
    monkeypatch.setattr(module, "by_sampling", lambda *_: True)
    found = state(SETUP, welds=(8, 16), on_done=lambda _, total: told.append(total))
    assert found.verdict == "uncertain"
    assert len(calls) == len(found.samples) == 16
    assert told == 8 * [8] + 8 * [16]


@pytest.mark.parametrize(("likely", "expected"), [(False, 64), (True, 128)])
def test_beyond_some_welds_more_follow_only_where_they_would_probably_decide(
    likely: bool, expected: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    left: list[float] = []

    def decides(_: object, __: object, share: float) -> bool:
        left.append(share)
        return likely

    monkeypatch.setattr(SAMPLE, fake)
    monkeypatch.setattr(module, "by_sampling", lambda *_: True)
    monkeypatch.setattr(module, "decided_by", decides)
    found = state(SETUP, welds=(32, 64, 128))
    assert len(found.samples) == expected
    assert left[0] == pytest.approx(0.5**0.5), "errors go with the root of the number of welds"


def test_what_fewer_errors_would_decide() -> None:
    """Joint surely made; harm of 0.3 %, at most 1.5 %, where 1 % is asked for."""
    open_now = {
        JOINT: Chance(JOINT, "", "", 0.99, 0.97, 1.0),
        "harm": Chance("harm", "", "harm", 0.003, 0.0, 0.015),
    }
    assert not decided_by(open_now, SURE, 1.0)
    assert decided_by(open_now, SURE, 0.5), "at most 0.9 %"
    often = open_now | {"harm": Chance("harm", "", "harm", 0.012, 0.0, 0.03)}
    assert not decided_by(often, SURE, 0.0)


def test_more_welds_where_the_better_ends_say_in_window() -> None:
    """And none where harm, or a joint that is missed, is certain enough."""

    def chances(joint: tuple[float, float], harm: tuple[float, float]) -> dict[str, Chance]:
        return {
            JOINT: Chance(JOINT, "", "", sum(joint) / 2.0, *joint),
            "harm": Chance("harm", "", "harm", sum(harm) / 2.0, *harm),
        }

    assert by_sampling(chances((0.9, 1.0), (0.0, 0.05)), SURE)
    assert by_sampling(chances((0.97, 1.0), (0.002, 0.04)), SURE)
    assert not by_sampling(chances((0.9, 1.0), (0.2, 0.4)), SURE)
    assert not by_sampling(chances((0.6, 0.8), (0.0, 0.05)), SURE)
    assert not by_sampling(chances((0.97, 1.0), (0.0, 0.005)), SURE), "that is in window already"


def test_welds_of_a_statement_are_on_seven_tenths_of_the_setup_s_own_grid(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On half of it what melts scatters by a tenth of a limit."""
    calls: list[Setup] = []

    def kept(one: Setup) -> Sample:
        calls.append(one)
        return fake(one)

    monkeypatch.setattr(SAMPLE, kept)
    state(SETUP, welds=(8,))
    own = SETUP.file.numerics
    assert [one.file.numerics.refinement for one in calls] == pytest.approx([0.7 * own.refinement] * 8)
    assert all(own.tolerance.si < one.file.numerics.tolerance.si <= 5.0 for one in calls)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_response_finds_what_matters_and_knows_its_error(seed: int) -> None:
    rng = np.random.default_rng(seed)
    z = rng.standard_normal((64, 12))
    noise = 0.1 * rng.standard_normal(64)
    values = 0.3 + 0.5 * z[:, 0] - 0.4 * z[:, 3] + 0.3 * z[:, 0] * z[:, 3] + noise
    one = fit(z, values)
    assert np.argsort(-one.totals)[:2].tolist() in ([0, 3], [3, 0])
    fresh = rng.standard_normal((500, 12))
    exact = 0.3 + 0.5 * fresh[:, 0] - 0.4 * fresh[:, 3] + 0.3 * fresh[:, 0] * fresh[:, 3]
    found, error = one.at(fresh)
    assert np.sqrt(np.mean((found - exact) ** 2)) < 0.25
    assert np.mean(np.abs(found - exact) > 2.0 * error) < 0.1
    assert error.min() > 0.05
    assert one(fresh) == pytest.approx(found)


def test_a_response_is_less_sure_far_from_its_welds() -> None:
    z = np.random.default_rng(5).uniform(-1.0, 1.0, (32, 3))
    one = fit(z, np.sin(2.0 * z[:, 0]))
    _, (near, far) = one.at(np.array([[0.0, 0.0, 0.0], [4.0, 0.0, 0.0]]))
    assert far > 3.0 * near


def test_a_response_to_nothing_promises_nothing() -> None:
    z = np.random.default_rng(5).standard_normal((32, 15))
    values = np.random.default_rng(6).standard_normal(32)
    one = fit(z, values)
    assert np.sqrt(np.mean(one.missed**2)) > 0.7
    assert one.at(np.random.default_rng(8).standard_normal((50, 15)))[1].min() > 0.5
    same = fit(z, np.full(32, 0.2))
    assert same.at(z)[0] == pytest.approx(0.2)
    assert not same.totals.any()


@dataclass(frozen=True)
class Ends:
    low: float
    high: float


SURE = wanted(SETUP)
NO, YES, OPEN = Ends(0.0, 0.001), Ends(0.999, 1.0), Ends(0.3, 0.5)


@pytest.mark.parametrize(
    ("joint", "harm", "damage", "hardware", "verdict"),
    [
        (YES, NO, NO, NO, "in window"),
        (NO, NO, NO, NO, "too cold"),
        (YES, YES, NO, NO, "too hot"),
        (YES, NO, YES, NO, "too hot"),
        (OPEN, YES, OPEN, NO, "too hot"),
        (NO, YES, NO, NO, "no window"),
        (NO, NO, NO, YES, "no window"),
        (NO, OPEN, NO, NO, "no window"),
        (NO, Ends(0.0, 0.3), NO, NO, "uncertain"),
        (NO, NO, Ends(0.06, 0.3), NO, "no window"),
        (NO, NO, Ends(0.04, 0.3), NO, "no window"),
        (NO, NO, Ends(0.0, 0.09), NO, "too cold"),
        (YES, NO, NO, YES, "hardware limit"),
        (YES, OPEN, NO, NO, "uncertain"),
        (OPEN, NO, NO, NO, "uncertain"),
        (YES, NO, OPEN, NO, "uncertain"),
        (YES, Ends(0.0, 0.011), NO, NO, "uncertain"),
        (YES, NO, Ends(0.0, 0.049), NO, "in window"),
    ],
)
def test_words_follow_from_chances(
    joint: Ends, harm: Ends, damage: Ends, hardware: Ends, verdict: str
) -> None:
    chances = {JOINT: joint, "harm": harm, "damage": damage, "hardware": hardware}
    assert verdict_of(chances, SURE) == verdict


def test_where_no_measurement_decides_more_welds_may() -> None:
    said = Said("uncertain", "", more_welds=True)
    assert "nugget scatter" in next_step(said)
    assert "nugget suggest" in next_step(replace(said, more_welds=False))
    told = Advice("force", "the force", "{command} --set {field}", 1.0, ("electrode.force",), 0.9)
    assert "measure the force" in next_step(replace(said, advice=(told,)))
    assert "need not decide" in next_step(replace(said, advice=(replace(told, decides=0.0),)))


def test_where_none_is_seen_to_decide_the_one_that_narrows_most_is_named() -> None:
    inputs = inputs_of(SETUP)
    number = next(k for k, one in enumerate(inputs.items) if one.path == "electrode.force")
    totals = np.zeros(len(inputs))
    totals[number] = 0.9
    surface = Surface(inputs, (), (SimpleNamespace(totals=totals),))  # type: ignore[arg-type]
    (one,) = narrows(surface, 0)
    assert (one.key, one.fields, one.decides) == ("force", ("electrode.force",), 0.0)
    totals[:] = 0.0
    assert narrows(surface, 0) == ()


ENDS = st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 1.0)).map(lambda pair: Ends(min(pair), max(pair)))


@given(st.fixed_dictionaries({JOINT: ENDS, "harm": ENDS, "damage": ENDS, "hardware": ENDS}))
def test_nothing_open_is_called_a_window(chances: dict[str, Ends]) -> None:
    verdict = verdict_of(chances, SURE)
    if verdict == "in window":
        assert chances["harm"].high <= 0.01 + 1e-12
        assert chances["damage"].high <= 0.05 + 1e-12
        assert not undecided(chances, SURE)
    if verdict == "too cold":
        assert chances["harm"].high <= 0.01 + 1e-12, "it tells to weld for longer"
    wider = chances | {"harm": Ends(chances["harm"].low, 1.0)}
    assert verdict_of(wider, SURE) != "in window"


def test_a_measurement_leaves_less_than_there_was() -> None:
    for one in inputs_of(SETUP).items:
        assert 0.0 < remaining(one) <= 1.0, one.path
    force = next(one for one in inputs_of(SETUP).items if one.path == "electrode.force")
    assert remaining(force) == pytest.approx(0.03 / 0.20)


def test_a_real_weld_says_how_far_it_is_from_every_limit() -> None:
    quick = coarse("pulse.0.duration=1 ms", name="default")
    one = sample(quick)
    assert set(one.excess) == {"minimum_diameter", *(limit.id for limit in quick.limits)}
    assert (one.excess["minimum_diameter"] >= 0.0) == one.enough
    for limit in quick.limits:
        assert one.excess[limit.id] > 0.0 or limit.id not in one.broken, limit.id
        assert one.excess[limit.id] <= 0.0 or limit.id in one.broken or limit.what.grid_low, limit.id


def test_a_limit_counts_as_broken_as_soon_as_the_grid_may_have_read_too_low() -> None:
    wall = next(one for one in criteria_of(SETUP) if one.figure.key == "can_penetration")
    winding = next(one for one in criteria_of(SETUP) if one.figure.key == "interior_peak_K")
    assert wall.excess({}, {"can_penetration": np.array([0.0, 0.98 * wall.threshold])}) > 0.0
    assert wall.excess({}, {"can_penetration": np.array([0.0, 0.96 * wall.threshold])}) < 0.0
    rough = SETUP.with_({"numerics.refinement": 0.5})
    coarser = next(one for one in criteria_of(rough) if one.key == wall.key)
    assert coarser.excess({}, {"can_penetration": np.array([0.0, 0.96 * wall.threshold])}) > 0.0
    rise_K = winding.threshold - SETUP.ambient_K
    for share, sign in ((0.99, 1.0), (0.97, -1.0)):
        peak_K = SETUP.ambient_K + share * rise_K
        assert sign * winding.excess({"interior_peak_K": peak_K}, {}) > 0.0
    size = next(one for one in criteria_of(SETUP) if one.kind == "joint")
    assert size.excess({}, {"nugget_diameter_m": np.array([0.999 * size.threshold])}) < 0.0


def test_energy_that_the_circuit_loses_is_spoken_of(found: Statement) -> None:
    from nugget.study.statement.assessment import Assessment

    for residual, said in ((1e-5, False), (0.02, True)):
        weld = SimpleNamespace(figures={"circuit_residual": residual}, setup=SETUP)
        reason = Assessment(weld, (), found).reason  # type: ignore[arg-type]
        assert ("2 % of the source's energy is lost in computing the circuit" in reason) == said
