"""Limits, sensitivity and the verdict, on made-up figures; and judging on any executor."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import coarse

from nugget.errors import InputError
from nugget.merit.limit import Limit
from nugget.outcome import verdict
from nugget.outcome.verdict import Judged, judge, of_both_spots, state_of, variants, verdict_of
from nugget.setup import Setup

SETUP = coarse(name="default")
TARGET = SETUP.joint.target_diameter_m
GOOD: dict[str, Any] = {
    "nugget_diameter_m": 1.2 * TARGET,
    "interior_peak_K": 320.0,
    "roll_peak_K": 320.0,
    "disc_melted_share": 0.5,
    "interior_dose": 1e-6,
    "can_penetration": 0.2,
    "strip_through_ratio": 0.5,
    "tip_sticking_ratio": 0.5,
    "indentation_share": 0.1,
    "expulsion": False,
    "burn_through": False,
    "switch_device_current_A": 230.0,
    "peak_current_A": 1400.0,
    "load_share": 1.0,
    "peak_reached": True,
}
COLD = GOOD | {"nugget_diameter_m": 0.8 * TARGET}
HOT = GOOD | {"can_penetration": 0.7}
NONE = COLD | {"expulsion": True}
ASKED = GOOD | {"switch_device_current_A": 401.0}


@pytest.mark.parametrize(
    ("figures", "state"),
    [
        (GOOD, "in window"),
        (COLD, "too cold"),
        (HOT, "too hot"),
        (NONE, "no window"),
        (ASKED, "hardware limit"),
        (ASKED | HOT | {"switch_device_current_A": 401.0}, "too hot"),
        (COLD | {"switch_device_current_A": 401.0}, "no window"),
        (COLD | {"burn_through": True}, "no window"),
    ],
)
def test_the_state_of_one_run(figures: dict[str, Any], state: str) -> None:
    assert state_of(SETUP, figures) == state


@pytest.mark.parametrize(
    ("key", "value", "state"),
    [
        ("interior_peak_K", 404.0, "too hot"),
        ("disc_melted_share", 0.95, "too hot"),
        ("interior_dose", 0.02, "too hot"),
        ("can_penetration", 0.51, "too hot"),
        ("burn_through", True, "too hot"),
        ("strip_through_ratio", 1.1, "too hot"),
        ("tip_sticking_ratio", 1.1, "too hot"),
        ("indentation_share", 0.26, "too hot"),
        ("expulsion", True, "too hot"),
        ("switch_device_current_A", 401.0, "hardware limit"),
        ("load_share", 0.49, "too hot"),
    ],
)
def test_every_limit_of_the_default_can_break_a_good_weld(key: str, value: float, state: str) -> None:
    assert state_of(SETUP, GOOD | {key: value}) == state


def test_of_two_limits_on_one_figure_the_stricter_breaks_whichever_comes_last() -> None:
    strict = Limit("strict", "can_penetration", "at most", 0.1, "a test")
    loose = Limit("loose", "can_penetration", "at most", 0.95, "a test")
    for limits in ((strict, loose), (loose, strict)):
        setup = replace(SETUP.si, limits=limits)
        assert state_of(setup, GOOD) == "too hot"
        assert verdict_of(setup, [GOOD] * 3)[1].endswith(
            "beyond the limit: melted share of the can wall (strict) (harm to the cell)"
        )


def test_two_limits_of_one_id_are_refused() -> None:
    twice = (Limit("mine", "can_penetration", "at most", 0.1, "a test"),) * 2
    with pytest.raises(InputError, match="two of the id mine"):
        state_of(replace(SETUP.si, limits=twice), GOOD)


def test_a_limit_that_cannot_be_judged_is_not_kept() -> None:
    unread = {key: value for key, value in GOOD.items() if key != "can_penetration"}
    with pytest.raises(InputError, match="no figure can_penetration"):
        state_of(SETUP, unread)
    assert Limit("mine", "can_penetration", "at most", 0.5, "a test").breaks(float("nan"))
    assert Limit("mine", "load_share", "at least", 0.5, "a test").breaks(float("nan"))


def test_what_only_a_longer_pulse_reaches_is_too_cold() -> None:
    """A joint of at least some strength is a target, not a limit that heat breaks."""
    strong = Limit("strong", "shear_force_N", "at least", 60.0, "a test", severity="damage")
    setup = replace(SETUP.si, limits=(*SETUP.limits, strong))
    assert state_of(setup, GOOD | {"shear_force_N": 61.0}) == "in window"
    assert state_of(setup, GOOD | {"shear_force_N": 59.0}) == "too cold"
    assert state_of(setup, HOT | {"shear_force_N": 59.0}) == "no window"


def test_exactly_on_target_and_on_the_limit_is_in_the_window() -> None:
    assert state_of(SETUP, GOOD | {"nugget_diameter_m": TARGET, "can_penetration": 0.5}) == "in window"


def test_what_cannot_be_told_breaks_nothing() -> None:
    assert state_of(SETUP, GOOD | {"interior_peak_K": None, "interior_dose": None}) == "in window"


def test_a_source_has_a_limit_of_its_own() -> None:
    limit = Limit("source_current", "peak_current_A", "at most", 1300.0, "data sheet", severity="hardware")
    assert limit.value_in(GOOD) == 1400.0
    assert limit.breaks(limit.value_in(GOOD))


@pytest.mark.parametrize("figures", [GOOD, COLD, HOT, NONE, ASKED])
def test_three_equal_states_are_the_verdict(figures: dict[str, Any]) -> None:
    found, reason = verdict_of(SETUP, [figures] * 3)
    assert found == state_of(SETUP, figures)
    assert f"nugget {figures['nugget_diameter_m'] * 1e3:.2f} mm, target {TARGET * 1e3:.2f} mm" in reason


def test_the_reason_names_what_is_beyond_its_limit() -> None:
    _, reason = verdict_of(SETUP, [HOT | {"expulsion": True}] * 3)
    said = "melted share of the can wall (harm to the cell), expulsion (damage to joint, strip or tip)"
    assert reason.endswith(f"beyond the limit: {said}")
    assert verdict_of(SETUP, [GOOD] * 3)[1].endswith("all limits kept")


RUNS = st.sampled_from([GOOD, COLD, HOT, NONE])


@given(runs=st.tuples(RUNS, RUNS, RUNS))
def test_any_disagreement_is_uncertain(runs: tuple[dict[str, Any], ...]) -> None:
    states = [state_of(SETUP, run) for run in runs]
    found, reason = verdict_of(SETUP, runs)
    if len(set(states)) == 1:
        assert found == states[0]
    else:
        assert found == "uncertain"
        for state, factor in zip(states, ("0.8", "1", "1.25"), strict=True):
            assert f"{state} at contact radius x {factor}" in reason


@pytest.mark.parametrize("which", [0, 1, 2])
def test_a_run_that_ended_before_the_peak_is_uncertain(which: int) -> None:
    runs = [GOOD, GOOD, GOOD]
    runs[which] = GOOD | {"peak_reached": False}
    found, reason = verdict_of(SETUP, runs)
    assert found == "uncertain"
    assert "before the interior had passed its peak" in reason


def test_what_is_broken_before_the_peak_stays_broken() -> None:
    runs = [HOT | {"peak_reached": False}] * 3
    assert verdict_of(SETUP, runs)[0] == "too hot"
    found, reason = verdict_of(SETUP, [HOT, GOOD | {"peak_reached": False}, GOOD])
    assert found == "uncertain"
    assert "beyond the limit at x 0.8: melted share of the can wall" in reason


@given(value=st.floats(0.0, 2.0), limit=st.floats(0.0, 2.0))
def test_the_margin_is_negative_when_the_limit_is_broken(value: float, limit: float) -> None:
    for key, sense in (("can_penetration", "at most"), ("load_share", "at least")):
        one = Limit("mine", key, sense, limit, "made up")  # type: ignore[arg-type]
        judged = Judged(one, (0.0, value, 9.0), one.what.title)
        assert judged.value == value
        assert judged.margin is not None
        assert (judged.margin < 0.0) == judged.broken[1] == judged.limit.breaks(value)


def test_a_limit_is_recorded_with_its_source_and_the_band() -> None:
    limit = Limit("half", "can_penetration", "at most", 0.5, "assumption", "assumption")
    assert Judged(limit, (0.3, 0.4, 0.6), limit.what.title).record() == {
        "id": "half",
        "figure": "can_penetration",
        "title": "Melted share of the can wall",
        "sense": "at most",
        "value": 0.4,
        "limit": 0.5,
        "unit": "1",
        "margin": pytest.approx(0.1),
        "broken": False,
        "values_over_band": [0.3, 0.4, 0.6],
        "severity": "harm",
        "confidence": "assumption",
        "source": "assumption",
    }
    nothing = Judged(limit, (None, None, None), limit.what.title)
    assert (nothing.margin, nothing.broken) == (None, (False, False, False))


def test_the_worse_spot_of_a_pair_decides() -> None:
    same = {"positive tip": GOOD, "negative tip": GOOD}
    assert of_both_spots(SETUP, ("in window", "why"), same) == ("in window", "why")
    verdict, reason = of_both_spots(SETUP, ("in window", "why"), same | {"negative tip": HOT})
    assert verdict == "uncertain"
    assert "too hot at the negative tip" in reason
    assert of_both_spots(SETUP, ("uncertain", "why"), same) == ("uncertain", "why")


def test_variants_change_one_thing_each() -> None:
    found = variants(SETUP)
    assert next(iter(found)) == "nominal"
    assert found["nominal"] is SETUP
    assert found["radius x 0.8"].contact.radius_factor == 0.8
    assert found["radius x 1.25"].contact.radius_factor == 1.25
    assert found["force x 1.25"].force_N == 1.25 * SETUP.force_N
    assert (found["positive tip"].polarity, found["negative tip"].polarity) == (1, -1)
    assert "positive tip" not in variants(SETUP.with_({"arrangement.polarity": "positive"}))
    extra = found["source resistance x 1.25"].circuit.series_ohm - SETUP.circuit.series_ohm
    assert extra == pytest.approx(0.25 * SETUP.circuit.source.resistance_ohm)
    for variant in found.values():
        assert variant.train == SETUP.train
        assert variant.strip == SETUP.strip


def test_a_radius_factor_of_the_setup_is_multiplied() -> None:
    wide = SETUP.with_radius(1.1 / SETUP.contact.radius_factor)
    assert variants(wide)["radius x 0.8"].contact.radius_factor == pytest.approx(0.88)


def test_a_source_without_resistance_has_none_to_vary() -> None:
    bank = {"kind": "capacitor bank", "capacitance": 1.0, "start_voltage": 8.0, "series_resistance": 0.0}
    for source in ({"kind": "constant current", "current": 1400.0}, bank):
        assert "source resistance x 1.25" not in variants(SETUP.with_({"source": source}))


class Made:
    """A weld without a march, whose figures tell which variant it was."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        factor = setup.contact.radius_factor
        self.figures = GOOD | {"can_penetration": 0.45 / factor, "can_inner_peak_K": setup.force_N}


