"""The coupled march in time: phase after phase, with steps as long as their error allows.

Potential, heat, contact radii and circuit are solved together in each stage of a step
(`nugget.weld.stepper`, `nugget.weld.stage`). Step size follows an estimate of the local error and
lands on every switching instant.
"""

from __future__ import annotations

import logging
from collections.abc import Generator, Iterator

from nugget.constants import REFERENCE_K
from nugget.setup.description import Description
from nugget.weld.model import WeldModel
from nugget.weld.phases import Phase, phases
from nugget.weld.stage import StageSolver
from nugget.weld.state import WeldState, at_rest
from nugget.weld.stepper import SMALLEST_S, ZERO_SHARE, Carry, Stepper

log = logging.getLogger("nugget.weld")

ELAPSED_SHARE = 0.4
"""A cool-down step is at most this share of the time since the current stopped: temperatures fall as
powers of that time, and the error estimate of a longer step would look across the bend."""
COOLING_START = 10.0
"""A cool-down starts with this many times the first step: no contact grows in it."""
LIFTED_SHARE = 0.02
"""It goes on with this share of its time when the tip is lifted: by then little flows into the tip."""
FIRST_STEPS = 50.0
"""The first step is this part of ``a^2 / alpha``, the time in which heat crosses the first contact: the
field around it is then resolved from the start."""


class March:
    """Iterate over the states of one weld; every iteration gives the same ones.

    Parameters
    ----------
    setup : Description
    model : WeldModel, optional
        Reused when given.
    begin : WeldState, optional
        Where to start instead of rest; the pulse train of `setup` then applies from that time.
    stages : StageSolver, optional
        Solves the stages of `model`.
    """

    def __init__(
        self,
        setup: Description,
        model: WeldModel | None = None,
        begin: WeldState | None = None,
        stages: StageSolver | None = None,
    ) -> None:
        self.setup = setup
        self.model = model if model is not None else WeldModel(setup)
        self.stages = stages if stages is not None else StageSolver(self.model)
        self.begin = begin if begin is not None else at_rest(self.model)

    def first_step_s(self) -> float:
        """a_c0^2 / (50 alpha) of the outer strip layer at room temperature [s]."""
        strip = self.setup.strip[0].material
        alpha = float(strip.conductivity_z(REFERENCE_K)) / (
            strip.density_kg_m3 * float(strip.heat_capacity(REFERENCE_K))
        )
        return min(i.first_m for i in self.model.grid.interfaces) ** 2 / (FIRST_STEPS * alpha)

    def __iter__(self) -> Iterator[WeldState]:
        state, before = self.begin, None
        yield state
        for phase in phases(self.setup):
            if phase.end_s > state.time_s + SMALLEST_S:
                state, before = yield from self._through(phase, state, before)

    def _through(
        self, phase: Phase, state: WeldState, before: tuple[Carry, float] | None
    ) -> Generator[WeldState, None, tuple[WeldState, tuple[Carry, float]]]:
        """March through one phase, and on to current zero where the source demands it."""
        stepper = Stepper(self.stages, phase)
        state = stepper.enter(state)
        carry = stepper.start(state, None if before is None else before[0])
        powered = stepper.source is not None
        log.debug("at %.6g ms: source %s", state.time_s * 1e3, "on" if powered else "off")
        dt = self.first_step_s() * (1.0 if powered else COOLING_START)
        if before is not None and phase.follows_on and powered:
            dt = max(dt, before[1])
        if not powered and state.off_since_s is not None:
            dt = max(dt, LIFTED_SHARE * (state.time_s - state.off_since_s))
        end = min(phase.end_s, self.setup.numerics.max_time_s)
        while state.time_s < end - SMALLEST_S or self._lingers(stepper, state):
            left = end - state.time_s
            if left <= SMALLEST_S:
                left = dt
            limit = left if powered else self._cooling_limit(state)
            trial = min(dt, limit, left)
            if trial < left < 2.0 * trial:
                trial = 0.5 * left
            step = stepper.advance(state, trial, carry)
            state, carry, dt = step.state, step.carry, step.next_s
            yield state
        if phase.end_s <= self.setup.numerics.max_time_s:
            state = stepper.leave(state)
        return state, (carry, dt)

    def _lingers(self, stepper: Stepper, state: WeldState) -> bool:
        """Whether a thyristor still conducts after its pulse: it ends at current zero only."""
        if not (self.setup.circuit.source.turns_off_at_zero and stepper.is_over(state.time_s)):
            return False
        return state.circuit.current_A * state.circuit.direction > ZERO_SHARE * state.peak_A

    def _cooling_limit(self, state: WeldState) -> float:
        """Longest step [s] of a cool-down."""
        since = state.time_s if state.off_since_s is None else state.off_since_s
        return max(ELAPSED_SHARE * (state.time_s - since), COOLING_START * self.first_step_s())
