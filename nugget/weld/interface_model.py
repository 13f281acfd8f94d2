"""One interface during the march: from cell temperatures to contact radius and resistances."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact import spot
from nugget.contact.edge import resolved_radius
from nugget.grid.stack import Grid, Interface
from nugget.materials.tables import CellTables, PropertyTables
from nugget.setup.description import Setup

LEAST_HARDNESS_PA = 5e5
"""What liquid is given instead of zero [Pa], a two-thousandth of cold metal: a ring of melt then
carries hundredths of a newton, and the force balance has no jump."""


@dataclass(frozen=True)
class ContactState:
    """State of one interface at one instant; arrays have one entry per radial column.

    Attributes
    ----------
    radius_m : float
        Contact radius that the fields were solved with.
    equilibrium_radius_m : float
        Contact radius that the force balance asks for; equal to `radius_m` once settled.
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


class ContactModel:
    """Evaluates one interface of the grid."""

    def __init__(self, setup: Setup, grid: Grid, interface: Interface, tables: PropertyTables) -> None:
        self.interface, self.law = interface, interface.law
        self.force_N = setup.force_N
        self.radius_factor = setup.contact.radius_factor
        self.hardness_factor = setup.contact.hardness_factor
        self.r_faces = grid.r_faces
        self.half_above = 0.5 * grid.dz[interface.above]
        self.half_below = 0.5 * grid.dz[interface.below]
        rows = [interface.above, interface.below]
        self.sides: CellTables = tables.cells(np.maximum(grid.material[rows], 0))
        self.exists = np.arange(grid.shape[1]) < interface.columns
        self.gap_m = setup.contact.gap_m
        self.gas = setup.contact.gas

    def gap_conductance(self, temperature_K: float) -> float:
        """Gas conductance across the stand-off [W/(m2 K)] at a mean temperature."""
        return float(self.gas.conductivity_z(temperature_K)) / self.gap_m

    def evaluate(
        self,
        temperature_K: FloatArray,
        k_z: FloatArray,
        heat_W_m2: FloatArray,
        before: ContactState | None,
        gap_W_m2K: float,
        radius_m: float | None = None,
        latest: ContactState | None = None,
    ) -> ContactState:
        """Evaluate the contact for given cell temperatures.

        Parameters
        ----------
        temperature_K, k_z : ndarray, shape (nz, nr)
        heat_W_m2 : ndarray, shape (nr,)
            Interface heat per contact area.
        before : ContactState or None
            State at the start of the step: radius and fraction never fall below it.
        radius_m : float, optional
            Contact radius to use; the wanted one by default.
        latest : ContactState, optional
            Latest evaluation within the step, whose thermal resistance gives the side
            temperatures; `before` by default. Repeated until neither changes.
        """
        i = self.interface
        T = temperature_K[i.above], temperature_K[i.below]
        halves = self.half_above / k_z[i.above], self.half_below / k_z[i.below]
        latest = before if latest is None else latest
        thermal = latest.thermal if latest is not None else np.zeros_like(T[0])
        # Outside the contact these are the temperatures that touching would bring: what counts
        # for the force balance is how hard the surfaces are where they meet, and it keeps the
        # balance continuous when the strip beside the contact is hotter than under it.
        above_K, below_K = spot.side_temperatures(T, halves, thermal, heat_W_m2)
        sigma, hard = self.sides.surfaces(np.array((above_K, below_K)))
        softer = np.maximum(hard.min(axis=0), LEAST_HARDNESS_PA)
        hardness = np.where(self.exists, softer, 0.0) * self.hardness_factor
        wanted, load_share, fraction = self._size(hardness, before)
        if latest is not None and not self.law.grows:
            # Halfway to the last one: more contact, less heat, harder metal, less contact. Without
            # this it swings, and as it never decreases an overshoot would stay for good.
            fraction = np.sqrt(fraction * latest.real_fraction)
        radius = wanted if radius_m is None else radius_m
        covered = (
            latest.contact_fraction
            if latest is not None and latest.radius_m == radius
            else self._covered(radius)
        )
        rho = (1.0 / np.maximum(sigma, 1.0)).sum(axis=0)
        mean_K = 0.5 * (above_K + below_K)
        electrical = self.law.resistance(mean_K, fraction, rho)
        thermal = spot.thermal_resistance(electrical, mean_K, gap_W_m2K)
        return ContactState(
            radius_m=radius,
            equilibrium_radius_m=wanted,
            load_share=load_share,
            real_fraction=fraction,
            contact_fraction=covered,
            electrical=electrical,
            thermal=thermal,
            above_K=above_K,
            below_K=below_K,
            heat_partition=spot.heat_partition(halves, thermal),
        )

    def at_radius(self, contact: ContactState, radius_m: float) -> ContactState:
        """The same contact at another radius; nothing else in it depends on the radius."""
        if radius_m == contact.radius_m:
            return contact
        return replace(contact, radius_m=radius_m, contact_fraction=self._covered(radius_m))

    def _covered(self, radius_m: float) -> FloatArray:
        reach = resolved_radius(radius_m, self.r_faces, self.half_above + self.half_below)
        return spot.coverage(reach, self.r_faces) * self.exists

    def _size(self, hardness: FloatArray, before: ContactState | None) -> tuple[float, float, FloatArray]:
        i = self.interface
        if self.law.grows:
            fraction = np.ones_like(hardness)
            cap = i.cap_m / self.radius_factor
            radius, load_share = spot.supporting_radius(self.force_N, hardness, self.r_faces, cap)
            radius *= self.radius_factor
        else:
            radius, load_share = i.cap_m, 1.0
            old = before.real_fraction if before is not None else np.zeros_like(hardness)
            fraction = spot.real_fraction(self.force_N, radius, hardness, old)
        if not i.moves:
            radius = i.cap_m
        if before is not None:
            radius = max(radius, before.equilibrium_radius_m)
        return radius, load_share, fraction
