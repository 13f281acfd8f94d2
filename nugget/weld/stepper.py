"""Steps of one phase: two implicit stages each, and what is needed to judge and to accept them.

The equations: manual, theory-numerics.

Two-stage, second-order, L-stable, stiffly accurate Runge-Kutta steps (SDIRK2; R. Alexander,
SIAM J. Numer. Anal. 14 (1977) 1006, gamma = 1 - 1/sqrt 2).
"""

from __future__ import annotations

import logging
import math
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.field.heat import HeatOperator
from nugget.weld.active_source import ActiveSource, CircuitState
from nugget.weld.interface_model import ContactStart
from nugget.weld.phases import Phase
from nugget.weld.radius_solver import FIRST_RESPONSE
from nugget.weld.stage import StageProblem, StageResult, StageSolver
from nugget.weld.state import WeldState

log = logging.getLogger("nugget.weld")

GAMMA = 1.0 - math.sqrt(0.5)
ONWARD = (1.0 - GAMMA) / GAMMA
"""The second stage starts from the state plus this times what the first one gained."""
ERROR_CONSTANT = 0.08
"""Twice the largest principal error coefficient of the scheme (0.040), as it multiplies the
second divided difference of dh/dt, which is half of the third derivative of h."""
CURRENT_TOLERANCE = 3e-4
"""Error of the current allowed per step, as a share of the largest current so far."""
CIRCUIT_TOLERANCE = 2e-6
"""Energy that a step may lose between the inductance and the rest of the circuit, as a share of what the
source gives in all: fifty steps of such errors, all one way, make a tenth of a per mille."""
FORESEEN = 0.01
"""Share of the current that a pulse can drive below which errors of the current do not count: a source
that starts at zero volts would be followed down to nothing."""
LOSS = 0.5 * (1.0 - GAMMA) * (1.0 - 3.0 * GAMMA)
"""``sum w_i I_i L dI_i/dt = L (I1^2 - I0^2) / 2 + LOSS L dt^2 (k2^2 - k1^2)``: what the scheme's own
quadrature of the inductive power is off by in one step; k are the rates of the current at its stages,
and ``gamma^2 / 2`` is the same number."""
GROW, SHRINK, SAFETY = 2.5, 0.2, 0.85
"""Step sizes change by no more than these factors, and aim at a little less than the error allowed: the
usual bounds (Hairer, Norsett and Wanner, Solving Ordinary Differential Equations I, section II.4)."""
LEAST_GROWTH, MOST_AFTER_REFUSAL = 0.5, 0.8
"""An accepted step is followed by no less than half of it; a refused one is repeated with at most this
share, or rounding could refuse it again."""
AFTER_FAILURE = 0.25
"""A stage that did not settle is tried again with this share of the step."""
SECOND_TRY = 1.5
"""A step that was refused once passes with so many times the error allowed: at kinks, as where a cell
begins to melt, shorter steps err no less until they are far too short."""
LEAP_PER_K, LEAST_LEAPING_S = 1.0 / 60.0, 2e-6
"""A contact that widens by more than this share for each kelvin of the step's tolerance is followed in
shorter steps, down to some microseconds. Where its metal melts it widens and cools at once, and as it never
shrinks a step that is too long leaves it too wide, and so too cold, for good. Over the eight of 24 welds
through plated strip that scatter most a thirtieth leaves the winding's rise up to 2.5 % off that of finer
steps, this 0.6 %, for a sixth more iterations."""
SMALLEST_S = 1e-10
"""Two instants nearer than this are one; a step that must be shorter is a failure."""
FAILING_S = 100.0 * SMALLEST_S
"""A stage that does not settle even in a step this short never will: no cell warms by a kelvin in it."""
ZERO_SHARE = 1e-3
"""A thyristor's current below this share of the peak counts as zero."""
LEAST_ERROR = 1e-6
"""Keeps the growth of a step without any error finite; `GROW` bounds it long before."""


@dataclass(frozen=True)
class Carry:
    """What one step hands to the next beside the state: it saves work and decides nothing.

    Attributes
    ----------
    enthalpy_W_m3 : ndarray, shape (nz, nr)
        dh/dt.
    current_A_s : float
        dI/dt.
    radii_m_s : tuple of float
        da/dt of the contacts.
    responses : tuple of float
        How each contact's answer follows its radius.
    operator : HeatOperator or None
        The last factored heat operator.
    """

    enthalpy_W_m3: FloatArray
    current_A_s: float
    radii_m_s: tuple[float, ...]
    responses: tuple[float, ...]
    operator: HeatOperator | None