def test_judging_reads_each_variant_where_it_belongs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verdict, "march_weld", Made)
    seen: list[str] = []
    judgement = judge(SETUP, on_done=seen.append)
    assert seen == list(variants(SETUP))
    assert judgement.weld.setup is SETUP
    penetration = next(k for k in judgement.limits if k.limit.id == "can_penetration")
    assert penetration.values == pytest.approx((0.45 / 0.8, 0.45, 0.36))
    assert penetration.broken == (True, False, False)
    assert judgement.verdict == "uncertain"
    assert "too hot at contact radius x 0.8, in window at contact radius x 1" in judgement.reason
    assert judgement.sensitivity["force x 1.25"]["can_inner_peak_K"] == 1.25 * SETUP.force_N
    assert set(judgement.sensitivity) == set(variants(SETUP))


def test_an_executor_gives_what_one_after_the_other_gives() -> None:
    setup = coarse("pulse.0.duration=0.1 ms", until_ms=0.12)
    alone = judge(setup)
    with ThreadPoolExecutor(2) as pool:
        shared = judge(setup, pool)
    assert shared.sensitivity == alone.sensitivity
    assert shared.limits == alone.limits
    assert (shared.verdict, shared.reason) == (alone.verdict, alone.reason)
    currents = [figures["peak_current_A"] for figures in alone.sensitivity.values()]
    assert len(set(currents)) == len(currents), "every variant is another weld"


def test_energies_that_do_not_add_up_are_spoken_of() -> None:
    """Past a per mille, whatever the verdict is."""
    calm, off = GOOD | {"circuit_residual": 9e-4}, GOOD | {"circuit_residual": 2e-3}
    assert "computing the circuit" not in verdict_of(SETUP, [calm] * 3)[1]
    verdict, reason = verdict_of(SETUP, [calm, off, calm])
    assert verdict == "in window"
    assert reason.endswith("; 0.2 % of the source's energy is lost in computing the circuit")
