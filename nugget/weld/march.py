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
import numpy.typing as npt

from nugget.constants import REFERENCE_K
from nugget.errors import MarchError
from nugget.field.electric import Flow
from nugget.setup.description import Setup
from nugget.weld.circuit import Drive, Electrics
from nugget.weld.junction import Touch
from nugget.weld.ledger import Ledger
from nugget.weld.model import Stage, WeldModel
from nugget.weld.plan import Span, spans

FloatArray = npt.NDArray[np.float64]

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
class Moment:
    """The weld at one instant, after an accepted step.

    Attributes
    ----------
    time_s : float
    temperature, enthalpy : ndarray, shape (nz, nr)
        [K], [J/m3]
    touches : tuple of Touch
        One for each interface of the grid.
    flow : Flow or None
        Field of one ampere, None while the source is off.
    electrics : Electrics
    load_ohm, emf_V : float
        Load seen by the source and voltage of the ideal source; 0 while off.
    ledger : Ledger
    tip_closed : bool
    step : int
        Number of accepted steps so far.
    """

    time_s: float
    temperature: FloatArray
    enthalpy: FloatArray
    touches: tuple[Touch, ...]
    flow: Flow | None
    electrics: Electrics
    load_ohm: float
    emf_V: float
    ledger: Ledger
    tip_closed: bool
    step: int


@dataclass
class _Slopes:
    """Derivatives that carry over between steps of one span."""

    rate: FloatArray
    current: float
    radii: tuple[float, ...]


