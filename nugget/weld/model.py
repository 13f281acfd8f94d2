"""Everything that one implicit stage needs, assembled once per weld."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.compiled.seam import serve
from nugget.field.electric import ElectricField, ElectricSolution
from nugget.field.fastest import fastest_solver, kinds_of_field
from nugget.field.heat import HeatField, ThermalContact
from nugget.field.linear import SolverKind
from nugget.grid.stack import Grid, build_grid
from nugget.materials.property_tables import PropertyTables, enthalpy_J_m3
from nugget.setup.description import Description
from nugget.setup.layer_kinds import is_interior, kind_of
from nugget.weld.interface_model import ContactState, Surroundings, kind_of_contact_model

WARM, FEWEST = 0.02, 0.1
"""Errors are averaged over the cells that have warmed by this share of the largest rise, and over no
fewer than that share of the cells near the tip. Over all of them an early error, which sits in the few
cells of a small spot, counted for nothing, and bonds after 0.15 ms came 3 % too early or too late."""
RELATIVE_PER_K = 0.001
"""Error allowed per step as a share of the local temperature rise, per kelvin of `tolerance_K`."""
NEAR_CAPS, NEAR_ROLL_M = 1.5, 1e-3
"""Errors count within so many contact caps of the axis and down to so far into the roll: no figure of
merit is read farther out, and the roll varies over tenths of a millimetre."""
COOLING_METAL, COOLING_INSIDE = 0.5, 16.0
"""What errors count once no current flows, in the metal and inside the cell. The joint and the melt freeze
as they are then, while all that reaches the winding is still to come: over thirteen welds its peak is 0.5 %
of its rise off against a quarter of the tolerance, with one weight for all it was 0.7 (up to 1.5)."""


class WeldModel:
    """Grid, tables, operators and contacts of one setup.

    Parameters
    ----------
    setup : Description
    grid : Grid, optional
        Laid from the setup by default.
    solver : callable
        Makes the linear solver of both fields.

    Attributes
    ----------
    stage_count : int
        Stage iterations so far, for reports on cost.
    """

    def __init__(
        self, setup: Description, grid: Grid | None = None, solver: SolverKind = fastest_solver
    ) -> None:
        self.setup = setup
        self.grid: Grid = build_grid(setup) if grid is None else grid
        self.tables = PropertyTables.build(self.grid.materials, setup.stirring)
        self.index = np.maximum(self.grid.material, 0)
        self.cells = self.tables.cells(self.index)
        electric_field, heat_field = kinds_of_field()
        self.electric: ElectricField = electric_field(self.grid, solver)
        self.heat: HeatField = heat_field(
            self.grid,
            setup.ambient_K,
            setup.electrode.holder_temperature_K,
            setup.heat_transfer_W_m2K,
            solver,
        )
        contact_model = kind_of_contact_model()
        self.contact_models = [contact_model(setup, self.grid, i, self.tables) for i in self.grid.interfaces]
        self.mirrored = self.grid.bottom == "mirror"
        near = self._near_cells()
        rows, columns = (np.flatnonzero(near.any(axis=axis)) for axis in (1, 0))
        self._block = slice(int(rows[0]), int(rows[-1]) + 1), slice(0, int(columns[-1]) + 1)
        self._near = near[self._block]
        self._fewest = float(FEWEST * np.count_nonzero(near))
        # Errors sit at fronts, which are lines: their share of the cells falls with refinement.
        fronts = np.sqrt(setup.numerics.refinement)
        self._sensible = self.tables.sensible_J_m3K[self.index][self._block]
        self._scale = np.where(self._near, fronts / self._sensible, 0.0)
        inside = [is_interior(b.role) for b in self.grid.layer_rows for _ in range(b.start, b.end)]
        weights = np.where(inside, COOLING_INSIDE, COOLING_METAL)[:, None]
        self._cooling = weights[self._block[0]] * self._sensible
        self._compiled_norm: Callable[..., float] | None = None
        if serve():
            from nugget.compiled.heating import norm

            self._compiled_norm = norm
        self.stage_count = 0

    def _near_cells(self) -> npt.NDArray[np.bool_]:
        """Cells whose error counts: below and around the tip, down to a millimetre into the winding."""
        cap = max(i.cap_m for i in self.grid.interfaces)
        winding = [b for b in self.grid.layer_rows if is_interior(b.role) and kind_of(b.role).winding]
        tops = [float(self.grid.z_faces[b.end]) for b in winding]
        floor = max(tops) - NEAR_ROLL_M if tops else -np.inf
        inside = (self.grid.r < NEAR_CAPS * cap)[None, :] & (self.grid.z > floor)[:, None]
        return inside & self.grid.active

    def initial(self) -> FloatArray:
        """Enthalpy [J/m3] of everything at ambient, the electrodes included."""
        ambient = [float(enthalpy_J_m3(m, self.setup.ambient_K)) for m in self.tables.materials]
        return np.asarray(np.array(ambient)[self.index], dtype=np.float64)

    def load_ohm(self, model_ohm: float) -> float:
        """Load that the source sees for a modelled resistance.

        Two tips in series load it twice, and so do the two halves of a mirrored stack; an indirect
        weld adds its return tip.
        """
        arrangement = self.setup.arrangement
        if arrangement == "indirect":
            return model_ohm + self.setup.return_ohm
        return 2.0 * model_ohm if self.mirrored or arrangement != "opposed" else model_ohm

    def error_norm(self, change_J_m3: FloatArray, temperature: FloatArray) -> float:
        """Root mean square of an enthalpy difference over the warm cells: 1 is the error allowed per step."""
        return self._norm(change_J_m3[self._block], temperature)

    def _norm(self, change_J_m3: FloatArray, temperature: FloatArray) -> float:
        """`error_norm` of a difference that is cut to the cells that count; NaN if anything is not finite."""
        ambient_K, tolerance_K = self.setup.ambient_K, self.setup.numerics.tolerance_K
        if self._compiled_norm is not None:
            counted = temperature, self._block[0].start, self._near, self._scale
            given = ambient_K, tolerance_K, RELATIVE_PER_K, WARM, self._fewest
            return self._compiled_norm(change_J_m3, *counted, *given)
        largest = max(float(temperature.max()) - ambient_K, ambient_K - float(temperature.min()))
        if not math.isfinite(largest):
            return math.nan
        rise = np.abs(temperature[self._block] - ambient_K)
        allowed = tolerance_K * (1.0 + RELATIVE_PER_K * rise)
        scaled = change_J_m3 * self._scale / allowed
        warm = np.count_nonzero(self._near & (rise > WARM * largest))
        return float(np.sqrt(np.vdot(scaled, scaled) / max(float(warm), self._fewest)))

    def cooling_norm(self, change_J_m3: FloatArray, temperature: FloatArray, capacity: FloatArray) -> float:
        """The same once no current flows: of temperatures, where they are still read.

        While a cell freezes, its temperature stands still whatever its enthalpy is off by; `capacity` is
        dh/dT [J/(m3 K)], latent heat included.
        """
        sensible = np.maximum(capacity[self._block], self._sensible)
        return self._norm(change_J_m3[self._block] * (self._cooling / sensible), temperature)

    def stored(self, enthalpy: FloatArray) -> float:
        """Enthalpy of the whole model [J]."""
        return float(np.vdot(self.heat.volume, enthalpy))

    def interface_heat(
        self, electric: ElectricSolution | None, current_A: float, contacts: Sequence[ContactState]
    ) -> list[FloatArray]:
        """Heat of each interface per contact area [W/m2]: of its resistance, and what the current carries."""
        if electric is None:
            return [np.zeros(self.grid.shape[1]) for _ in self.contact_models]
        square, carried = current_A**2, self._carried_heat(electric, current_A, contacts)
        return [square * q + p for q, p in zip(electric.interface_heat, carried, strict=True)]

    def thermoelectric_W(
        self, electric: ElectricSolution, current_A: float, contacts: Sequence[ContactState]
    ) -> float:
        """Heat that the current carries to all modelled interfaces [W]."""
        carried = self._carried_heat(electric, current_A, contacts)
        area = self.grid.area_z
        return sum(
            float((q * area * c.contact_fraction).sum()) for q, c in zip(carried, contacts, strict=True)
        )

    @staticmethod
    def _carried_heat(
        electric: ElectricSolution, current_A: float, contacts: Sequence[ContactState]
    ) -> list[FloatArray]:
        """Peltier heat of each interface per contact area [W/m2]; its sign is that of the current."""
        density = (np.sqrt(q / c.electrical) for q, c in zip(electric.interface_heat, contacts, strict=True))
        return [current_A * j * c.peltier_V for j, c in zip(density, contacts, strict=True)]

    def first_touch(self, temperature: FloatArray) -> tuple[ContactState, ...]:
        """All contacts at rest."""
        around = self._surroundings(temperature)
        return tuple(model.first_touch(around) for model in self.contact_models)

    def cooled_contacts(
        self, temperature: FloatArray, contacts: tuple[ContactState, ...]
    ) -> tuple[ContactState, ...]:
        """The same contacts without current, as warm as they are now; nothing else about them changes."""
        pairs = zip(self.contact_models, contacts, strict=True)
        return tuple(model.cooled(temperature, contact) for model, contact in pairs)

    def _surroundings(self, temperature: FloatArray) -> Surroundings:
        _, k_z, _ = self.cells.conductivities(temperature)
        return Surroundings(temperature, k_z)

    def thermal_contacts(self, contacts: Sequence[ContactState], tip_closed: bool) -> list[ThermalContact]:
        """Thermal state of the interfaces; a lifted tip conducts nothing."""
        pairs = zip(self.contact_models, contacts, strict=True)
        return [model.thermal_contact(contact, tip_closed) for model, contact in pairs]

    def solve_electric(self, conductivity: FloatArray, contacts: Sequence[ContactState]) -> ElectricSolution:
        """Field of one ampere."""
        pairs = zip(self.contact_models, contacts, strict=True)
        return self.electric.solve(conductivity, [m.electrical_contact(c) for m, c in pairs])

    def heat_W(
        self, solution: ElectricSolution, current_A: float, contacts: Sequence[ContactState]
    ) -> FloatArray:
        """Heat put into each cell [W], interface heat included."""
        heat = current_A**2 * solution.heat
        area = self.grid.area_z
        per_areas = self.interface_heat(solution, current_A, contacts)
        for interface, contact, per_area in zip(self.grid.interfaces, contacts, per_areas, strict=True):
            power = per_area * area * contact.contact_fraction
            if interface.mirrored:
                heat[interface.above] += 0.5 * power
            else:
                heat[interface.above] += power * contact.heat_partition
                heat[interface.below] += power * (1.0 - contact.heat_partition)
        return heat
