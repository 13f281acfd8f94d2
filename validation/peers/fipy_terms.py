"""The package's assembly from FiPy's terms, with contacts of the peers' own.

Geometry (grid, interfaces, grounds) is the model's; how far a contact reaches on the grid, its mechanics
and its resistances are the peers'. Losses to air are left out.
"""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.crosscheck.fipy_fields import Contact, FipyFields
from nugget.crosscheck.properties import CellProperties
from nugget.grid.stack import build_grid
from nugget.setup import Setup
from validation.peers.contact import Spot
from validation.peers.contact_edge import reach
from validation.peers.tube import covered


class SpotFields(FipyFields):
    """Both equations of one setup, and the spots that couple them at one instant."""

    def __init__(self, setup: Setup, solver: str = "LinearLUSolver") -> None:
        grid = build_grid(setup)
        properties = CellProperties(grid.materials, np.maximum(grid.material, 0), setup.stirring)
        gap = float(setup.contact.gas.conductivity_z(setup.ambient_K)) / setup.contact.stand_off_m
        super().__init__(grid, properties, setup.electrode.holder_temperature_K, gap, solver)
        self.setup = setup
        self.spots = [
            Spot(setup, i, grid.r[: i.columns], grid.area_z[: i.columns], gap) for i in grid.interfaces
        ]

    def contacts(self) -> list[Contact]:
        """The spots as the fields take them."""
        found = []
        for spot in self.spots:
            i, grid = spot.interface, self.grid
            height = 0.5 * (grid.dz[i.above] + grid.dz[i.below])
            share = covered(reach(spot.radius_m, grid.r_faces, height), grid.r_faces)
            share = share * (np.arange(grid.shape[1]) < i.columns)
            found.append(Contact(share, self._widen(spot.electrical), self._widen(spot.thermal)))
        return found

    def _widen(self, values: FloatArray) -> FloatArray:
        full = np.ones(self.grid.shape[1])
        full[: len(values)] = values
        return full

    def update_spots(self, T: FloatArray, heats: list[FloatArray]) -> None:
        """Bring the spots up to date with cell temperatures [K] and interface heats [W/m2]."""
        grid, k = self.grid, self.properties.k_z(T)
        for spot, heat in zip(self.spots, heats, strict=True):
            i = spot.interface
            n = slice(0, i.columns)
            pair = T[i.above, n], T[i.below, n]
            halves = 0.5 * grid.dz[i.above] / k[i.above, n], 0.5 * grid.dz[i.below] / k[i.below, n]
            sides = spot.sides(pair, halves, heat[n])
            rho = np.zeros(i.columns)
            for row, side in zip((i.above, i.below), sides, strict=True):
                whole = T.copy()
                whole[row, n] = side
                rho = rho + self.properties.rho(whole)[row, n]
            spot.update(sides, rho)
