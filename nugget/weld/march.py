"""The coupled march in time.

Two-stage, second-order, L-stable, stiffly accurate Runge-Kutta steps (SDIRK2; R. Alexander,
SIAM J. Numer. Anal. 14 (1977) 1006, gamma = 1 - 1/sqrt 2): potential, heat, contact radii and
circuit are solved together in each stage. Step size follows an estimate of the local error and
lands on every switching instant.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import REFERENCE_K
from nugget.errors import MarchError
from nugget.field.electric import ElectricSolution
from nugget.setup.description import Setup
from nugget.weld.active_source import ActiveSource, CircuitState
from nugget.weld.energy_balance import EnergyBalance
from nugget.weld.interface_model import ContactState
from nugget.weld.model import StageResult, WeldModel
from nugget.weld.phases import Phase, phases

GAMMA = 1.0 - math.sqrt(0.5)
ERROR_CONSTANT = 0.08
"""Twice the largest principal error coefficient of the scheme (0.040), as it multiplies the
second divided difference of dh/dt, which is half of the third derivative of h."""
CURRENT_TOLERANCE = 3e-4
FIRED_TOLERANCE = 8e-5
"""Error of the current allowed per step, as a share of the largest current so far; less for a
fired thyristor, whose current starts from zero under full voltage again and again."""
GROW, SHRINK, SAFETY = 2.5, 0.2, 0.85
SECOND_TRY = 1.5
"""A step that was refused once passes with so many times the error allowed: at kinks, as where a cell
begins to melt, shorter steps err no less until they are far too short."""
SMALLEST_S = 1e-10
ELAPSED_SHARE = 0.4
"""A cool-down step is at most this share of the time since the current stopped."""
COOLING_START = 10.0
"""A cool-down starts with this many times the first step: no contact grows in it."""
FIRST_STEPS = 50.0
"""First steps resolve a_c0^2 / (50 alpha) (contract, section 6)."""


@dataclass(frozen=True)
class WeldState:
    """The weld at one instant, after an accepted step.

    Attributes
    ----------
    time_s : float
    temperature, enthalpy : ndarray, shape (nz, nr)
        [K], [J/m3]
    contacts : tuple of ContactState
        One for each interface of the grid.
    electric : ElectricSolution or None
        Field of one ampere, None while the source is off.
    circuit : CircuitState
    load_ohm, emf_V : float
        Load seen by the source and voltage of the ideal source; 0 while off.
    energy : EnergyBalance
    tip_closed : bool
    step : int
        Number of accepted steps so far.
    """

    time_s: float
    temperature: FloatArray
    enthalpy: FloatArray
    contacts: tuple[ContactState, ...]
    electric: ElectricSolution | None
    circuit: CircuitState
    load_ohm: float
    emf_V: float
    energy: EnergyBalance
    tip_closed: bool
    step: int


@dataclass
class _Slopes:
    """Derivatives that carry over between steps of one span."""

    rate: FloatArray
    current: float
    radii: tuple[float, ...]


class March:
    """Iterate over the states of one weld.

    Parameters
    ----------
    setup : Setup
    model : WeldModel, optional
        Reused when given.
    begin : WeldState, optional
        Where to start instead of rest; the pulse train of `setup` then applies from that time.
    """

    def __init__(self, setup: Setup, model: WeldModel | None = None, begin: WeldState | None = None) -> None:
        self.setup = setup
        self.model = model if model is not None else WeldModel(setup)
        self.initial_J = self.model.stored(self.model.initial())
        self.begin = begin if begin is not None else self._rest()
        self.rejected = 0
        self.peak_A = abs(self.begin.circuit.current_A)
        self.off_since_s = 0.0

    def _rest(self) -> WeldState:
        model = self.model
        h = model.initial()
        T, _ = model.cells.temperature(h)
        _, k_z, _ = model.cells.conductivities(T)
        contacts = model.evaluate_contacts(T, k_z, None, 0.0, None)
        contacts = model.evaluate_contacts(T, k_z, None, 0.0, contacts)
        return WeldState(0.0, T, h, contacts, None, CircuitState(), 0.0, 0.0, EnergyBalance(), True, 0)

    def first_step_s(self) -> float:
        """a_c0^2 / (50 alpha) of the outer strip layer at room temperature [s]."""
        strip = self.setup.strip[0].material
        alpha = float(strip.conductivity_z(REFERENCE_K)) / (
            strip.density_kg_m3 * float(strip.heat_capacity(REFERENCE_K))
        )
        return min(i.first_m for i in self.model.grid.interfaces) ** 2 / (FIRST_STEPS * alpha)

    def __iter__(self) -> Iterator[WeldState]:
        state = self.begin
        yield state
        for phase in phases(self.setup):
            if phase.end_s <= state.time_s + SMALLEST_S:
                continue
            yield from self._span(state, phase)
            state = self._latest

    def _span(self, state: WeldState, phase: Phase) -> Iterator[WeldState]:
        """March through one span, and on to current zero where the source demands it."""
        drive = (
            None
            if phase.pulse is None
            else ActiveSource(self.setup.circuit, phase.pulse, phase.pulse_start_s)
        )
        state = self._enter(state, drive, phase)
        slopes = self._slopes(state, drive, phase)
        dt = self.first_step_s() * (1.0 if drive is not None else COOLING_START)
        if drive is None:
            self.off_since_s = min(self.off_since_s or state.time_s, state.time_s)
        end = min(phase.end_s, self.setup.numerics.longest_s)
        self._latest = state
        while state.time_s < end - SMALLEST_S or self._lingers(state, drive, end):
            left = end - state.time_s
            if left <= SMALLEST_S:
                left = dt
            limit = left if drive is not None else self._cooling_limit(state)
            trial = min(dt, limit, left)
            if trial < left < 2.0 * trial:
                trial = 0.5 * left
            state, slopes, dt = self._accept(state, slopes, trial, drive, phase)
            self._latest = state
            yield state
        if phase.end_s <= self.setup.numerics.longest_s and drive is not None:
            self._latest = self._leave(self._latest, drive, phase)

    def _lingers(self, state: WeldState, drive: ActiveSource | None, end: float) -> bool:
        """Whether a thyristor still conducts after its pulse: it ends at current zero only."""
        thyristor = drive is not None and self.setup.circuit.source.turns_off_at_zero
        return thyristor and state.circuit.direction != 0 and self._over(state.time_s, drive)

    @staticmethod
    def _over(time_s: float, drive: ActiveSource | None) -> bool:
        return drive is not None and time_s >= drive.start_s + drive.pulse.duration_s - SMALLEST_S

    def _cooling_limit(self, state: WeldState) -> float:
        return max(ELAPSED_SHARE * (state.time_s - self.off_since_s), COOLING_START * self.first_step_s())

    def _enter(self, state: WeldState, drive: ActiveSource | None, phase: Phase) -> WeldState:
        circuit = state.circuit
        if drive is None:
            return replace(state, electric=None, load_ohm=0.0, emf_V=0.0, tip_closed=phase.tip_closed)
        self.off_since_s = 0.0
        _, _, sigma = self.model.cells.conductivities(state.temperature)
        solution = self.model.solve_electric(sigma, state.contacts)
        load = self.model.load_ohm(solution.resistance_ohm)
        if self.setup.circuit.source.turns_off_at_zero:
            if circuit.direction == 0 and drive.is_fired(state.time_s):
                circuit = replace(circuit, direction=drive.fired_direction(state.time_s))
        elif phase.start_s == phase.pulse_start_s:
            circuit = replace(circuit, current_A=drive.start_current(circuit, load), direction=1)
        return replace(state, electric=solution, load_ohm=load, circuit=circuit)

    def _slopes(self, state: WeldState, drive: ActiveSource | None, phase: Phase) -> _Slopes:
        """Explicit derivatives at the start of a span, where the heat sources jump."""
        model, T = self.model, state.temperature
        k_r, k_z, _ = model.cells.conductivities(T)
        conduction = model.heat.conduction(k_r, k_z, model.thermal_contacts(state.contacts, phase.tip_closed))
        heat = np.zeros_like(T)
        current_rate = 0.0
        if drive is not None and state.electric is not None:
            heat = model.heat_W(state.electric, state.circuit.current_A, state.contacts)
            current_rate = drive.rate(state.time_s, state.circuit, state.load_ohm)
        still = (0.0,) * len(state.contacts)
        rate = np.where(model.grid.active, model.heat.net(conduction, T, heat) / model.grid.volume, 0.0)
        return _Slopes(rate, current_rate, still)

    def _accept(
        self, state: WeldState, slopes: _Slopes, dt: float, drive: ActiveSource | None, phase: Phase
    ) -> tuple[WeldState, _Slopes, float]:
        """Take one step, as small as its error asks for; return the moment and the next step."""
        allowed = 1.0
        while True:
            if dt < SMALLEST_S:
                raise MarchError(state.time_s, "the step size fell below 0.1 ns")
            conducting = drive if drive is not None and state.circuit.direction != 0 else None
            try:
                first, second, circuit, rates = self._stages(state, slopes, dt, conducting, phase)
            except (MarchError, ArithmeticError) as failure:
                if dt < 100.0 * SMALLEST_S:
                    why = failure.why if isinstance(failure, MarchError) else str(failure)
                    raise MarchError(state.time_s, why) from failure
                self.rejected += 1
                dt *= 0.25
                continue
            error = self._error(state, slopes, (first, second), rates, dt)
            factor = SAFETY * max(error, 1e-6) ** (-1.0 / 3.0)
            if error > allowed:
                self.rejected += 1
                allowed = SECOND_TRY
                dt *= max(SHRINK, min(0.8, factor))
                continue
            crossing = self._current_zero(state, circuit, conducting)
            if crossing is not None:
                dt *= crossing
                continue
            break
        grown = dt * min(GROW, max(factor, 0.5))
        weights = ((1.0 - GAMMA) * dt, GAMMA * dt)
        stored = self.model.stored(second.enthalpy) - self.initial_J
        energy = state.energy.add(weights, (first.rates, second.rates), stored)
        circuit, energy = self._extinguish(state.time_s + dt, state, circuit, energy, conducting)
        self.peak_A = max(self.peak_A, abs(circuit.current_A))
        rate = (second.enthalpy - state.enthalpy - (1.0 - GAMMA) * dt * rates[0]) / (GAMMA * dt)
        after = WeldState(
            state.time_s + dt,
            second.temperature,
            second.enthalpy,
            second.contacts,
            second.electric,
            circuit,
            second.load_ohm,
            second.emf_V,
            energy,
            phase.tip_closed,
            state.step + 1,
        )
        growth = tuple(
            (b.radius_m - a.radius_m) / ((1.0 - GAMMA) * dt)
            for a, b in zip(first.contacts, second.contacts, strict=True)
        )
        return after, _Slopes(rate, rates[3], growth), grown

    def _stages(
        self, state: WeldState, slopes: _Slopes, dt: float, drive: ActiveSource | None, phase: Phase
    ) -> tuple[StageResult, StageResult, CircuitState, tuple[FloatArray, FloatArray, float, float]]:
        """Both stages; also the derivatives of enthalpy and of current at each."""
        h, tau, t = state.enthalpy, GAMMA * dt, state.time_s
        now = state.circuit
        # Straight guesses: where metal melts, parabolas in time miss by more than lines.
        guess = h + tau * slopes.rate
        last = state.electric, now.current_A
        origin = None if drive is None else (drive, (now.current_A, now.charge_C))
        old = tuple(contact.radius_m for contact in state.contacts)
        radii = tuple(a + tau * g for a, g in zip(old, slopes.radii, strict=True))
        first = self.model.stage(
            t + tau, tau, h, guess, state.contacts, radii, last, origin, phase.tip_closed
        )
        rate1 = (first.enthalpy - h) / tau
        current1 = (first.current_A - now.current_A) / tau
        start = h + (1.0 - GAMMA) * dt * rate1
        guess = start + tau * rate1
        if drive is not None:
            charge = now.charge_C + (1.0 - GAMMA) * dt * first.current_A
            origin = drive, (now.current_A + (1.0 - GAMMA) * dt * current1, charge)
        last = first.electric, first.current_A
        radii = tuple(a + (b.radius_m - a) / GAMMA for a, b in zip(old, first.contacts, strict=True))
        second = self.model.stage(
            t + dt, tau, start, guess, state.contacts, radii, last, origin, phase.tip_closed
        )
        rate2 = (second.enthalpy - start) / tau
        circuit = now
        current2 = 0.0
        if drive is not None and origin is not None:
            charge = origin[1][1] + tau * second.current_A
            current2 = (second.current_A - origin[1][0]) / tau
            circuit = CircuitState(second.current_A, charge, now.direction)
        return first, second, circuit, (rate1, rate2, current1, current2)

    def _error(
        self,
        state: WeldState,
        slopes: _Slopes,
        stages: tuple[StageResult, StageResult],
        rates: tuple[FloatArray, FloatArray, float, float],
        dt: float,
    ) -> float:
        """Local error of the step over the error allowed."""
        rate1, rate2, current1, current2 = rates
        late = (rate2 - rate1) / (1.0 - GAMMA)
        early = (rate1 - slopes.rate) / GAMMA
        # The raw difference overrates what is stiff, such as the front that passes a fine cell
        # (Hairer and Wanner, Solving Ordinary Differential Equations II, section IV.8).
        missed = self.model.heat.damped(ERROR_CONSTANT * dt * (late - early))
        error = self.model.error_norm(missed, stages[1].temperature)
        circuit = self.setup.circuit
        if circuit.series_H > 0.0 and circuit.source.drive == "voltage" and stages[1].electric is not None:
            swing = (current2 - current1) / (1.0 - GAMMA) - (current1 - slopes.current) / GAMMA
            share = FIRED_TOLERANCE if circuit.source.turns_off_at_zero else CURRENT_TOLERANCE
            allowed = share * max(self.peak_A, abs(stages[1].current_A))
            # Past the time constant of the circuit the current follows the load by itself, and both
            # stages forget what it was before: a contact that jumps need not be resolved.
            decay = (circuit.series_ohm + stages[1].load_ohm) / circuit.series_H
            damping = (1.0 + dt * decay) ** 2
            error = max(error, abs(ERROR_CONSTANT * dt * swing) / damping / allowed)
        return error

    def _current_zero(
        self, state: WeldState, after: CircuitState, drive: ActiveSource | None
    ) -> float | None:
        """Share of the step at which a thyristor's current passes zero; None: accept the step."""
        if drive is None or not self.setup.circuit.source.turns_off_at_zero:
            return None
        before_A = state.circuit.current_A * state.circuit.direction
        after_A = after.current_A * state.circuit.direction
        if after_A >= -1e-3 * self.peak_A or before_A <= 0.0:
            return None
        return min(0.98, max(0.02, before_A / (before_A - after_A)))

    def _extinguish(
        self,
        time_s: float,
        state: WeldState,
        circuit: CircuitState,
        energy: EnergyBalance,
        drive: ActiveSource | None,
    ) -> tuple[CircuitState, EnergyBalance]:
        """End conduction where the current has reached zero."""
        if drive is None or not self.setup.circuit.source.turns_off_at_zero:
            return circuit, energy
        before_A = state.circuit.current_A * state.circuit.direction
        after_A = circuit.current_A * state.circuit.direction
        if before_A > 0.0 and after_A < 1e-3 * self.peak_A and after_A < before_A:
            left = self._inductive_J(circuit.current_A)
            # A thyristor fired while its twin still conducted takes over at once.
            fired = not self._over(time_s, drive) and drive.is_fired(time_s)
            direction = drive.fired_direction(time_s) if fired else 0
            return replace(circuit, current_A=0.0, direction=direction), energy.clamp(left)
        return circuit, energy

    def _inductive_J(self, current_A: float) -> float:
        """Energy in the inductance [J]; a current source brings its own, nothing reaches the clamp."""
        if self.setup.circuit.source.drive == "current":
            return 0.0
        return 0.5 * self.setup.circuit.series_H * current_A**2

    def _leave(self, state: WeldState, drive: ActiveSource, phase: Phase) -> WeldState:
        """Switch off at the end of a pulse: the inductive energy goes to the clamp."""
        if not self._over(state.time_s, drive):
            return state
        left = self._inductive_J(state.circuit.current_A)
        circuit = replace(state.circuit, current_A=0.0, direction=0)
        return replace(state, circuit=circuit, energy=state.energy.clamp(left))
