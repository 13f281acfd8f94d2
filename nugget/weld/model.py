"""Everything that one implicit stage needs, assembled once per weld."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import MarchError
from nugget.field.electric import ElectricalContact, ElectricField, ElectricSolution
from nugget.field.heat import HeatField, NewtonUpdate, ThermalContact
from nugget.grid.stack import Grid, build_grid
from nugget.materials.tables import PropertyTables, enthalpy_J_m3
from nugget.setup.description import Setup
from nugget.weld.active_source import ActiveSource
from nugget.weld.interface_model import ContactModel, ContactState

MOST_ITERATIONS = 14
PATIENCE = 4
"""Iterations of a stage that may use a kept heat operator."""
SETTLED = 0.25
"""A stage is settled when its last change is below this share of the error allowed per step. Twice as
much saves a twelfth of the factorisations, and diameters scatter by 0.4 instead of 0.15 %."""
SETTLED_RADIUS = 1.5e-3
SLOPE_FROM = 1e-6
"""Smallest change of a radius, as a share of it, that tells how the answer follows it. At 1e-3 a
steep slope made strides too short to be corrected by, and marches of plated strip stopped."""
HOPELESS_AFTER, HOPELESS = 3, 20.0
"""A stage that still changes by so many times the error allowed will not settle."""
WARM, FEWEST = 0.02, 0.1
"""Errors are averaged over the cells that have warmed by this share of the largest rise, and over no
fewer than that share of the cells near the tip. Over all of them an early error, which sits in the few
cells of a small spot, counted for nothing, and bonds after 0.15 ms came 3 % too early or too late."""
SWINGS = 0.7
"""A stage whose change stays above this share of the one before goes half the way: cells that hop over
both ends of melting would swing for ever."""
KINK_K = 0.5
KINK_SWEEPS = 4
RELATIVE_PER_K = 0.001
"""Error allowed per step as a share of the local temperature rise, per kelvin of `tolerance_K`."""


@dataclass(frozen=True)
class StageResult:
    """Result of one implicit stage.

    Attributes
    ----------
    enthalpy : ndarray, shape (nz, nr)
        [J/m3]
    temperature : ndarray, shape (nz, nr)
        [K]
    contacts : tuple of ContactState
    electric : ElectricSolution or None
    current_A, load_ohm, emf_V : float
        Current, load seen by the source, voltage of the ideal source.
    rates : ndarray
        In the order of `nugget.weld.energy_balance.RATES`.
    """

    enthalpy: FloatArray
    temperature: FloatArray
    contacts: tuple[ContactState, ...]
    electric: ElectricSolution | None
    current_A: float
    load_ohm: float
    emf_V: float
    rates: FloatArray


class ContactRadiusSolver:
    """Bracketed secant search for the contact radius that the force balance returns unchanged.

    Plain repetition oscillates: a wider spot is cooler and harder, and asks for a smaller one.
    Where the answer jumps (a ring of melt carries nothing, so the balance skips it) the bracket
    closes on the jump.
    """

    def __init__(self, radius_m: float, floor_m: float, slope: float = -1.0) -> None:
        self.radius_m = max(radius_m, floor_m)
        self.floor_m = floor_m
        self.slope = slope
        self._last: tuple[float, float] | None = None
        self._low: tuple[float, float] | None = None
        self._high: tuple[float, float] | None = None
        self._side = 0

    def start(self, equilibrium_radius_m: float) -> float:
        """Return a better first radius, from what the field that is only guessed asks for."""
        trial = self.radius_m + (equilibrium_radius_m - self.radius_m) / (1.0 - self.slope)
        self.radius_m = max(self.floor_m, trial)
        return self.radius_m

    def settled(self, equilibrium_radius_m: float) -> bool:
        """Whether `radius_m` is close enough, or the bracket around it is."""
        close = SETTLED_RADIUS * self.radius_m
        if abs(equilibrium_radius_m - self.radius_m) < close:
            return True
        both = self._low is not None and self._high is not None
        return both and self._high[0] - self._low[0] < close  # type: ignore[index]

    def next(self, equilibrium_radius_m: float) -> float:
        """Return the next radius to try after `radius_m` was answered by `wanted_m`."""
        radius, miss = self.radius_m, equilibrium_radius_m - self.radius_m
        if self._last is not None and abs(radius - self._last[0]) > SLOPE_FROM * radius:
            slope = (equilibrium_radius_m - self._last[1]) / (radius - self._last[0])
            self.slope = min(max(slope, -30.0), 0.0)
        self._last = radius, equilibrium_radius_m
        # An end of the bracket that stays put twice counts half (Illinois rule), or the search
        # would creep towards a jump. The field moves meanwhile, and may overtake the bracket.
        if miss > 0.0:
            stays, self._low = self._side == 1, (radius, miss)
            if self._high is not None:
                self._high = None if self._high[0] <= radius else _halved(self._high, stays)
        else:
            stays, self._high = self._side == -1, (radius, miss)
            if self._low is not None:
                self._low = None if self._low[0] >= radius else _halved(self._low, stays)
        self._side = 1 if miss > 0.0 else -1
        if self._low is None or self._high is None:
            trial = radius + miss / (1.0 - self.slope)
        else:
            (low, rise), (high, fall) = self._low, self._high
            share = rise / (rise - fall)
            trial = low + min(max(share, 0.05), 0.95) * (high - low)
        self.radius_m = max(self.floor_m, trial)
        return self.radius_m


def _halved(end: tuple[float, float], when: bool) -> tuple[float, float]:
    return (end[0], 0.5 * end[1]) if when else end


class WeldModel:
    """Grid, tables and operators of one setup; `stage` advances all of it together."""

    def __init__(self, setup: Setup, grid: Grid | None = None) -> None:
        self.setup = setup
        self.grid: Grid = build_grid(setup) if grid is None else grid
        self.tables = PropertyTables.build(self.grid.materials, setup.stirring)
        self.index = np.maximum(self.grid.material, 0)
        self.cells = self.tables.cells(self.index)
        self.electric = ElectricField(self.grid)
        self.heat = HeatField(
            self.grid, setup.ambient_K, setup.electrode.holder_temperature_K, setup.film_W_m2K
        )
        self.contact_models = [ContactModel(setup, self.grid, i, self.tables) for i in self.grid.interfaces]
        self.mirrored = self.grid.bottom == "mirror"
        self.gap_W_m2K = self.contact_models[0].gap_conductance(setup.ambient_K)
        self._near = self._near_cells()
        self._fewest = FEWEST * np.count_nonzero(self._near)
        # Errors sit at fronts, which are lines: their share of the cells falls with refinement.
        fronts = np.sqrt(setup.numerics.refinement)
        self._scale = np.where(self._near, fronts / self.tables.sensible_J_m3K[self.index], 0.0)
        self._slopes = [-1.0] * len(self.contact_models)
        self.stage_count = 0

    def _near_cells(self) -> npt.NDArray[np.bool_]:
        """Cells whose error counts: below and around the tip, down to a millimetre into the roll."""
        cap = max(i.cap_m for i in self.grid.interfaces)
        rolls = [self.grid.z_faces[b.end] for b in self.grid.layer_rows if b.role == "roll"]
        floor = rolls[0] - 1e-3 if rolls else -np.inf
        inside = (self.grid.r < 1.5 * cap)[None, :] & (self.grid.z > floor)[:, None]
        return inside & self.grid.active

    def initial(self) -> FloatArray:
        """Enthalpy [J/m3] of everything at ambient, the electrodes included."""
        ambient = [float(enthalpy_J_m3(m, self.setup.ambient_K)) for m in self.tables.materials]
        return np.asarray(np.array(ambient)[self.index], dtype=np.float64)

    def load_ohm(self, model_ohm: float) -> float:
        """Load that the source sees for a modelled resistance (contract, section 1)."""
        arrangement = self.setup.arrangement
        if arrangement == "indirect":
            return model_ohm + self.setup.return_ohm
        return 2.0 * model_ohm if self.mirrored or arrangement != "opposed" else model_ohm

    def error_norm(self, change_J_m3: FloatArray, temperature: FloatArray) -> float:
        """Root mean square of an enthalpy difference over the warm cells: 1 is the error allowed per step."""
        rise = np.abs(temperature - self.setup.ambient_K)
        allowed = self.setup.numerics.tolerance_K * (1.0 + RELATIVE_PER_K * rise)
        scaled = change_J_m3 * self._scale / allowed
        warm = np.count_nonzero(self._near & (rise > WARM * rise.max()))
        return float(np.sqrt(np.vdot(scaled, scaled) / max(warm, self._fewest)))

    def stored(self, enthalpy: FloatArray) -> float:
        """Enthalpy of the whole model [J]."""
        return float(np.vdot(self.heat.volume, enthalpy))

    def evaluate_contacts(
        self,
        temperature: FloatArray,
        k_z: FloatArray,
        electric: ElectricSolution | None,
        current_A: float,
        before: tuple[ContactState, ...] | None,
        radii: tuple[float, ...] | None = None,
        latest: tuple[ContactState, ...] | None = None,
    ) -> tuple[ContactState, ...]:
        """Evaluate all interfaces for given cell temperatures, at given contact radii if any."""
        none = np.zeros(self.grid.shape[1])
        heats = [none] * len(self.contact_models)
        if electric is not None:
            heats = [current_A**2 * q for q in electric.interface_heat]
        nothing = (None,) * len(self.contact_models)
        olds = before if before is not None else nothing
        given = radii if radii is not None else nothing
        lasts = latest if latest is not None else olds
        return tuple(
            contact_model.evaluate(temperature, k_z, heat, old, self.gap_W_m2K, radius, last)
            for contact_model, heat, old, radius, last in zip(
                self.contact_models, heats, olds, given, lasts, strict=True
            )
        )

    def thermal_contacts(self, contacts: tuple[ContactState, ...], tip_closed: bool) -> list[ThermalContact]:
        """Thermal state of the interfaces; a lifted tip conducts nothing."""
        thermal_contacts = []
        for interface, contact in zip(self.grid.interfaces, contacts, strict=True):
            open_ = not tip_closed and "tip" in interface.name
            covered = np.zeros_like(contact.contact_fraction) if open_ else contact.contact_fraction
            thermal_contacts.append(
                ThermalContact(covered, contact.thermal, 0.0 if open_ else self.gap_W_m2K)
            )
        return thermal_contacts

    def solve_electric(
        self, conductivity: FloatArray, contacts: tuple[ContactState, ...]
    ) -> ElectricSolution:
        """Field of one ampere."""
        return self.electric.solve(
            conductivity, [ElectricalContact(t.contact_fraction, t.electrical) for t in contacts]
        )

    def heat_W(
        self, solution: ElectricSolution, current_A: float, contacts: tuple[ContactState, ...]
    ) -> FloatArray:
        """Heat put into each cell [W], interface heat included."""
        square = current_A**2
        heat = square * solution.heat
        area = self.grid.area_z
        for interface, contact, per_area in zip(
            self.grid.interfaces, contacts, solution.interface_heat, strict=True
        ):
            power = square * per_area * area * contact.contact_fraction
            if interface.mirrored:
                heat[interface.above] += 0.5 * power
            else:
                heat[interface.above] += power * contact.heat_partition
                heat[interface.below] += power * (1.0 - contact.heat_partition)
        return heat

    def _across_kinks(self, step: NewtonUpdate, h: FloatArray, T: FloatArray, tau_s: float) -> FloatArray:
        """Improve an iterate in the cells where T(h) bent away from its linearisation.

        Melting starts and ends at kinks of T(h), where a Newton step overshoots. There each cell
        is balanced on its own with its neighbours held at the linear solution:
        ``V h / tau + D T(h) = V h_lin / tau + D T_lin``, D the sum of its conductances. This only
        moves the next guess; the Newton step after it balances energy again.
        """
        bent = np.abs(T - step.temperature_K) > KINK_K
        if not bent.any():
            return h
        cells = self.cells.some(bent)
        inertia = self.heat.volume[bent] / tau_s
        coupling = self.heat.coupling[bent]
        linear = step.temperature_K[bent]
        x = start = h[bent]
        for _ in range(KINK_SWEEPS):
            temperature, capacity = cells.temperature(x)
            miss = inertia * (x - start) + coupling * (temperature - linear)
            x = x - miss / (inertia + coupling / capacity)
        better = h.copy()
        better[bent] = x
        return better

    def stage(
        self,
        time_s: float,
        tau_s: float,
        start: FloatArray,
        guess: FloatArray,
        before: tuple[ContactState, ...],
        radii: tuple[float, ...],
        last: tuple[ElectricSolution | None, float],
        drive: tuple[ActiveSource, tuple[float, float]] | None,
        tip_closed: bool,
    ) -> StageResult:
        """Solve ``h - tau f(h) = start`` with field, contacts and circuit at one instant.

        Parameters
        ----------
        time_s, tau_s : float
        start, guess : ndarray, shape (nz, nr)
            Right-hand side and first iterate [J/m3].
        before : tuple of ContactState
            Contacts at the start of the step.
        radii : tuple of float
            First iterate of the contact radii [m].
        last : ElectricSolution or None, float
            Latest field and current, for the first interface temperatures.
        drive : (ActiveSource, (float, float)) or None
            Source and the current and charge that the stage starts from; None: switched off.

        Raises
        ------
        MarchError
            If the iteration does not settle.
        """
        solution, current = last if drive is not None else (None, 0.0)
        heat = np.zeros_like(start)
        load = emf = 0.0
        T, capacity = self.cells.temperature(guess)
        k_r, k_z, sigma = self.cells.conductivities(T)
        radius_solvers = [
            ContactRadiusSolver(radius, contact.equilibrium_radius_m, slope)
            for radius, contact, slope in zip(radii, before, self._slopes, strict=True)
        ]
        # Without current the contacts stay as they are: nothing softens any more.
        contacts = before
        if drive is not None:
            contacts = self.evaluate_contacts(
                T, k_z, solution, current, before, tuple(s.radius_m for s in radius_solvers)
            )
            contacts = tuple(
                contact_model.at_radius(contact, radius_solver.start(contact.equilibrium_radius_m))
                for contact_model, contact, radius_solver in zip(
                    self.contact_models, contacts, radius_solvers, strict=True
                )
            )
        near, last_change = False, np.inf
        for iteration in range(MOST_ITERATIONS):
            if drive is not None:
                source, origin = drive
                solution = self.solve_electric(sigma, contacts)
                load = self.load_ohm(solution.resistance_ohm)
                current = source.current(time_s, tau_s, origin, load)
                emf = source.voltage(time_s, current, origin[1] + tau_s * current, load)
                heat = self.heat_W(solution, current, contacts)
            conduction = self.heat.conduction(k_r, k_z, self.thermal_contacts(contacts, tip_closed))
            if not near:
                self.heat.prepare(conduction, capacity, tau_s, afresh=iteration >= PATIENCE)
            step = self.heat.newton(conduction, tau_s, start, (guess, T), heat)
            change = self.error_norm(step.enthalpy_J_m3 - guess, T)
            previous = guess
            guess = step.enthalpy_J_m3
            T, capacity = self.cells.temperature(guess)
            k_r, k_z, sigma = self.cells.conductivities(T)
            if drive is not None:
                radii = tuple(s.radius_m for s in radius_solvers)
                contacts = self.evaluate_contacts(T, k_z, solution, current, before, radii, contacts)
            self.stage_count += 1
            if not np.isfinite(change):
                raise MarchError(time_s, "a temperature is not a number")
            if iteration >= HOPELESS_AFTER and change > HOPELESS:
                raise MarchError(time_s, "a stage does not settle")
            moving = zip(radius_solvers, contacts, strict=True) if drive is not None else ()
            still = all(s.settled(t.equilibrium_radius_m) for s, t in moving)
            near = change < SETTLED
            if near and still:
                break
            if not near:
                if change > SWINGS * last_change:
                    guess = 0.5 * (guess + previous)
                else:
                    guess = self._across_kinks(step, guess, T, tau_s)
                last_change = change
                T, capacity = self.cells.temperature(guess)
            if drive is not None:
                contacts = tuple(
                    contact_model.at_radius(contact, radius_solver.next(contact.equilibrium_radius_m))
                    for contact_model, contact, radius_solver in zip(
                        self.contact_models, contacts, radius_solvers, strict=True
                    )
                )
        else:
            raise MarchError(time_s, f"a stage did not settle within {MOST_ITERATIONS} iterations")
        self._slopes = [s.slope for s in radius_solvers]
        rates = np.array([0.0, step.holder_W, step.air_W, 0.0, 0.0, 0.0, 0.0, 0.0])
        if solution is not None and drive is not None:
            square = current**2
            rates[0] = square * solution.resistance_ohm
            rates[3:] = square * solution.outside_heat, emf * current, square, current, square * load
        return StageResult(guess, T, contacts, solution, current, load, emf, rates)
