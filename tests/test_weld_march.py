"""The march in time: nothing is lost, every switch is met, and sources behave as they are built."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from small import Marched, at, coarse, marched

from nugget.errors import MarchError
from nugget.grid import stack
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.plan import spans


def test_it_starts_at_rest(melting: Marched) -> None:
    march, (first, *_) = melting
    assert first.time_s == first.electrics.current_A == 0.0
    assert first.tip_closed
    assert pytest.approx(march.setup.ambient_K, abs=0.1) == first.temperature[march.model.grid.active]


def test_time_and_steps_go_forward(melting: Marched) -> None:
    _, moments = melting
    assert all(a.time_s < b.time_s for a, b in pairwise(moments))
    assert [moment.step for moment in moments] == list(range(len(moments)))


@pytest.mark.parametrize("name", ["melting", "bank", "transformer", "slopes"])
def test_energy_balances_to_rounding(name: str, request: pytest.FixtureRequest) -> None:
    """Melting, moving contacts, lifting and all: load = stored + holder + air + sheet outside."""
    march, moments = request.getfixturevalue(name)
    ledger = moments[-1].ledger
    stored = march.model.stored(moments[-1].enthalpy) - march.initial_J
    spent = stored + ledger["holder"] + ledger["air"] + ledger["outside"]
    assert ledger["load"] > 0.1
    assert spent == pytest.approx(ledger["load"], rel=1e-9)
    assert ledger.worst_J < 1e-9 * ledger["load"]


@pytest.mark.parametrize("name", ["melting", "bank", "transformer"])
def test_what_the_source_gave_is_found_again(name: str, request: pytest.FixtureRequest) -> None:
    """Resistances, load and clamp; with steps as loose as these to a few parts in a thousand."""
    march, moments = request.getfixturevalue(name)
    ledger = moments[-1].ledger
    spent = ledger["action"] * march.setup.circuit.series_ohm + ledger["returned"] + ledger.clamp_J
    assert spent == pytest.approx(ledger["drawn"], rel=5e-3)


@pytest.mark.parametrize("name", ["melting", "bank", "transformer", "slopes"])
def test_a_step_lands_on_every_switching_instant(name: str, request: pytest.FixtureRequest) -> None:
    march, moments = request.getfixturevalue(name)
    times = np.array([moment.time_s for moment in moments])
    ends = [span.end_s for span in spans(march.setup) if span.end_s < times[-1]]
    assert len(ends) >= 2
    for end in ends:
        assert np.abs(times - end).min() < 1e-10


def test_it_stops_at_the_longest_time(melting: Marched) -> None:
    assert melting[1][-1].time_s == pytest.approx(4e-3)


def test_a_march_may_be_cut_in_the_middle_of_a_pulse() -> None:
    _, moments = marched(coarse("pulse.0.duration=5 ms", until_ms=0.2))
    assert moments[-1].time_s == pytest.approx(0.2e-3)
    assert moments[-1].electrics.current_A > 0.0


def test_contacts_never_shrink_while_the_tip_is_down(melting: Marched) -> None:
    _, moments = melting
    down = [moment for moment in moments if moment.tip_closed]
    for a, b in pairwise(down):
        for before, after in zip(a.touches, b.touches, strict=True):
            assert after.wanted_m >= before.wanted_m * (1.0 - 1e-9)
    assert down[-1].touches[1].radius_m > 2.0 * down[0].touches[1].radius_m


def test_the_strip_melted_or_the_tests_above_say_little(melting: Marched) -> None:
    march, moments = melting
    assert (
        max(float(moment.temperature.max()) for moment in moments) > march.setup.strip[0].material.solidus_K
    )


def test_the_tip_lifts_after_the_hold_time(melting: Marched) -> None:
    """From then on the joint cools slower: nothing crosses to the tip."""
    march, moments = melting
    assert all(moment.tip_closed == (moment.time_s < 2.6e-3 + 1e-9) for moment in moments)
    lifted = next(moment for moment in moments if not moment.tip_closed)
    links = march.model.links(lifted.touches, lifted.tip_closed)
    assert links[0].covered.sum() == links[0].gap_W_m2K == 0.0


def test_a_lifted_tip_keeps_its_heat() -> None:
    march, moments = marched(coarse("pulse.0.duration=0.2 ms", "hold_time=0 ms", until_ms=5))
    grid, model = march.model.grid, march.model
    tips = np.zeros(grid.shape, dtype=bool)
    tips[grid.rows("tip").start :] = True
    off, end = at(moments, 0.2e-3), moments[-1]
    gain = float((model.heat.volume * (end.enthalpy - off.enthalpy))[tips].sum())
    lost = end.ledger["holder"] - off.ledger["holder"]
    warm = float((model.heat.volume * (off.enthalpy - model.initial()))[tips].sum())
    assert abs(gain + lost) < 1e-3 * warm, "but for the air, nothing comes or goes"


def test_a_mirrored_stack_is_the_full_stack(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two equal sheets between equal tips: half of the stack says what the whole says."""
    setup = coarse(
        "source.kind=constant current",
        "source.current=9 kA",
        "pulse.0.duration=4 ms",
        until_ms=4,
        name="sheets",
    )
    half, mirrored = marched(setup)
    monkeypatch.setattr(stack, "is_symmetric", lambda _: False)
    whole, full = marched(setup)
    assert half.model.mirrored
    assert not whole.model.mirrored
    assert whole.model.grid.shape[0] == 2 * half.model.grid.shape[0]
    a, b = mirrored[-1], full[-1]
    assert a.load_ohm == pytest.approx(b.load_ohm, rel=1e-3)
    assert a.ledger["returned"] == pytest.approx(b.ledger["returned"], rel=1e-3)
    assert 2.0 * a.ledger["load"] == pytest.approx(b.ledger["load"], rel=1e-3)
    upper = b.temperature[half.model.grid.shape[0] :]
    assert upper - 293.0 == pytest.approx(a.temperature - 293.0, rel=5e-3, abs=0.5)
    lower = b.temperature[: half.model.grid.shape[0]][::-1]
    assert lower[half.model.grid.active] == pytest.approx(upper[half.model.grid.active], rel=1e-3)


