"""One interface during the march: from cell temperatures to contact radius and resistances.

Three questions in a row: how warm are the two surfaces, how large is the contact that carries the
force (a radius law, `nugget.contact.bearing`), and what resists inside it (a contact law,
`nugget.contact.laws`). Both laws are given from outside.

The equations: manual, theory-interfaces.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled.seam import serve
from nugget.contact import spot
from nugget.contact.bearing import (
    Bearing,
    ContactLoad,
    CreepingAsperities,
    CreepingSpot,
    RadiusLaw,
    nominal_pressure,
)
from nugget.contact.edge_correction import resolved_radius
from nugget.contact.enclosed_melt import gain, partly_molten
from nugget.contact.growth import HardnessRows
from nugget.contact.laws import ConductingLaw, ContactConditions, MetallicContact, RememberingLaw
from nugget.field.electric import ElectricalContact
from nugget.field.heat import ThermalContact
from nugget.grid.platings import bearing_row
from nugget.grid.stack import Grid, Interface
from nugget.materials.property_tables import RATES, RATES_1_S, CellTables, PropertyTables, Strength
from nugget.setup.description import Description

LEAST_MELTING_K = 10.0
"""Melting range over which a pure metal turns from solid to melt."""

LEAST_CONDUCTIVITY_S_M = 1.0
"""Keeps the resistivity of an insulator finite; a metal has a million times as much."""


@dataclass(frozen=True)
class ContactState:
    """State of one interface at one instant; arrays have one entry per radial column.

    Attributes
    ----------
    radius_m : float
        Contact radius that the fields were solved with.
    equilibrium_radius_m : float
        Contact radius that the force asks for; equal to `radius_m` once settled.
    load_share : float
        Share of the force carried.
    real_fraction : ndarray
        Real over apparent area (1 for a metallic spot).
    contact_fraction : ndarray
        Share of the column in contact.
    electrical, thermal : ndarray
        Resistance per area inside the contact [ohm m2], [m2 K/W].
    above_K, below_K : ndarray
        Interface temperatures of the two sides inside the contact.
    heat_partition : ndarray
        Share of the interface heat that reaches the upper side.
    peltier_V : ndarray or float
        Heat per charge that passes from above to below [J/C].
    memory : ndarray or None
        State of a contact law that remembers.
    """

    radius_m: float
    equilibrium_radius_m: float
    load_share: float
    real_fraction: FloatArray
    contact_fraction: FloatArray
    electrical: FloatArray
    thermal: FloatArray
    above_K: FloatArray
    below_K: FloatArray
    heat_partition: FloatArray
    peltier_V: FloatArray | float = 0.0
    memory: FloatArray | None = None


@dataclass(frozen=True)
class ContactStart:
    """Where the implicit stage of one contact starts from.

    Attributes
    ----------
    before : ContactState
        State at the start of the step: radius and real fraction never fall below it.
    radius_m, real_fraction, memory : float, ndarray, ndarray or None
        What the stage starts from.
    time_s, tau_s : float
        Time of the stage; implicit coefficient times the step.
    """

    before: ContactState
    radius_m: float
    real_fraction: FloatArray
    memory: FloatArray | None
    time_s: float = 0.0
    tau_s: float = math.inf

    @classmethod
    def of(cls, before: ContactState, time_s: float = 0.0, tau_s: float = math.inf) -> ContactStart:
        """The first stage of a step; with an infinite `tau_s` no time passes.

        It starts from the radius that the force asked for: the one that was tried differs a little, and in
        many short steps such differences would add up to a contact that grows of itself.
        """
        return cls(before, before.equilibrium_radius_m, before.real_fraction, before.memory, time_s, tau_s)

    def onward(self, reached: ContactState, weight: float, time_s: float) -> ContactStart:
        """The next stage: this start plus `weight` times what this stage gained."""
        memory = self.memory
        if memory is not None and reached.memory is not None:
            memory = memory + weight * (reached.memory - memory)
        radius = self.radius_m + weight * (reached.equilibrium_radius_m - self.radius_m)
        fraction = self.real_fraction + weight * (reached.real_fraction - self.real_fraction)
        return ContactStart(self.before, radius, fraction, memory, time_s, self.tau_s)


@dataclass(frozen=True)
class Surroundings:
    """What the cells at the interfaces are like.

    Attributes
    ----------
    temperature_K, k_z : ndarray, shape (nz, nr)
        Temperature and axial conductivity [W/(m K)].
    """

    temperature_K: FloatArray
    k_z: FloatArray


@dataclass(frozen=True)
class Surfaces:
    """Temperatures of both surfaces, resistances of both half cells [m2 K/W], surface properties.

    `both_K` are the temperatures as one array, shape (2, nr).
    """

    above_K: FloatArray
    below_K: FloatArray
    halves: tuple[FloatArray, FloatArray]
    resistivity_sum_ohm_m: FloatArray
    peltier_V: FloatArray | float
    both_K: FloatArray


class SofterSide:
    """Hardness of the softer side in each column [Pa], rate by rate as it is asked for.

    Parameters
    ----------
    strength : Strength
        Of both sides, shape (2, nr).
    molten : ndarray or None, shape (2, nr)
        Share of the melting range that is passed, as `partly_molten` takes it; None where nothing melts.
    gains : ndarray, shape (n_rates,)
        What melt carries at each rate over what its solid carries under slow load.
    counted : ndarray, shape (nr,)
        Factor of each column, 0 where a side is missing.
    """

    def __init__(
        self, strength: Strength, molten: FloatArray | None, gains: FloatArray, counted: FloatArray
    ) -> None:
        self._strength, self._molten, self._gains, self._counted = strength, molten, gains, counted
        self._slow_Pa = None if molten is None else strength.at(0, 1)[0]

    def __getitem__(self, rates: slice) -> FloatArray:
        """Rows of these rates, shape (n_rates, nr)."""
        first, end, _ = rates.indices(RATES)
        strength = self._strength.at(first, end)
        if self._molten is not None:
            strength = partly_molten(strength, self._molten, self._gains[first:end], self._slow_Pa)
        return np.asarray(np.minimum(strength[:, 0], strength[:, 1]) * self._counted)


class ContactModel:
    """Evaluates one interface of the grid.

    Parameters
    ----------
    setup : Description
    grid : Grid
    interface : Interface
        One of `grid`; its `law` says what resists.
    tables : PropertyTables
    radius_law : RadiusLaw, optional
        By default one spot that creeps, or all of the face where the law's contact does not grow.

    Attributes
    ----------
    drifts : bool
        Whether what resists inside the contact changes while its radius stands still; in one metallic
        spot it hardly does.
    """

    def __init__(
        self,
        setup: Description,
        grid: Grid,
        interface: Interface,
        tables: PropertyTables,
        radius_law: RadiusLaw | None = None,
    ) -> None:
        self.interface, self.law = interface, interface.law
        # Asked once: a check against a protocol takes longer than most evaluations of a law.
        self._remembering = interface.law if isinstance(interface.law, RememberingLaw) else None
        self._conducting = interface.law if isinstance(interface.law, ConductingLaw) else None
        self._nothing = np.zeros(grid.shape[1])
        if radius_law is None:
            flat = setup.electrode.worn_flat_m
            radius_law = CreepingSpot(flat) if interface.law.grows else CreepingAsperities()
        self.radius_law = radius_law
        self.drifts = not (isinstance(self.law, MetallicContact) and radius_law == CreepingSpot())
        self.force_N, self.polarity = setup.force_N, setup.polarity
        self.melt_gains = setup.contact.melt_strength_factor * gain(RATES_1_S)
        self.r_faces = grid.r_faces
        self.half_above = 0.5 * grid.dz[interface.above]
        self.half_below = 0.5 * grid.dz[interface.below]
        rows = [interface.above, interface.below]
        self.sides: CellTables = tables.cells(np.maximum(grid.material[rows], 0))
        self._prepare_bearing(grid, tables)
        self.exists = np.arange(grid.shape[1]) < interface.columns
        self._counted: FloatArray = self.exists * np.float64(setup.contact.hardness)
        # The gas beside the contact stays near ambient; its share of the heat is small.
        self.gap_W_m2K = float(setup.contact.gas.conductivity_z(setup.ambient_K)) / setup.contact.stand_off_m

    def _prepare_bearing(self, grid: Grid, tables: PropertyTables) -> None:
        """The layers that carry, and where they melt."""
        i = self.interface
        rows = [bearing_row(grid, i.above, +1), bearing_row(grid, i.below, +1 if i.mirrored else -1)]
        carrying = np.maximum(grid.material[rows], 0)
        self.carrying: CellTables = tables.cells(carrying)
        solidus = np.array([m.solidus_K or math.inf for m in grid.materials])
        liquidus = np.array([m.liquidus_K or math.inf for m in grid.materials])
        self.solidus_K = solidus[carrying]
        with np.errstate(invalid="ignore"):
            self.melting_K = np.fmax(liquidus[carrying] - self.solidus_K, LEAST_MELTING_K)

    def first_touch(self, around: Surroundings) -> ContactState:
        """The contact at rest, before any current."""
        first = self.evaluate(around, self._nothing, None)
        return self.evaluate(around, self._nothing, ContactStart.of(first))

    def evaluate(
        self,
        around: Surroundings,
        heat_W_m2: FloatArray,
        start: ContactStart | None,
        radius_m: float | None = None,
        latest: ContactState | None = None,
    ) -> ContactState:
        """Evaluate the contact for given cell temperatures.

        Parameters
        ----------
        around : Surroundings
        heat_W_m2 : ndarray, shape (nr,)
            Interface heat per contact area.
        start : ContactStart or None
            What the stage starts from; None before the first touch.
        radius_m : float, optional
            Contact radius to use; the one that the radius law asks for by default.
        latest : ContactState, optional
            Latest evaluation within the step, whose thermal resistance gives the side
            temperatures; the start of the step by default. Repeated until neither changes.
        """
        if latest is None and start is not None:
            latest = start.before
        sides = self._sides(around, heat_W_m2, latest)
        bearing = self._bearing(sides, start, latest, radius_m)
        radius = bearing.radius_m if radius_m is None else radius_m
        conditions = self._conditions(sides, bearing, radius, start)
        memory = None
        if self._remembering is not None:
            timeless = math.isinf(conditions.tau_s)
            memory = conditions.memory if timeless else self._remembering.remember(conditions)
            conditions = replace(conditions, memory=memory)
        electrical = self.law.resistance(conditions)
        if self._conducting is not None:
            conductance = self._conducting.heat_conductance(conditions)
        else:
            conductance = spot.by_electrons(electrical, conditions.mean_K)
        thermal = 1.0 / (conductance + self.gap_W_m2K)
        return ContactState(
            radius_m=radius,
            equilibrium_radius_m=bearing.radius_m,
            load_share=bearing.load_share,
            real_fraction=bearing.real_fraction,
            contact_fraction=self._contact_fraction(radius, latest),
            electrical=electrical,
            thermal=thermal,
            above_K=sides.above_K,
            below_K=sides.below_K,
            heat_partition=spot.heat_partition(sides.halves, thermal),
            peltier_V=sides.peltier_V,
            memory=memory,
        )

    def cooled(self, temperature_K: FloatArray, contact: ContactState) -> ContactState:
        """The contact after the current has stopped: its sides as warm as the cells (nz, nr) make them."""
        i = self.interface
        T = np.array((temperature_K[i.above], temperature_K[i.below]))
        k_z = self.sides.conductivity_z(T)
        halves = self.half_above / k_z[0], self.half_below / k_z[1]
        above_K, below_K = spot.side_temperatures((T[0], T[1]), halves, contact.thermal, self._nothing)
        return replace(contact, above_K=above_K, below_K=below_K)

    def at_radius(self, contact: ContactState, radius_m: float) -> ContactState:
        """The same contact at another radius; whatever else depends on it follows at the next evaluation."""
        if radius_m == contact.radius_m:
            return contact
        # As `dataclasses.replace`, in a fifth of its time.
        moved = object.__new__(ContactState)
        changed = {"radius_m": radius_m, "contact_fraction": self._contact_fraction(radius_m)}
        moved.__dict__.update(contact.__dict__ | changed)
        return moved

    def electrical_contact(self, contact: ContactState) -> ElectricalContact:
        """What the electric field sees of a contact."""
        return ElectricalContact(contact.contact_fraction, contact.electrical)

    def thermal_contact(self, contact: ContactState, tip_closed: bool) -> ThermalContact:
        """What the heat equation sees of a contact; a lifted tip conducts nothing."""
        if self.interface.lifts and not tip_closed:
            return ThermalContact(self._nothing, contact.thermal, 0.0)
        return ThermalContact(contact.contact_fraction, contact.thermal, self.gap_W_m2K)

    def _sides(self, around: Surroundings, heat_W_m2: FloatArray, latest: ContactState | None) -> Surfaces:
        """How warm the two surfaces are, and what they are like then.

        Outside the contact these are the temperatures that touching would bring: what counts for
        the force balance is how hard the surfaces are where they meet, and it keeps the balance
        continuous when the strip beside the contact is hotter than under it.
        """
        i = self.interface
        T = around.temperature_K[i.above], around.temperature_K[i.below]
        halves = self.half_above / around.k_z[i.above], self.half_below / around.k_z[i.below]
        thermal = latest.thermal if latest is not None else np.zeros_like(T[0])
        above_K, below_K = spot.side_temperatures(T, halves, thermal, heat_W_m2)
        both_K = np.array((above_K, below_K))
        sigma, seebeck = self.sides.electrical(both_K)
        rho = 1.0 / np.maximum(sigma, LEAST_CONDUCTIVITY_S_M)
        peltier = self.peltier_V(above_K, below_K, seebeck)
        return Surfaces(above_K, below_K, halves, rho[0] + rho[1], peltier, both_K)

    def hardness(self, surfaces_K: FloatArray) -> HardnessRows:
        """Hardness of the softer side in each column at each rate.

        Melt that solid encloses carries some of what the solid does (`nugget.contact.enclosed_melt`).

        Parameters
        ----------
        surfaces_K : ndarray, shape (2, nr)
            Temperatures above and below.
        """
        melt = (surfaces_K - self.solidus_K) / self.melting_K
        molten = melt if float(melt.max()) > 0.0 else None
        return SofterSide(self.carrying.strength(surfaces_K), molten, self.melt_gains, self._counted)

    def peltier_V(self, above_K: FloatArray, below_K: FloatArray, seebeck: FloatArray) -> FloatArray | float:
        """Heat per charge [J/C] that is set free where current passes from above to below.

        ``(S_above - S_below) T``, the Peltier heat of the junction (Kelvin's relation), by the way
        that the current takes; 0 for the mean of the two spots of a pair, which differ in sign. The
        Thomson heat inside each metal is left out.
        """
        if self.polarity == 0 or self.interface.mirrored:
            return 0.0
        return np.asarray((0.5 * self.polarity) * (seebeck[0] - seebeck[1]) * (above_K + below_K))

    def _bearing(
        self, sides: Surfaces, start: ContactStart | None, latest: ContactState | None, tried_m: float | None
    ) -> Bearing:
        """How large the contact is that carries the force; it never shrinks while it is loaded."""
        i = self.interface
        least = 0.0 if start is None else start.before.equilibrium_radius_m
        load = ContactLoad(
            force_N=self.force_N,
            hardness=self.hardness(sides.both_K),
            rates_1_s=RATES_1_S,
            r_faces_m=self.r_faces,
            cap_m=i.cap_m,
            start_radius_m=i.first_m if start is None else start.radius_m,
            start_fraction=self._nothing if start is None else start.real_fraction,
            tau_s=math.inf if start is None else start.tau_s,
            least_radius_m=least,
            least_fraction=self._nothing if start is None else start.before.real_fraction,
            likely_radius_m=0.0 if tried_m is None else tried_m,
        )
        answer = self.radius_law.bearing(load)
        fraction = answer.real_fraction
        if latest is not None:
            # Halfway to the last one: more contact, less heat, harder metal, less contact. Without
            # this it swings, and as it never decreases an overshoot would stay for good.
            fraction = np.sqrt(fraction * latest.real_fraction)
        radius = answer.radius_m if i.moves else i.cap_m
        return Bearing(max(radius, least), answer.load_share, fraction)

    def _conditions(
        self, sides: Surfaces, bearing: Bearing, radius_m: float, start: ContactStart | None
    ) -> ContactConditions:
        """What the contact law is told."""
        rate, time, tau, memory = 0.0, 0.0, math.inf, None
        if start is not None:
            time, tau, memory = start.time_s, start.tau_s, start.memory
            rate = (radius_m - start.radius_m) / (tau * radius_m)
        elif self._remembering is not None:
            memory = self._remembering.first_memory(len(self.exists))
        return ContactConditions(
            above_K=sides.above_K,
            below_K=sides.below_K,
            real_fraction=bearing.real_fraction,
            resistivity_sum_ohm_m=sides.resistivity_sum_ohm_m,
            pressure_Pa=nominal_pressure(self.force_N, radius_m),
            radius_m=radius_m,
            rate_1_s=rate,
            time_s=time,
            tau_s=tau,
            memory=memory,
        )

    def _contact_fraction(self, radius_m: float, latest: ContactState | None = None) -> FloatArray:
        """Share of each column in contact, widened by what the grid misses at the edge."""
        if latest is not None and latest.radius_m == radius_m:
            return latest.contact_fraction
        reach = resolved_radius(radius_m, self.r_faces, self.half_above + self.half_below)
        return spot.coverage(reach, self.r_faces) * self.exists


def kind_of_contact_model() -> type[ContactModel]:
    """With kernels where they serve, otherwise with numpy."""
    if serve():
        from nugget.weld.compiled_contacts import CompiledContactModel

        return CompiledContactModel
    return ContactModel