@dataclass(frozen=True)
class Rates:
    """dh/dt [W/m3] and dI/dt [A/s] of one stage."""

    enthalpy_W_m3: FloatArray
    current_A_s: float


@dataclass(frozen=True)
class Trial:
    """One step that is not accepted yet: both stages, their rates, and the circuit after them."""

    dt_s: float
    first: StageResult
    second: StageResult
    rates: tuple[Rates, Rates]
    circuit: CircuitState


@dataclass(frozen=True)
class Step:
    """An accepted step.

    Attributes
    ----------
    state : WeldState
        After it.
    carry : Carry
    next_s : float
        Size that its error suggests for the next one.
    """

    state: WeldState
    carry: Carry
    next_s: float


class Stepper:
    """Takes steps within one phase of a weld; keeps nothing from one step to the next.

    Parameters
    ----------
    stages : StageSolver
    phase : Phase
    """

    def __init__(self, stages: StageSolver, phase: Phase) -> None:
        self.stages, self.model, self.phase = stages, stages.model, phase
        self.setup = self.model.setup
        self.initial_J = self.model.stored(self.model.initial())
        self.source: ActiveSource | None = None
        if phase.pulse is not None:
            self.source = ActiveSource(self.setup.circuit, phase.pulse, phase.pulse_start_s)

    def enter(self, state: WeldState) -> WeldState:
        """The same instant in this phase: the source switched on or off, the tip lifted or not."""
        tip, source = self.phase.tip_closed, self.source
        if source is None:
            off = state.time_s if state.off_since_s is None else state.off_since_s
            return replace(state, electric=None, load_ohm=0.0, emf_V=0.0, tip_closed=tip, off_since_s=off)
        _, _, sigma = self.model.cells.conductivities(state.temperature)
        solution = self.model.solve_electric(sigma, state.contacts)
        load, circuit = self.model.load_ohm(solution.resistance_ohm), state.circuit
        if self.setup.circuit.source.turns_off_at_zero:
            if circuit.direction == 0 and source.is_fired(state.time_s):
                circuit = replace(circuit, direction=source.fired_direction(state.time_s))
        elif self.phase.start_s == self.phase.pulse_start_s:
            circuit = replace(circuit, current_A=source.start_current(circuit, load), direction=1)
        return replace(state, electric=solution, load_ohm=load, circuit=circuit, off_since_s=None)

    def leave(self, state: WeldState) -> WeldState:
        """The same instant after the end of a pulse: the inductive energy goes to the clamp."""
        if not self.is_over(state.time_s):
            return state
        left = self._inductive_J(state.circuit.current_A)
        circuit = replace(state.circuit, current_A=0.0, direction=0)
        return replace(state, circuit=circuit, energy=state.energy.clamp(left))

    def is_over(self, time_s: float) -> bool:
        """Whether the pulse has ended; False without one."""
        source = self.source
        return source is not None and time_s >= source.start_s + source.pulse.duration_s - SMALLEST_S

    def start(self, state: WeldState, before: Carry | None = None) -> Carry:
        """Explicit derivatives at the start of a phase, where the heat sources jump.

        `before` is what the last phase handed on.
        """
        model, T = self.model, state.temperature
        k_r, k_z, _ = model.cells.conductivities(T)
        contacts = model.thermal_contacts(state.contacts, self.phase.tip_closed)
        conduction = model.heat.conduction(k_r, k_z, contacts)
        heat, current_rate = np.zeros_like(T), 0.0
        if self.source is not None and state.electric is not None:
            heat = model.heat_W(state.electric, state.circuit.current_A, state.contacts)
            current_rate = self.source.rate(state.time_s, state.circuit, state.load_ohm)
        rate = np.where(model.grid.active, model.heat.net(conduction, T, heat) / model.grid.volume, 0.0)
        still = (0.0,) * len(state.contacts)
        responses = (FIRST_RESPONSE,) * len(state.contacts) if before is None else before.responses
        return Carry(rate, current_rate, still, responses, None if before is None else before.operator)

    def step(self, state: WeldState, dt_s: float, carry: Carry | None = None) -> Step:
        """One step of a given size, whatever its error.

        Raises
        ------
        SolverError, ArithmeticError
            If a stage does not settle.
        """
        carry = self.start(state) if carry is None else carry
        trial = self.trial(state, dt_s, carry)
        return Step(self._after(state, trial, 0), self._carry(state, trial), dt_s)

    def advance(self, state: WeldState, dt_s: float, carry: Carry) -> Step:
        """One step of at most `dt_s`, as small as its error asks for.

        Raises
        ------
        SolverError
            If no step is small enough.
        """
        allowed, rejected, dt = 1.0, 0, dt_s
        while True:
            if dt < SMALLEST_S:
                raise SolverError(state.time_s, "the step size fell below 0.1 ns")
            try:
                # A guess that runs away leaves the range of numbers before it fails: no step, and no warning.
                with np.errstate(divide="raise", over="raise", invalid="raise"):
                    trial = self.trial(state, dt, carry)
            except (SolverError, ArithmeticError) as failure:
                why = failure.why if isinstance(failure, SolverError) else str(failure)
                if dt < FAILING_S:
                    raise SolverError(state.time_s, why) from failure
                log.debug("step of %.4g us from %.6g ms refused: %s", dt * 1e6, state.time_s * 1e3, why)
                rejected, dt = rejected + 1, dt * AFTER_FAILURE
                continue
            carry = replace(carry, responses=trial.second.responses, operator=trial.second.operator)
            error = self.error(state, trial, carry)
            factor = SAFETY * max(error, LEAST_ERROR) ** (-1.0 / 3.0)
            if error > allowed:
                log.debug(
                    "step of %.4g us from %.6g ms refused: error %.3g", dt * 1e6, state.time_s * 1e3, error
                )
                rejected, allowed = rejected + 1, SECOND_TRY
                dt *= max(SHRINK, min(MOST_AFTER_REFUSAL, factor))
                continue
            leap, most = _leap(state, trial.second), LEAP_PER_K * self.setup.numerics.tolerance_K
            if leap > most and dt > LEAST_LEAPING_S:
                log.debug(
                    "step of %.4g us from %.6g ms refused: a contact leaps", dt * 1e6, state.time_s * 1e3
                )
                rejected, dt = rejected + 1, dt * max(AFTER_FAILURE, SAFETY * most / leap)
                continue
            crossing = self._current_zero(state, trial.circuit)
            if crossing is None:
                break
            dt *= crossing
        after = self._after(state, trial, rejected)
        self._tell(after, trial, error)
        factor = min(GROW, factor, SAFETY * most / max(leap, LEAST_ERROR))
        return Step(after, self._carry(state, trial), dt * max(factor, LEAST_GROWTH))

    def trial(self, state: WeldState, dt_s: float, carry: Carry) -> Trial:
        """Solve both stages of a step."""
        tau, now = GAMMA * dt_s, state.circuit
        problem = self._first_problem(state, tau, carry)
        first = self.stages.solve(problem)
        early = Rates((first.enthalpy - state.enthalpy) / tau, (first.current_A - now.current_A) / tau)
        problem = self._second_problem(state, dt_s, problem, first, early)
        second = self.stages.solve(problem)
        late, circuit = Rates((second.enthalpy - problem.start) / tau, 0.0), now
        if problem.source is not None:
            late = replace(late, current_A_s=(second.current_A - problem.circuit.current_A) / tau)
            charge = problem.circuit.charge_C + tau * second.current_A
            circuit = CircuitState(second.current_A, charge, now.direction)
        return Trial(dt_s, first, second, (early, late), circuit)

    def _first_problem(self, state: WeldState, tau: float, carry: Carry) -> StageProblem:
        """The stage at ``gamma dt``; its guesses are straight lines.

        Where metal melts, parabolas in time miss by more than lines.
        """
        time_s = state.time_s + tau
        radii = zip(state.contacts, carry.radii_m_s, strict=True)
        return StageProblem(
            time_s=time_s,
            tau_s=tau,
            start=state.enthalpy,
            guess=state.enthalpy + tau * carry.enthalpy_W_m3,
            contacts=tuple(ContactStart.of(c, time_s, tau) for c in state.contacts),
            radii_m=tuple(c.equilibrium_radius_m + tau * growth for c, growth in radii),
            responses=carry.responses,
            source=self._conducting(state),
            circuit=state.circuit,
            latest=state.contacts,
            electric=state.electric,
            current_A=state.circuit.current_A,
            tip_closed=self.phase.tip_closed,
            operator=carry.operator,
        )

    def _second_problem(
        self, state: WeldState, dt_s: float, problem: StageProblem, first: StageResult, early: Rates
    ) -> StageProblem:
        """The stage at the end of the step; `early` are the rates of the first one."""
        passed, now = (1.0 - GAMMA) * dt_s, state.circuit
        start = state.enthalpy + passed * early.enthalpy_W_m3
        circuit = now
        if problem.source is not None:
            circuit = CircuitState(
                now.current_A + passed * early.current_A_s,
                now.charge_C + passed * first.current_A,
                now.direction,
            )
        pairs = zip(state.contacts, first.contacts, strict=True)
        radii = ((a.equilibrium_radius_m, b.equilibrium_radius_m) for a, b in pairs)
        reached = zip(problem.contacts, first.contacts, strict=True)
        time_s = state.time_s + dt_s
        return replace(
            problem,
            time_s=time_s,
            start=start,
            guess=start + problem.tau_s * early.enthalpy_W_m3,
            contacts=tuple(a.onward(b, ONWARD, time_s) for a, b in reached),
            radii_m=tuple(a + (b - a) / GAMMA for a, b in radii),
            responses=first.responses,
            circuit=circuit,
            latest=first.contacts,
            electric=first.electric,
            current_A=first.current_A,
            operator=first.operator,
        )

    def error(self, state: WeldState, trial: Trial, carry: Carry) -> float:
        """Local error of a step over the error allowed."""
        dt, (rate1, rate2), second = trial.dt_s, trial.rates, trial.second
        late = (rate2.enthalpy_W_m3 - rate1.enthalpy_W_m3) / (1.0 - GAMMA)
        early = (rate1.enthalpy_W_m3 - carry.enthalpy_W_m3) / GAMMA
        # The raw difference overrates what is stiff, such as the front that passes a fine cell
        # (Hairer and Wanner, Solving Ordinary Differential Equations II, section IV.8).
        missed = second.operator.damped(ERROR_CONSTANT * dt * (late - early))
        if self.source is None:
            capacity = np.maximum(trial.first.capacity, second.capacity)
            return self.model.cooling_norm(missed, second.temperature, capacity)
        error = self.model.error_norm(missed, second.temperature)
        circuit, source = self.setup.circuit, self._conducting(state)
        if source is not None and circuit.series_H > 0.0 and circuit.source.drive == "voltage":
            error = max(error, self._current_error(state, trial, carry, source))
            # Errors count to the third order of the step, as those of the enthalpy do.
            error = max(error, self._circuit_error(state, trial, source))
        return error

    def _current_error(self, state: WeldState, trial: Trial, carry: Carry, source: ActiveSource) -> float:
        """Local error of the current over the error allowed."""
        dt, (rate1, rate2), second = trial.dt_s, trial.rates, trial.second
        late_A_s2 = (rate2.current_A_s - rate1.current_A_s) / (1.0 - GAMMA)
        swing = late_A_s2 - (rate1.current_A_s - carry.current_A_s) / GAMMA
        foreseen = FORESEEN * source.prospective_A(second.load_ohm)
        allowed = CURRENT_TOLERANCE * max(state.peak_A, abs(second.current_A), foreseen)
        # Past the time constant of the circuit the current follows the load by itself, and both
        # stages forget what it was before: a contact that jumps need not be resolved.
        decay = (self.setup.circuit.series_ohm + second.load_ohm) / self.setup.circuit.series_H
        damping = (1.0 + dt * decay) ** 2
        return abs(ERROR_CONSTANT * dt * swing) / damping / allowed

    def _circuit_error(self, state: WeldState, trial: Trial, source: ActiveSource) -> float:
        """What a step loses between inductance and circuit over what it may lose."""
        dt, (rate1, rate2), second = trial.dt_s, trial.rates, trial.second
        lost = LOSS * self.setup.circuit.series_H * dt**2 * (rate2.current_A_s**2 - rate1.current_A_s**2)
        foreseen = FORESEEN * source.largest * source.prospective_A(second.load_ohm)
        power = max(abs(second.emf_V * second.current_A), foreseen)
        left = max(dt, source.start_s + source.pulse.duration_s - state.time_s)
        given = abs(state.energy.drawn_J) + min(power * left, source.stored_J(second.emf_V))
        return abs(lost) / (CIRCUIT_TOLERANCE * given)

    def _after(self, state: WeldState, trial: Trial, rejected: int) -> WeldState:
        """The state that a step leads to."""
        dt, second = trial.dt_s, trial.second
        stored = self.model.stored(second.enthalpy) - self.initial_J
        weights, powers = ((1.0 - GAMMA) * dt, GAMMA * dt), (trial.first.powers, second.powers)
        after = replace(
            state,
            time_s=state.time_s + dt,
            temperature=second.temperature,
            enthalpy=second.enthalpy,
            contacts=second.contacts,
            electric=second.electric,
            circuit=trial.circuit,
            load_ohm=second.load_ohm,
            emf_V=second.emf_V,
            energy=state.energy.add(weights, powers, stored),
            tip_closed=self.phase.tip_closed,
            step=state.step + 1,
            rejected=state.rejected + rejected,
        )
        after = self._extinguished(state, after)
        return replace(after, peak_A=max(state.peak_A, abs(after.circuit.current_A)))

    def _carry(self, state: WeldState, trial: Trial) -> Carry:
        """What the next step needs: derivatives at the end, which both stages together tell."""
        dt, first, second = trial.dt_s, trial.first, trial.second
        gained = second.enthalpy - state.enthalpy - (1.0 - GAMMA) * dt * trial.rates[0].enthalpy_W_m3
        growth = tuple(
            (b.equilibrium_radius_m - a.equilibrium_radius_m) / ((1.0 - GAMMA) * dt)
            for a, b in zip(first.contacts, second.contacts, strict=True)
        )
        rate = gained / (GAMMA * dt)
        return Carry(rate, trial.rates[1].current_A_s, growth, second.responses, second.operator)

    def _conducting(self, state: WeldState) -> ActiveSource | None:
        """The source while it conducts: a thyristor that has gone out does not."""
        return self.source if state.circuit.direction != 0 else None

    def _current_zero(self, state: WeldState, after: CircuitState) -> float | None:
        """Share of the step at which a thyristor's current passes zero; None: accept the step."""
        if self._conducting(state) is None or not self.setup.circuit.source.turns_off_at_zero:
            return None
        before_A = state.circuit.current_A * state.circuit.direction
        after_A = after.current_A * state.circuit.direction
        if after_A >= -ZERO_SHARE * state.peak_A or before_A <= 0.0:
            return None
        return min(0.98, max(0.02, before_A / (before_A - after_A)))

    def _extinguished(self, before: WeldState, after: WeldState) -> WeldState:
        """End conduction where the current has reached zero."""
        source, direction = self._conducting(before), before.circuit.direction
        if source is None or not self.setup.circuit.source.turns_off_at_zero:
            return after
        before_A, after_A = before.circuit.current_A * direction, after.circuit.current_A * direction
        if not (before_A > 0.0 and after_A < ZERO_SHARE * before.peak_A and after_A < before_A):
            return after
        left = self._inductive_J(after.circuit.current_A)
        # A thyristor fired while its twin still conducted takes over at once.
        fired = not self.is_over(after.time_s) and source.is_fired(after.time_s)
        next_direction = source.fired_direction(after.time_s) if fired else 0
        circuit = replace(after.circuit, current_A=0.0, direction=next_direction)
        return replace(after, circuit=circuit, energy=after.energy.clamp(left))

    def _inductive_J(self, current_A: float) -> float:
        """Energy in the inductance [J]; a current source brings its own, nothing reaches the clamp."""
        if self.setup.circuit.source.drive == "current":
            return 0.0
        return 0.5 * self.setup.circuit.series_H * current_A**2

    def _tell(self, after: WeldState, trial: Trial, error: float) -> None:
        """Log an accepted step."""
        if log.isEnabledFor(logging.DEBUG):
            radii = ", ".join(f"{c.radius_m * 1e3:.4f}" for c in after.contacts)
            log.debug(
                "step %d to %.6g ms: %.4g us, %d + %d iterations, error %.3g, %.5g A, radii %s mm",
                after.step,
                after.time_s * 1e3,
                trial.dt_s * 1e6,
                trial.first.iterations,
                trial.second.iterations,
                error,
                after.circuit.current_A,
                radii,
            )


def _leap(state: WeldState, reached: StageResult) -> float:
    """By what share of its radius the contact widens that widens most."""
    pairs = zip(state.contacts, reached.contacts, strict=True)
    return max((b.radius_m / a.radius_m - 1.0 for a, b in pairs), default=0.0)