def test_an_indirect_weld_adds_its_return_tip() -> None:
    setup = coarse(
        "arrangement.kind=indirect",
        "arrangement.return_resistance=0.4 mohm",
        "pulse.0.duration=0.05 ms",
        until_ms=0.05,
    )
    _, moments = marched(setup)
    last = moments[-1]
    assert last.flow is not None
    assert last.load_ohm - 0.4e-3 == pytest.approx(last.flow.resistance_ohm)
    spent_outside = last.ledger["returned"] - last.ledger["load"]
    assert spent_outside == pytest.approx(0.4e-3 * last.ledger["action"])


def test_a_march_goes_on_from_a_moment(melting: Marched) -> None:
    """As if it had never stopped, but for the size of its next steps."""
    march, moments = melting
    begin = at(moments, 1.5e-3)
    again = list(March(march.setup, march.model, begin))
    assert again[0] is begin
    whole, end = moments[-1], again[-1]
    assert end.time_s == whole.time_s
    assert end.ledger["load"] == pytest.approx(whole.ledger["load"], rel=0.02)
    assert end.touches[1].radius_m == pytest.approx(whole.touches[1].radius_m, rel=0.02)
    assert end.ledger.worst_J < 1e-9 * end.ledger["load"]


def test_the_first_step_resolves_the_first_contact(melting: Marched) -> None:
    march, moments = melting
    radius = min(interface.first_m for interface in march.model.grid.interfaces)
    strip = march.setup.strip[0].material
    alpha = float(strip.conductivity_z(298.15)) / (strip.density_kg_m3 * float(strip.heat_capacity(298.15)))
    assert march.first_step_s() == pytest.approx(radius**2 / (50.0 * alpha))
    assert moments[1].time_s <= march.first_step_s() * (1.0 + 1e-9)


def failing_after(time_s: float) -> type[WeldModel]:
    class Failing(WeldModel):
        def stage(self, now_s: float, *rest: Any) -> Any:
            if now_s > time_s:
                raise MarchError(now_s, "made to fail")
            return super().stage(now_s, *rest)

    return Failing


def test_a_march_that_cannot_go_on_says_when_and_why() -> None:
    setup = coarse("pulse.0.duration=0.2 ms", until_ms=0.2)
    march = March(setup, failing_after(0.1e-3)(setup))
    with pytest.raises(MarchError) as caught:
        list(march)
    assert caught.value.why == "made to fail"
    assert caught.value.time_s == pytest.approx(0.1e-3, rel=1e-3), "as far as it got"
    assert march.rejected > 5, "smaller steps were tried before"


def test_one_failure_only_costs_a_smaller_step() -> None:
    class Once(WeldModel):
        failed = False

        def stage(self, now_s: float, *rest: Any) -> Any:
            if now_s > 0.05e-3 and not self.failed:
                self.failed = True
                raise ArithmeticError("not positive definite")
            return super().stage(now_s, *rest)

    setup = coarse("pulse.0.duration=0.1 ms", until_ms=0.1)
    model = Once(setup)
    moments = list(March(setup, model))
    assert model.failed
    assert moments[-1].time_s == pytest.approx(0.1e-3)