class March:
    """Iterate over the moments of one weld.

    Parameters
    ----------
    setup : Setup
    model : WeldModel, optional
        Reused when given.
    begin : Moment, optional
        Where to start instead of rest; the pulse train of `setup` then applies from that time.
    """

    def __init__(self, setup: Setup, model: WeldModel | None = None, begin: Moment | None = None) -> None:
        self.setup = setup
        self.model = model if model is not None else WeldModel(setup)
        self.initial_J = self.model.stored(self.model.initial())
        self.begin = begin if begin is not None else self._rest()
        self.rejected = 0
        self.peak_A = abs(self.begin.electrics.current_A)
        self.off_since_s = 0.0

    def _rest(self) -> Moment:
        model = self.model
        h = model.initial()
        T, _ = model.cells.temperature(h)
        _, k_z, _ = model.cells.conductivities(T)
        touches = model.touch(T, k_z, None, 0.0, None)
        touches = model.touch(T, k_z, None, 0.0, touches)
        return Moment(0.0, T, h, touches, None, Electrics(), 0.0, 0.0, Ledger(), True, 0)

    def first_step_s(self) -> float:
        """a_c0^2 / (50 alpha) of the outer strip layer at room temperature [s]."""
        strip = self.setup.strip[0].material
        alpha = float(strip.conductivity_z(REFERENCE_K)) / (
            strip.density_kg_m3 * float(strip.heat_capacity(REFERENCE_K))
        )
        return min(i.first_m for i in self.model.grid.interfaces) ** 2 / (FIRST_STEPS * alpha)

    def __iter__(self) -> Iterator[Moment]:
        moment = self.begin
        yield moment
        for span in spans(self.setup):
            if span.end_s <= moment.time_s + SMALLEST_S:
                continue
            yield from self._span(moment, span)
            moment = self._latest

    def _span(self, moment: Moment, span: Span) -> Iterator[Moment]:
        """March through one span, and on to current zero where the source demands it."""
        drive = None if span.pulse is None else Drive(self.setup.circuit, span.pulse, span.pulse_start_s)
        moment = self._enter(moment, drive, span)
        slopes = self._slopes(moment, drive, span)
        dt = self.first_step_s() * (1.0 if drive is not None else COOLING_START)
        if drive is None:
            self.off_since_s = min(self.off_since_s or moment.time_s, moment.time_s)
        end = min(span.end_s, self.setup.numerics.longest_s)
        self._latest = moment
        while moment.time_s < end - SMALLEST_S or self._lingers(moment, drive, end):
            left = end - moment.time_s
            if left <= SMALLEST_S:
                left = dt
            limit = left if drive is not None else self._cooling_limit(moment)
            trial = min(dt, limit, left)
            if trial < left < 2.0 * trial:
                trial = 0.5 * left
            moment, slopes, dt = self._accept(moment, slopes, trial, drive, span)
            self._latest = moment
            yield moment
        if span.end_s <= self.setup.numerics.longest_s and drive is not None:
            self._latest = self._leave(self._latest, drive, span)

    def _lingers(self, moment: Moment, drive: Drive | None, end: float) -> bool:
        """Whether a thyristor still conducts after its pulse: it ends at current zero only."""
        thyristor = drive is not None and self.setup.circuit.source.turns_off_at_zero
        return thyristor and moment.electrics.direction != 0 and self._over(moment.time_s, drive)

    @staticmethod
    def _over(time_s: float, drive: Drive | None) -> bool:
        return drive is not None and time_s >= drive.start_s + drive.pulse.duration_s - SMALLEST_S

    def _cooling_limit(self, moment: Moment) -> float:
        return max(ELAPSED_SHARE * (moment.time_s - self.off_since_s), COOLING_START * self.first_step_s())

    def _enter(self, moment: Moment, drive: Drive | None, span: Span) -> Moment:
        electrics = moment.electrics
        if drive is None:
            return replace(moment, flow=None, load_ohm=0.0, emf_V=0.0, tip_closed=span.tip_closed)
        self.off_since_s = 0.0
        _, _, sigma = self.model.cells.conductivities(moment.temperature)
        flow = self.model.flow(sigma, moment.touches)
        load = self.model.load_ohm(flow.resistance_ohm)
        if self.setup.circuit.source.turns_off_at_zero:
            if electrics.direction == 0 and drive.is_fired(moment.time_s):
                electrics = replace(electrics, direction=drive.fired_direction(moment.time_s))
        elif span.start_s == span.pulse_start_s:
            electrics = replace(electrics, current_A=drive.start_current(electrics, load), direction=1)
        return replace(moment, flow=flow, load_ohm=load, electrics=electrics)

    def _slopes(self, moment: Moment, drive: Drive | None, span: Span) -> _Slopes:
        """Explicit derivatives at the start of a span, where the heat sources jump."""
        model, T = self.model, moment.temperature
        k_r, k_z, _ = model.cells.conductivities(T)
        conduction = model.heat.conduction(k_r, k_z, model.links(moment.touches, span.tip_closed))
        heat = np.zeros_like(T)
        current_rate = 0.0
        if drive is not None and moment.flow is not None:
            heat = model.heat_W(moment.flow, moment.electrics.current_A, moment.touches)
            current_rate = drive.rate(moment.time_s, moment.electrics, moment.load_ohm)
        still = (0.0,) * len(moment.touches)
        rate = np.where(model.grid.active, model.heat.net(conduction, T, heat) / model.grid.volume, 0.0)
        return _Slopes(rate, current_rate, still)

    def _accept(
        self, moment: Moment, slopes: _Slopes, dt: float, drive: Drive | None, span: Span
    ) -> tuple[Moment, _Slopes, float]:
        """Take one step, as small as its error asks for; return the moment and the next step."""
        allowed = 1.0
        while True:
            if dt < SMALLEST_S:
                raise MarchError(moment.time_s, "the step size fell below 0.1 ns")
            conducting = drive if drive is not None and moment.electrics.direction != 0 else None
            try:
                first, second, electrics, rates = self._stages(moment, slopes, dt, conducting, span)
            except (MarchError, ArithmeticError) as failure:
                if dt < 100.0 * SMALLEST_S:
                    why = failure.why if isinstance(failure, MarchError) else str(failure)
                    raise MarchError(moment.time_s, why) from failure
                self.rejected += 1
                dt *= 0.25
                continue
            error = self._error(moment, slopes, (first, second), rates, dt)
            factor = SAFETY * max(error, 1e-6) ** (-1.0 / 3.0)
            if error > allowed:
                self.rejected += 1
                allowed = SECOND_TRY
                dt *= max(SHRINK, min(0.8, factor))
                continue
            crossing = self._current_zero(moment, electrics, conducting)
            if crossing is not None:
                dt *= crossing
                continue
            break
        grown = dt * min(GROW, max(factor, 0.5))
        weights = ((1.0 - GAMMA) * dt, GAMMA * dt)
        stored = self.model.stored(second.enthalpy) - self.initial_J
        ledger = moment.ledger.add(weights, (first.rates, second.rates), stored)
        electrics, ledger = self._extinguish(moment.time_s + dt, moment, electrics, ledger, conducting)
        self.peak_A = max(self.peak_A, abs(electrics.current_A))
        rate = (second.enthalpy - moment.enthalpy - (1.0 - GAMMA) * dt * rates[0]) / (GAMMA * dt)
        after = Moment(
            moment.time_s + dt,
            second.temperature,
            second.enthalpy,
            second.touches,
            second.flow,
            electrics,
            second.load_ohm,
            second.emf_V,
            ledger,
            span.tip_closed,
            moment.step + 1,
        )
        growth = tuple(
            (b.radius_m - a.radius_m) / ((1.0 - GAMMA) * dt)
            for a, b in zip(first.touches, second.touches, strict=True)
        )
        return after, _Slopes(rate, rates[3], growth), grown

    def _stages(
        self, moment: Moment, slopes: _Slopes, dt: float, drive: Drive | None, span: Span
    ) -> tuple[Stage, Stage, Electrics, tuple[FloatArray, FloatArray, float, float]]:
        """Both stages; also the derivatives of enthalpy and of current at each."""
        h, tau, t = moment.enthalpy, GAMMA * dt, moment.time_s
        now = moment.electrics
        # Straight guesses: where metal melts, parabolas in time miss by more than lines.
        guess = h + tau * slopes.rate
        last = moment.flow, now.current_A
        origin = None if drive is None else (drive, (now.current_A, now.charge_C))
        old = tuple(touch.radius_m for touch in moment.touches)
        radii = tuple(a + tau * g for a, g in zip(old, slopes.radii, strict=True))
        first = self.model.stage(t + tau, tau, h, guess, moment.touches, radii, last, origin, span.tip_closed)
        rate1 = (first.enthalpy - h) / tau
        current1 = (first.current_A - now.current_A) / tau
        start = h + (1.0 - GAMMA) * dt * rate1
        guess = start + tau * rate1
        if drive is not None:
            charge = now.charge_C + (1.0 - GAMMA) * dt * first.current_A
            origin = drive, (now.current_A + (1.0 - GAMMA) * dt * current1, charge)
        last = first.flow, first.current_A
        radii = tuple(a + (b.radius_m - a) / GAMMA for a, b in zip(old, first.touches, strict=True))
        second = self.model.stage(
            t + dt, tau, start, guess, moment.touches, radii, last, origin, span.tip_closed
        )
        rate2 = (second.enthalpy - start) / tau
        electrics = now
        current2 = 0.0
        if drive is not None and origin is not None:
            charge = origin[1][1] + tau * second.current_A
            current2 = (second.current_A - origin[1][0]) / tau
            electrics = Electrics(second.current_A, charge, now.direction)
        return first, second, electrics, (rate1, rate2, current1, current2)

    def _error(
        self,
        moment: Moment,
        slopes: _Slopes,
        stages: tuple[Stage, Stage],
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
        if circuit.series_H > 0.0 and circuit.source.drive == "voltage" and stages[1].flow is not None:
            swing = (current2 - current1) / (1.0 - GAMMA) - (current1 - slopes.current) / GAMMA
            share = FIRED_TOLERANCE if circuit.source.turns_off_at_zero else CURRENT_TOLERANCE
            allowed = share * max(self.peak_A, abs(stages[1].current_A))
            # Past the time constant of the circuit the current follows the load by itself, and both
            # stages forget what it was before: a contact that jumps need not be resolved.
            decay = (circuit.series_ohm + stages[1].load_ohm) / circuit.series_H
            damping = (1.0 + dt * decay) ** 2
            error = max(error, abs(ERROR_CONSTANT * dt * swing) / damping / allowed)
        return error

    def _current_zero(self, moment: Moment, after: Electrics, drive: Drive | None) -> float | None:
        """Share of the step at which a thyristor's current passes zero; None: accept the step."""
        if drive is None or not self.setup.circuit.source.turns_off_at_zero:
            return None
        before_A = moment.electrics.current_A * moment.electrics.direction
        after_A = after.current_A * moment.electrics.direction
        if after_A >= -1e-3 * self.peak_A or before_A <= 0.0:
            return None
        return min(0.98, max(0.02, before_A / (before_A - after_A)))

    def _extinguish(
        self, time_s: float, moment: Moment, electrics: Electrics, ledger: Ledger, drive: Drive | None
    ) -> tuple[Electrics, Ledger]:
        """End conduction where the current has reached zero."""
        if drive is None or not self.setup.circuit.source.turns_off_at_zero:
            return electrics, ledger
        before_A = moment.electrics.current_A * moment.electrics.direction
        after_A = electrics.current_A * moment.electrics.direction
        if before_A > 0.0 and after_A < 1e-3 * self.peak_A and after_A < before_A:
            left = self._inductive_J(electrics.current_A)
            # A thyristor fired while its twin still conducted takes over at once.
            fired = not self._over(time_s, drive) and drive.is_fired(time_s)
            direction = drive.fired_direction(time_s) if fired else 0
            return replace(electrics, current_A=0.0, direction=direction), ledger.clamp(left)
        return electrics, ledger

    def _inductive_J(self, current_A: float) -> float:
        """Energy in the inductance [J]; a current source brings its own, nothing reaches the clamp."""
        if self.setup.circuit.source.drive == "current":
            return 0.0
        return 0.5 * self.setup.circuit.series_H * current_A**2

    def _leave(self, moment: Moment, drive: Drive, span: Span) -> Moment:
        """Switch off at the end of a pulse: the inductive energy goes to the clamp."""
        if not self._over(moment.time_s, drive):
            return moment
        left = self._inductive_J(moment.electrics.current_A)
        electrics = replace(moment.electrics, current_A=0.0, direction=0)
        return replace(moment, electrics=electrics, ledger=moment.ledger.clamp(left))
