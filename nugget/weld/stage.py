"""One implicit stage: field, contacts, circuit, heat at one instant together (manual, theory-numerics)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.field.electric import ElectricSolution
from nugget.field.heat import Conduction, HeatOperator, NewtonUpdate
from nugget.weld.active_source import ActiveSource, CircuitState
from nugget.weld.energy_balance import Powers
from nugget.weld.interface_model import ContactStart, ContactState, Surroundings
from nugget.weld.model import WeldModel
from nugget.weld.radius_solver import FIRST_RESPONSE, SETTLED_RADIUS, ContactRadiusSolver
from nugget.weld.state import WeldState

MOST_ITERATIONS = 14
"""A stage that settles does so within ten; a step cut short costs less than more of them."""
PERSISTENCE, SHORT_S = 4, 1e-8
"""So many times as many iterations in stages shorter than this [s]: where the search for a radius creeps, a
still shorter step helps no more."""
PATIENCE = 4
"""Iterations of a stage that may use a kept heat operator."""
TOLERANCES_K, SETTLED, SETTLED_RADII = (1.5, 4.5), (0.25, 1.25), (SETTLED_RADIUS, 3.0 * SETTLED_RADIUS)
"""A stage is settled when its last change is below this share of the error allowed per step, and no contact
radius misses by more than that share of it. The first holds up to the standard tolerance, where twice as
much saves a twelfth of the factorisations and diameters scatter by 0.4 instead of 0.15 %; the last from
the tolerance of studies on: 16 welds of the default bench with inputs drawn cost 0.70 of what they cost
with the first, and are as far from those at a third of the standard tolerance as before (0.005 of the
minimum diameter, 0.002 of the wall's limit)."""
HOPELESS_AFTER, HOPELESS = 3, 20.0
"""A stage that still changes by so many times the error allowed will not settle."""
SWINGS = 0.7
"""A stage whose change stays above this share of the one before goes half the way: cells that hop over
both ends of melting would swing for ever."""
KINK_K = 0.5
"""A cell has met a kink when its temperature is off its linearisation by more than this: a fraction of
the error allowed per step, and far above what the smooth bend of the tables leaves."""
KINK_SWEEPS = 4
"""A cell balanced on its own converges as Newton's method does; the fourth sweep changes nothing."""


@dataclass(frozen=True)
class StageProblem:
    """``h - tau f(h) = start`` with everything that `f` depends on.

    Attributes
    ----------
    time_s, tau_s : float
        Time of the stage; implicit coefficient times the step.
    start, guess : ndarray, shape (nz, nr)
        Right-hand side and first iterate [J/m3].
    contacts : tuple of ContactStart
        What the contacts start from.
    radii_m : tuple of float
        First iterates of the contact radii.
    responses : tuple of float
        How each contact's answer is taken to follow its radius.
    source : ActiveSource or None
        None: switched off.
    circuit : CircuitState
        Current and charge that the stage starts from.
    latest : tuple of ContactState
        The contacts as they were evaluated last, which the first iterate moves to `radii_m`.
    electric, current_A : ElectricSolution or None, float
        Field and current of then.
    tip_closed : bool
    operator : HeatOperator or None
        Factored heat operator of an earlier stage, used while it serves.
    """

    time_s: float
    tau_s: float
    start: FloatArray
    guess: FloatArray
    contacts: tuple[ContactStart, ...]
    radii_m: tuple[float, ...]
    responses: tuple[float, ...]
    source: ActiveSource | None
    circuit: CircuitState
    latest: tuple[ContactState, ...]
    electric: ElectricSolution | None
    current_A: float
    tip_closed: bool
    operator: HeatOperator | None = None

    @classmethod
    def implicit_euler(cls, state: WeldState, dt_s: float, source: ActiveSource | None) -> StageProblem:
        """One step of implicit Euler from a state."""
        time_s = state.time_s + dt_s
        return cls(
            time_s=time_s,
            tau_s=dt_s,
            start=state.enthalpy,
            guess=state.enthalpy,
            contacts=tuple(ContactStart.of(c, time_s, dt_s) for c in state.contacts),
            radii_m=tuple(c.radius_m for c in state.contacts),
            responses=(FIRST_RESPONSE,) * len(state.contacts),
            source=source,
            circuit=state.circuit,
            latest=state.contacts,
            electric=state.electric,
            current_A=state.circuit.current_A,
            tip_closed=state.tip_closed,
        )


@dataclass(frozen=True)
class StageResult:
    """Result of one implicit stage.

    Attributes
    ----------
    enthalpy : ndarray, shape (nz, nr)
        [J/m3]
    temperature, capacity : ndarray, shape (nz, nr)
        [K], dh/dT [J/(m3 K)]
    contacts : tuple of ContactState
    electric : ElectricSolution or None
    current_A, load_ohm, emf_V : float
        Current, load seen by the source, voltage of the ideal source.
    powers : Powers
    responses : tuple of float
        How each contact's answer followed its radius.
    operator : HeatOperator
        The factored heat operator that the stage ended with.
    iterations : int
    """

    enthalpy: FloatArray
    temperature: FloatArray
    capacity: FloatArray
    contacts: tuple[ContactState, ...]
    electric: ElectricSolution | None
    current_A: float
    load_ohm: float
    emf_V: float
    powers: Powers
    responses: tuple[float, ...]
    operator: HeatOperator
    iterations: int


@dataclass(frozen=True)
class StageTolerance:
    """When a stage is settled.

    Attributes
    ----------
    change : float
        Last change as a share of the error allowed per step.
    radius : float
        Miss of a contact radius as a share of it.
    iterations : int
        How many a stage may take.
    """

    change: float = SETTLED[0]
    radius: float = SETTLED_RADII[0]
    iterations: int = MOST_ITERATIONS

    @classmethod
    def usual(cls, tolerance_K: float) -> StageTolerance:
        """That of marches with this local error allowed per step [K]."""
        change, radius = (np.interp(tolerance_K, TOLERANCES_K, ends) for ends in (SETTLED, SETTLED_RADII))
        return cls(float(change), float(radius))


class StageSolver:
    """Solves stages of one model; keeps nothing from one to the next.

    Parameters
    ----------
    model : WeldModel
    tolerance : StageTolerance, optional
        The usual one of the setup's tolerance by default.
    """

    def __init__(self, model: WeldModel, tolerance: StageTolerance | None = None) -> None:
        self.model = model
        usual = StageTolerance.usual(model.setup.numerics.tolerance_K)
        self.tolerance = usual if tolerance is None else tolerance

    def solve(self, problem: StageProblem) -> StageResult:
        """Solve one stage.

        Raises
        ------
        SolverError
            If the iteration does not settle.
        ArithmeticError
            If an operator is not positive definite.
        """
        iteration = _Iteration(self.model, problem, self.tolerance)
        most = self.tolerance.iterations * (PERSISTENCE if problem.tau_s < SHORT_S else 1)
        for number in range(most):
            if iteration.improve(number):
                return iteration.result(number + 1)
            iteration.prepare_next()
        raise SolverError(problem.time_s, f"a stage did not settle within {most} iterations")


@dataclass(frozen=True)
class Iterate:
    """An enthalpy field and what follows from it alone."""

    enthalpy: FloatArray
    temperature: FloatArray
    capacity: FloatArray
    k_r: FloatArray
    k_z: FloatArray
    conductivity: FloatArray

    @classmethod
    def at(cls, model: WeldModel, enthalpy: FloatArray) -> Iterate:
        return cls(enthalpy, *model.cells.state(enthalpy))


class _Iteration:
    """The iterates of one stage."""

    def __init__(self, model: WeldModel, problem: StageProblem, tolerance: StageTolerance) -> None:
        self.model, self.problem, self.tolerance = model, problem, tolerance
        self.now = Iterate.at(model, problem.guess)
        self.powered = problem.source is not None
        self.electric = problem.electric if self.powered else None
        self.current_A = problem.current_A if self.powered else 0.0
        self.load_ohm = self.emf_V = 0.0
        self.heat_W = np.zeros_like(problem.start)
        self.operator = problem.operator
        self.near, self.change, self.last_change = False, np.inf, np.inf
        self.radius_solvers = [
            ContactRadiusSolver(radius, contact.before.equilibrium_radius_m, response)
            for radius, contact, response in zip(
                problem.radii_m, problem.contacts, problem.responses, strict=True
            )
        ]
        # Without current the contacts stay as they are: nothing softens any more.
        self.contacts = tuple(c.before for c in problem.contacts)
        if self.powered:
            self.contacts = problem.latest
            self._move_contacts(lambda solver, _: solver.radius_m)
            self._evaluate_contacts(all_of_them=False)

    def improve(self, number: int) -> bool:
        """One iteration; whether the stage is settled."""
        problem, heat = self.problem, self.model.heat
        if self.powered:
            self._feed()
        contacts = self.model.thermal_contacts(self.contacts, problem.tip_closed)
        conduction = heat.conduction(self.now.k_r, self.now.k_z, contacts)
        if not self.near or self.operator is None:
            kept = self.operator if number < PATIENCE else None
            self.operator = heat.operator(conduction, self.now.capacity, problem.tau_s, kept)
        self.conduction: Conduction = conduction
        self.update: NewtonUpdate = self.operator.newton(
            conduction, problem.start, (self.now.enthalpy, self.now.temperature), self.heat_W
        )
        self.change = self.model.error_norm(
            self.update.enthalpy_J_m3 - self.now.enthalpy, self.now.temperature
        )
        # Before contacts are asked what such a field makes of them. The air's share counts every cell.
        if not np.isfinite(self.change + self.update.air_W):
            raise SolverError(problem.time_s, "a temperature is not a number")
        self.previous = self.now.enthalpy
        self.now = Iterate.at(self.model, self.update.enthalpy_J_m3)
        if self.powered:
            self._evaluate_contacts()
        self.model.stage_count += 1
        self._give_up_if_hopeless(number)
        self.near = self.change < self.tolerance.change
        return self.near and self._contacts_are_still()

    def prepare_next(self) -> None:
        """Move the iterate to where the next iteration should start."""
        if not self.near:
            # Conductivities stay those of the Newton step: the guess moved in a few cells only.
            if self.change > SWINGS * self.last_change:
                enthalpy = 0.5 * (self.now.enthalpy + self.previous)
                temperature, capacity = self.model.cells.temperature(enthalpy)
                self.now = replace(self.now, enthalpy=enthalpy, temperature=temperature, capacity=capacity)
            else:
                self.now = across_kinks(
                    self.model, self.conduction, self.update, self.now, self.problem.tau_s
                )
            self.last_change = self.change
        if self.powered:
            self._move_contacts(lambda solver, answer: solver.next(answer))

    def result(self, iterations: int) -> StageResult:
        """What the stage ended with."""
        assert self.operator is not None
        powers = Powers(holder_W=self.update.holder_W, air_W=self.update.air_W)
        if self.powered and self.electric is not None:
            square = self.current_A**2
            powers = Powers(
                load_W=square * self.electric.resistance_ohm,
                holder_W=self.update.holder_W,
                air_W=self.update.air_W,
                outside_W=square * self.electric.outside_heat,
                drawn_W=self.emf_V * self.current_A,
                action_A2=square,
                charge_A=self.current_A,
                returned_W=square * self.load_ohm,
                thermoelectric_W=self.model.thermoelectric_W(self.electric, self.current_A, self.fed),
            )
        return StageResult(
            enthalpy=self.now.enthalpy,
            temperature=self.now.temperature,
            capacity=self.now.capacity,
            contacts=self.contacts,
            electric=self.electric,
            current_A=self.current_A,
            load_ohm=self.load_ohm,
            emf_V=self.emf_V,
            powers=powers,
            responses=tuple(s.response for s in self.radius_solvers),
            operator=self.operator,
            iterations=iterations,
        )

    def _feed(self) -> None:
        """Field, current and heat for the present contacts and temperatures."""
        problem, model, source = self.problem, self.model, self.problem.source
        assert source is not None
        self.electric = model.solve_electric(self.now.conductivity, self.contacts)
        self.load_ohm = model.load_ohm(self.electric.resistance_ohm)
        self.current_A = source.current(problem.time_s, problem.tau_s, problem.circuit, self.load_ohm)
        charge = problem.circuit.charge_C + problem.tau_s * self.current_A
        self.emf_V = source.voltage(problem.time_s, self.current_A, charge, self.load_ohm)
        self.fed = self.contacts
        self.heat_W = model.heat_W(self.electric, self.current_A, self.fed)

    def _evaluate_contacts(self, all_of_them: bool = True) -> None:
        """The contacts for the present fields: all of them, or those alone whose resistance changes."""
        around = Surroundings(self.now.temperature, self.now.k_z)
        heats = self.model.interface_heat(self.electric, self.current_A, self.contacts)
        given = zip(self.model.contact_models, heats, self.problem.contacts, self.contacts, strict=True)
        self.contacts = tuple(
            model.evaluate(around, heat, start, latest.radius_m, latest)
            if all_of_them or model.drifts
            else latest
            for model, heat, start, latest in given
        )

    def _move_contacts(self, ask: Callable[[ContactRadiusSolver, float], float]) -> None:
        """Put the contacts at the radii that the searches ask for next."""
        self.contacts = tuple(
            model.at_radius(contact, ask(solver, contact.equilibrium_radius_m))
            for model, contact, solver in zip(
                self.model.contact_models, self.contacts, self.radius_solvers, strict=True
            )
        )

    def _contacts_are_still(self) -> bool:
        if not self.powered:
            return True
        pairs = zip(self.radius_solvers, self.contacts, strict=True)
        return all(
            solver.settled(contact.equilibrium_radius_m, self.tolerance.radius) for solver, contact in pairs
        )

    def _give_up_if_hopeless(self, number: int) -> None:
        if number >= HOPELESS_AFTER and self.change > HOPELESS:
            raise SolverError(self.problem.time_s, "a stage does not settle")


def across_kinks(
    model: WeldModel, conduction: Conduction, update: NewtonUpdate, iterate: Iterate, tau_s: float
) -> Iterate:
    """Improve an iterate in the cells where T(h) bent away from its linearisation.

    Melting starts and ends at kinks of T(h), where a Newton step overshoots. There each cell
    is balanced on its own with its neighbours held at the linear solution:
    ``V h / tau + D T(h) = V h_lin / tau + D T_lin``, D the sum of its conductances. This only
    moves the next guess; the Newton step after it balances energy again.

    Parameters
    ----------
    model : WeldModel
    conduction : Conduction
        Conductances that `update` was solved with.
    update : NewtonUpdate
    iterate : Iterate
        That of `update`.
    tau_s : float
    """
    bent = np.abs(iterate.temperature - update.temperature_K) > KINK_K
    if not bent.any():
        return iterate
    cells = model.cells.some(bent)
    inertia = model.heat.volume[bent] / tau_s
    coupling = conduction.coupling[bent]
    linear = update.temperature_K[bent]
    x = start = iterate.enthalpy[bent]
    for _ in range(KINK_SWEEPS):
        T, capacity = cells.temperature(x)
        miss = inertia * (x - start) + coupling * (T - linear)
        x = x - miss / (inertia + coupling / capacity)
    better = [iterate.enthalpy.copy(), iterate.temperature.copy(), iterate.capacity.copy()]
    for field, values in zip(better, (x, *cells.temperature(x)), strict=True):
        field[bent] = values
    return replace(iterate, enthalpy=better[0], temperature=better[1], capacity=better[2])
