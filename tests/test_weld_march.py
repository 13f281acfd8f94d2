"""The march in time: nothing is lost, every switch is met, and sources behave as they are built."""

from __future__ import annotations

import math
from itertools import islice, pairwise
from typing import Any

import numpy as np
import pytest
from small import Marched, at, coarse, marched

from nugget.errors import SolverError
from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.linear import BandedSolver
from nugget.grid import stack
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.phases import phases
from nugget.weld.stage import StageProblem, StageResult, StageSolver, StageTolerance
from nugget.weld.state import at_rest
from nugget.weld.stepper import LEAP_PER_K, LEAST_LEAPING_S, Stepper


def test_it_starts_at_rest(melting: Marched) -> None:
    march, (first, *_) = melting
    assert first.time_s == first.circuit.current_A == 0.0
    assert first.tip_closed
    assert pytest.approx(march.setup.ambient_K, abs=0.1) == first.temperature[march.model.grid.active]


def test_time_and_steps_go_forward(melting: Marched) -> None:
    _, states = melting
    assert all(a.time_s < b.time_s for a, b in pairwise(states))
    assert [state.step for state in states] == list(range(len(states)))


def test_a_guess_beyond_the_range_of_numbers_costs_a_step_and_no_warning(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    whole, calls = Stepper.trial, []

    def runs_away(self: Stepper, *given: Any) -> Any:
        calls.append(given[1])
        if len(calls) == 3:
            1.0 / np.zeros(1)
        return whole(self, *given)

    monkeypatch.setattr(Stepper, "trial", runs_away)
    _, states = marched(coarse(name="coupon", until_ms=0.1))
    assert calls[3] < calls[2]
    assert len(states) > 3


def test_no_contact_leaps_in_one_step() -> None:
    """A spot whose metal melts widens and cools at once; too long a step leaves it too wide for good."""
    setup = coarse(
        "strip.material=nickel-plated-steel", "numerics.tolerance=1.5 K", name="default", until_ms=1.5
    )
    _, states = marched(setup)
    assert states[-1].contacts[0].radius_m > 1.5 * states[0].contacts[0].radius_m
    for before, after in pairwise(states):
        leaps = [b.radius_m / a.radius_m for a, b in zip(before.contacts, after.contacts, strict=True)]
        assert max(leaps) <= 1.0 + LEAP_PER_K * 1.5 or after.time_s - before.time_s <= LEAST_LEAPING_S


def test_many_short_steps_do_not_widen_a_contact_of_themselves() -> None:
    """What a search for a radius leaves open stays in its step."""
    radii = []
    for tolerance_K in (1.0, 0.1):
        setup = coarse(f"numerics.tolerance={tolerance_K} K", name="default", until_ms=0.7)
        _, states = marched(setup)
        radii.append([contact.equilibrium_radius_m for contact in states[-1].contacts])
    assert radii[1] == pytest.approx(radii[0], rel=0.02)


@pytest.mark.parametrize("name", ["melting", "bank", "transformer", "slopes"])
def test_energy_balances_to_rounding(name: str, request: pytest.FixtureRequest) -> None:
    """Melting, moving contacts, lifting and all: load = stored + holder + air + sheet outside."""
    march, states = request.getfixturevalue(name)
    energy = states[-1].energy
    stored = march.model.stored(states[-1].enthalpy) - march.model.stored(march.model.initial())
    spent = stored + energy.holder_J + energy.air_J + energy.outside_J
    assert energy.load_J > 0.1
    assert spent == pytest.approx(energy.load_J, rel=1e-9)
    assert energy.worst_J < 1e-9 * energy.load_J


@pytest.mark.parametrize("name", ["melting", "bank", "transformer"])
def test_what_the_source_gave_is_found_again(name: str, request: pytest.FixtureRequest) -> None:
    """Resistances, load and clamp; with steps as loose as these to a few parts in a thousand."""
    march, states = request.getfixturevalue(name)
    energy = states[-1].energy
    spent = energy.action_A2s * march.setup.circuit.series_ohm + energy.returned_J + energy.clamp_J
    assert spent == pytest.approx(energy.drawn_J, rel=5e-3)


@pytest.mark.parametrize("name", ["melting", "bank", "transformer", "slopes"])
def test_a_step_lands_on_every_switching_instant(name: str, request: pytest.FixtureRequest) -> None:
    march, states = request.getfixturevalue(name)
    times = np.array([state.time_s for state in states])
    ends = [span.end_s for span in phases(march.setup) if span.end_s < times[-1]]
    assert len(ends) >= 2
    for end in ends:
        assert np.abs(times - end).min() < 1e-10


def test_it_stops_at_the_longest_time(melting: Marched) -> None:
    assert melting[1][-1].time_s == pytest.approx(4e-3)


def test_a_march_may_be_cut_in_the_middle_of_a_pulse() -> None:
    _, states = marched(coarse("pulse.0.duration=5 ms", until_ms=0.2))
    assert states[-1].time_s == pytest.approx(0.2e-3)
    assert states[-1].circuit.current_A > 0.0


def test_contacts_never_shrink_while_the_tip_is_down(melting: Marched) -> None:
    _, states = melting
    down = [state for state in states if state.tip_closed]
    for a, b in pairwise(down):
        for before, after in zip(a.contacts, b.contacts, strict=True):
            assert after.equilibrium_radius_m >= before.equilibrium_radius_m * (1.0 - 1e-9)
    assert down[-1].contacts[1].radius_m > 2.0 * down[0].contacts[1].radius_m


def test_the_strip_melted_or_the_tests_above_say_little(melting: Marched) -> None:
    march, states = melting
    assert max(float(state.temperature.max()) for state in states) > march.setup.strip[0].material.solidus_K


def test_the_tip_lifts_after_the_hold_time(melting: Marched) -> None:
    """From then on the joint cools slower: nothing crosses to the tip."""
    march, states = melting
    assert all(state.tip_closed == (state.time_s < 2.6e-3 + 1e-9) for state in states)
    lifted = next(state for state in states if not state.tip_closed)
    thermal_contacts = march.model.thermal_contacts(lifted.contacts, lifted.tip_closed)
    assert thermal_contacts[0].contact_fraction.sum() == thermal_contacts[0].gap_W_m2K == 0.0


def test_a_lifted_tip_keeps_its_heat() -> None:
    march, states = marched(coarse("pulse.0.duration=0.2 ms", "hold_time=0 ms", until_ms=5))
    grid, model = march.model.grid, march.model
    tips = np.zeros(grid.shape, dtype=bool)
    tips[grid.rows("tip").start :] = True
    off, end = at(states, 0.2e-3), states[-1]
    gain = float((model.heat.volume * (end.enthalpy - off.enthalpy))[tips].sum())
    lost = end.energy.holder_J - off.energy.holder_J
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
    assert a.energy.returned_J == pytest.approx(b.energy.returned_J, rel=1e-3)
    assert 2.0 * a.energy.load_J == pytest.approx(b.energy.load_J, rel=1e-3)
    upper = b.temperature[half.model.grid.shape[0] :]
    assert upper - 293.0 == pytest.approx(a.temperature - 293.0, rel=5e-3, abs=0.5)
    lower = b.temperature[: half.model.grid.shape[0]][::-1]
    assert lower[half.model.grid.active] == pytest.approx(upper[half.model.grid.active], rel=1e-3)


def test_an_indirect_weld_adds_its_return_tip() -> None:
    setup = coarse(
        "arrangement.kind=indirect",
        "arrangement.return_resistance=0.4 mohm",
        "pulse.0.duration=0.1 ms",
        until_ms=0.1,
    )
    _, states = marched(setup)
    last = states[-1]
    assert last.electric is not None
    assert last.load_ohm - 0.4e-3 == pytest.approx(last.electric.resistance_ohm)
    spent_outside = last.energy.returned_J - last.energy.load_J
    assert spent_outside == pytest.approx(0.4e-3 * last.energy.action_A2s)


def test_a_march_goes_on_from_a_moment() -> None:
    """As if it had never stopped, but for the size of its next steps."""
    march, states = marched(
        coarse("pulse.0.duration=2.5 ms", "numerics.tolerance=3 K", until_ms=4, name="default")
    )
    begin = at(states, 1.5e-3)
    again = list(March(march.setup, march.model, begin))
    assert again[0] is begin
    whole, end = states[-1], again[-1]
    assert end.time_s == whole.time_s
    assert end.energy.load_J == pytest.approx(whole.energy.load_J, rel=0.02)
    assert end.contacts[1].radius_m == pytest.approx(whole.contacts[1].radius_m, rel=0.02)
    assert end.energy.worst_J < 1e-9 * end.energy.load_J


def test_the_first_step_resolves_the_first_contact(melting: Marched) -> None:
    march, states = melting
    radius = min(interface.first_m for interface in march.model.grid.interfaces)
    strip = march.setup.strip[0].material
    alpha = float(strip.conductivity_z(298.15)) / (strip.density_kg_m3 * float(strip.heat_capacity(298.15)))
    assert march.first_step_s() == pytest.approx(radius**2 / (50.0 * alpha))
    assert states[1].time_s <= march.first_step_s() * (1.0 + 1e-9)


def test_every_iteration_gives_the_same_states() -> None:
    """To the last bit, also after another march on the same model."""
    setup = coarse("pulse.0.duration=0.5 ms", until_ms=1.5)
    march = March(setup)
    first = list(march)
    list(islice(march, 10))
    list(March(setup.with_({"electrode.force": 1.5 * setup.force_N}), march.model))
    again = list(march)
    assert len(first) == len(again) > 10
    for a, b in zip(first, again, strict=True):
        assert (a.time_s, a.step, a.rejected, a.circuit) == (b.time_s, b.step, b.rejected, b.circuit)
        assert a.energy == b.energy
        assert (a.enthalpy == b.enthalpy).all()
        for one, two in zip(a.contacts, b.contacts, strict=True):
            assert (one.radius_m, one.equilibrium_radius_m) == (two.radius_m, two.equilibrium_radius_m)
            assert (one.electrical == two.electrical).all()


def test_both_linear_solvers_march_alike() -> None:
    """Each step to rounding; what rounding does to where stages stop moves no diameter."""
    setup = coarse("pulse.0.duration=1 ms", until_ms=2)
    models = [WeldModel(setup, solver=solver) for solver in (CheckerboardSolver, BandedSolver)]
    one, two = (list(March(setup, model)) for model in models)
    assert (len(one), one[-1].rejected) == (len(two), two[-1].rejected)
    steppers = [Stepper(StageSolver(model), phases(setup)[0]) for model in models]
    for state in one[:20:4]:
        a, b = (stepper.step(stepper.enter(state), 1e-5).state for stepper in steppers)
        assert a.temperature == pytest.approx(b.temperature, rel=1e-9)
        assert a.circuit.current_A == pytest.approx(b.circuit.current_A, rel=1e-9)
        assert a.contacts[1].radius_m == pytest.approx(b.contacts[1].radius_m, rel=1e-9)
    assert one[-1].contacts[1].radius_m == pytest.approx(two[-1].contacts[1].radius_m, rel=1e-4)


def test_steps_of_a_given_size_need_nothing_but_a_state() -> None:
    """A step is its two halves but for an error of the third order, and the same each time."""
    setup = coarse("source.kind=constant current", "source.current=1 kA")
    model = WeldModel(setup)
    stages = StageSolver(model, StageTolerance(change=1e-6, radius=1e-9, iterations=80))
    stepper = Stepper(stages, phases(setup)[0])
    begin = stepper.enter(at_rest(model))
    off = []
    for dt in (1e-6, 0.5e-6):
        whole = stepper.step(begin, dt).state
        half = stepper.step(begin, 0.5 * dt)
        halves = stepper.step(half.state, 0.5 * dt, half.carry).state
        assert (whole.time_s, whole.step, halves.step) == (dt, 1, 2)
        assert (stepper.step(begin, dt).state.enthalpy == whole.enthalpy).all()
        off.append(float(np.abs(whole.temperature - halves.temperature)[model.grid.active].max()))
    assert 2.5 < math.log2(off[0] / off[1]) < 3.5


def test_steps_and_refusals_are_logged(caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level("DEBUG", logger="nugget.weld"):
        _, states = marched(coarse("pulse.0.duration=1 ms", until_ms=1))
    told = [record.getMessage() for record in caplog.records]
    steps = [line for line in told if line.startswith("step ") and "radii" in line]
    assert len(steps) == states[-1].step
    assert f"{states[-1].contacts[1].radius_m * 1e3:.4f} mm" in steps[-1]
    assert sum("refused" in line for line in told) == states[-1].rejected > 0


class Failing(StageSolver):
    """Fails in every stage after a time, or in the first one only."""

    def __init__(self, model: WeldModel, after_s: float, failure: Exception, often: bool = True) -> None:
        super().__init__(model)
        self.after_s, self.failure, self.often = after_s, failure, often
        self.failed = 0

    def solve(self, problem: StageProblem) -> StageResult:
        if problem.time_s > self.after_s and (self.often or not self.failed):
            self.failed += 1
            raise self.failure
        return super().solve(problem)


def test_a_march_that_cannot_go_on_says_when_and_why() -> None:
    setup = coarse("pulse.0.duration=0.2 ms", until_ms=0.2)
    model = WeldModel(setup)
    stages = Failing(model, 0.1e-3, SolverError(0.1e-3, "made to fail"))
    with pytest.raises(SolverError) as caught:
        list(March(setup, model, stages=stages))
    assert caught.value.why == "made to fail"
    assert caught.value.time_s == pytest.approx(0.1e-3, rel=1e-3), "as far as it got"
    assert stages.failed > 5, "smaller steps were tried before"


def test_one_failure_only_costs_a_smaller_step() -> None:
    setup = coarse("pulse.0.duration=0.1 ms", until_ms=0.1)
    model = WeldModel(setup)
    stages = Failing(model, 0.05e-3, ArithmeticError("not positive definite"), often=False)
    states = list(March(setup, model, stages=stages))
    assert stages.failed == 1
    assert states[-1].time_s == pytest.approx(0.1e-3)
