"""Dense property tables of several materials, looked up for all cells at once.

Enthalpy per volume ``h`` is the conserved variable, so temperature is tabulated against it on
a uniform grid for each material (about half a kelvin apart), and the other properties against
temperature on one uniform grid for all. A look-up is one multiplication and one gather per
cell, whatever its material.
"""

from __future__ import annotations

import pickle
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.compiled.seam import serve
from nugget.constants import REFERENCE_K
from nugget.materials.byvalue import pickled
from nugget.materials.material import Curve, Material

IntArray = npt.NDArray[np.intp]

COLDEST_K = 201.15
"""Tables that start at 20 degrees Celsius have a node of the grid right there."""
HOTTEST_K = 6601.15
SPACING_K = 2.0
ENTHALPY_NODES = 8192
RATES_1_S = np.logspace(-3.0, 5.0, 33)
"""Rates of strain [1/s] at which hardness is tabulated. Between them its logarithm is linear in that of
the rate; a quarter of a decade apart this errs by less than 2.5 % from 1 1/s up."""
RATES = len(RATES_1_S)
BOILING_J_M3_K = 5e10
"""Heat [J/(m3 K)] that a boiling cell takes up per kelvin: large enough for its temperature to
stand still (a thousandth of the ordinary rise), finite so that the heat equation keeps its
form. The heat of evaporation of nickel is 5.7e10 J/m3 (6.42 MJ/kg at 8900 kg/m3)."""


def _sample(curve: Curve | None, grid: FloatArray) -> FloatArray:
    return np.zeros_like(grid) if curve is None else curve(grid)


def _liquid_fraction(material: Material, temperature_K: FloatArray) -> FloatArray:
    if material.solidus_K is None or material.liquidus_K is None:
        return np.zeros_like(temperature_K)
    span = material.liquidus_K - material.solidus_K
    return np.clip((temperature_K - material.solidus_K) / span, 0.0, 1.0)


def enthalpy_J_m3(material: Material, temperature_K: npt.ArrayLike) -> FloatArray:
    """Return enthalpy per volume [J/m3] at `temperature_K` [K] up to the boiling point.

    Zero at 298.15 K; the latent heat enters evenly from solidus to liquidus. The heat
    capacity is linear between its rows, so the integral is exact.
    """
    wanted = np.asarray(temperature_K, dtype=np.float64)
    capacity = material.heat_capacity
    edges = np.array([COLDEST_K, REFERENCE_K, HOTTEST_K])
    nodes = np.unique(np.concatenate([edges, capacity.temperature_K, wanted.ravel()]))
    c = capacity(nodes)
    rise = np.concatenate([[0.0], np.cumsum(0.5 * (c[1:] + c[:-1]) * np.diff(nodes))])
    sensible = np.interp(wanted, nodes, rise) - np.interp(REFERENCE_K, nodes, rise)
    latent = material.heat_of_fusion_J_kg * _liquid_fraction(material, wanted)
    return np.asarray(material.density_kg_m3 * (sensible + latent), dtype=np.float64)


@dataclass(frozen=True)
class PropertyTables:
    """Tables of `n` materials, addressed by a material index per cell.

    Attributes
    ----------
    materials : tuple of Material
    by_enthalpy : ndarray, shape (n * nodes, 2)
        Temperature [K] and its slope per node, against enthalpy.
    enthalpy_start, enthalpy_step : ndarray, shape (n,)
        First node and spacing of the enthalpy grid [J/m3].
    by_temperature : ndarray, shape (n * rows, 8)
        Value and increment to the next row of k_r, k_z [W/(m K)], electrical conductivity
        [S/m] and Seebeck coefficient [V/K], zero where it is unknown.
    strength : ndarray, shape (rows of all, 2 * rates)
        Hardness [Pa] at each of `RATES_1_S`, and the increments to the next row, up to the solidus
        of each material. At least 1 Pa, so that a material without hardness has a logarithm too.
    strength_start, strength_last : ndarray, shape (n,)
        First row of each material, and how many rows on its last one is.
    solidus_J_m3, liquidus_J_m3, boiling_J_m3 : ndarray, shape (n,)
        Enthalpies at which melting starts and ends and boiling starts (infinite: never).
    melting_K : ndarray, shape (n,)
        Temperature at liquid fraction one half; infinite when never.
    sensible_J_m3K : ndarray, shape (n,)
        Heat capacity of the solid at the solidus [J/(m3 K)] (at 298 K when it never melts).
    table_end_K : ndarray, shape (n,)
        Temperature past which some table is held.
    """

    materials: tuple[Material, ...]
    by_enthalpy: FloatArray
    enthalpy_start: FloatArray
    enthalpy_step: FloatArray
    by_temperature: FloatArray
    strength: FloatArray
    strength_start: IntArray
    strength_last: IntArray
    solidus_J_m3: FloatArray
    liquidus_J_m3: FloatArray
    boiling_J_m3: FloatArray
    melting_K: FloatArray
    sensible_J_m3K: FloatArray
    table_end_K: FloatArray

    @classmethod
    def build(cls, materials: Sequence[Material], stirring: float = 1.0) -> PropertyTables:
        """Tabulate `materials`; `stirring` multiplies the conductivity of molten metal."""
        try:
            still = _kept(tuple(pickled(one) for one in materials))
        except TypeError:  # what somebody made of parts of their own
            still = _joined(materials, [_made(one) for one in materials])
        return replace(still, materials=tuple(materials), by_temperature=_stirred(still, stirring))

    def cells(self, index: IntArray) -> CellTables:
        """Bind the tables to cells: `index` is the material of each cell, any shape."""
        step = self.enthalpy_step[index]
        return _kind_of_cells()(
            tables=self,
            enthalpy_base=(index * ENTHALPY_NODES).astype(np.intp),
            enthalpy_start=self.enthalpy_start[index],
            enthalpy_scale=1.0 / step,
            property_base=(index * ROWS).astype(np.intp),
            strength_base=self.strength_start[index],
            strength_last=self.strength_last[index],
        )


@dataclass(frozen=True)
class CellTables:
    """The tables bound to an array of cells."""

    tables: PropertyTables
    enthalpy_base: IntArray
    enthalpy_start: FloatArray
    enthalpy_scale: FloatArray
    property_base: IntArray
    strength_base: IntArray
    strength_last: IntArray

    def some(self, where: npt.NDArray[np.bool_]) -> CellTables:
        """The tables bound to the cells marked in `where` only."""
        return type(self)(
            self.tables,
            self.enthalpy_base[where],
            self.enthalpy_start[where],
            self.enthalpy_scale[where],
            self.property_base[where],
            self.strength_base[where],
            self.strength_last[where],
        )

    def temperature(self, enthalpy_J_m3: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return temperature [K] and heat capacity dh/dT [J/(m3 K)], latent heat included."""
        x = (enthalpy_J_m3 - self.enthalpy_start) * self.enthalpy_scale
        found, share = _look_up(self.tables.by_enthalpy, self.enthalpy_base, x, ENTHALPY_NODES)
        slope = found[..., 1]
        return found[..., 0] + share * slope, 1.0 / (slope * self.enthalpy_scale)

    def properties(self, temperature_K: FloatArray) -> tuple[FloatArray, ...]:
        """Return k_r, k_z [W/(m K)], electrical conductivity [S/m] and Seebeck coefficient [V/K]."""
        return self._columns(temperature_K, 0, 4)

    def conductivities(self, temperature_K: FloatArray) -> tuple[FloatArray, ...]:
        """Return k_r, k_z [W/(m K)] and electrical conductivity [S/m]."""
        return self._columns(temperature_K, 0, 3)

    def state(self, enthalpy_J_m3: FloatArray) -> tuple[FloatArray, ...]:
        """Return temperature [K] and heat capacity [J/(m3 K)] with the `conductivities` there."""
        temperature, capacity = self.temperature(enthalpy_J_m3)
        return temperature, capacity, *self.conductivities(temperature)

    def electrical(self, temperature_K: FloatArray) -> tuple[FloatArray, ...]:
        """Return electrical conductivity [S/m] and Seebeck coefficient [V/K]."""
        return self._columns(temperature_K, 2, 4)

    def conductivity_z(self, temperature_K: FloatArray) -> FloatArray:
        """Return k_z [W/(m K)]."""
        return self._columns(temperature_K, 1, 2)[0]

    def strength(self, temperature_K: FloatArray) -> Strength:
        """Return hardness [Pa] at each of `RATES_1_S`, worked out rate by rate.

        Above the solidus it stays at its value there. Its logarithm is linear in that of the rate.
        """
        x, _ = _place(temperature_K)
        node = np.minimum(np.maximum(x.astype(np.intp), 0), self.strength_last)
        return Strength(self.tables.strength, (self.strength_base + node) * (2 * RATES), x - node)

    def _columns(self, temperature_K: FloatArray, first: int, end: int) -> tuple[FloatArray, ...]:
        found, share = _look_up(self.tables.by_temperature, self.property_base, *_place(temperature_K))
        return tuple(found[..., n] + share * found[..., n + 4] for n in range(first, end))


@dataclass(frozen=True)
class Strength:
    """Hardness of cells at the rates that are asked for.

    Attributes
    ----------
    table : ndarray, shape (rows of all, 2 * rates)
        See `PropertyTables.strength`.
    base : ndarray, shape (\\*cells,)
        Where in it the row below each cell's temperature begins.
    share : ndarray, shape (\\*cells,)
        Share of the increments.
    """

    table: FloatArray
    base: IntArray
    share: FloatArray

    def at(self, first: int, end: int) -> FloatArray:
        """Hardness [Pa] at the rates from `first` to before `end`, shape (end - first, \\*cells)."""
        at = self.base + np.arange(first, end).reshape(-1, *(1,) * self.base.ndim)
        return self.table.take(at) + self.share * self.table.take(at + RATES)


def _kind_of_cells() -> type[CellTables]:
    if serve():
        from nugget.materials.compiled_cells import CompiledCells

        return CompiledCells
    return CellTables


ROWS = round((HOTTEST_K - COLDEST_K) / SPACING_K) + 1
_GRID = np.linspace(COLDEST_K, HOTTEST_K, ROWS)


def _place(temperature_K: FloatArray) -> tuple[FloatArray, int]:
    """Where on the grid of temperatures, in nodes, and how many there are."""
    return (temperature_K - COLDEST_K) * (1.0 / SPACING_K), ROWS


def _look_up(table: FloatArray, base: IntArray, x: FloatArray, nodes: int) -> tuple[FloatArray, FloatArray]:
    """Rows of `table` at or below `x` nodes past `base`, and the share of the way to the next row.

    `take` gathers three times faster than an index in brackets, and `clip` takes longer than its
    two halves; this runs for every cell in every iteration.
    """
    node = np.minimum(np.maximum(x.astype(np.intp), 0), nodes - 2)
    return table.take(base + node, axis=0), x - node


@dataclass(frozen=True)
class _MaterialTables:
    """What `PropertyTables` holds of one material; `marks_J_m3` are solidus, liquidus and boiling."""

    by_enthalpy: FloatArray
    enthalpy_start: float
    enthalpy_step: float
    by_temperature: FloatArray
    strength: FloatArray
    marks_J_m3: tuple[float, ...]
    sensible_J_m3K: float


MOST_KEPT, MOST_STACKS = 12, 4
"""Materials, and stacks of them, whose tables are kept, a megabyte for each material: welds whose inputs vary
share most of theirs."""


@lru_cache(MOST_STACKS)
def _kept(packed: tuple[bytes, ...]) -> PropertyTables:
    return _joined([pickle.loads(one) for one in packed], [_of_material(one) for one in packed])


@lru_cache(MOST_KEPT)
def _of_material(packed: bytes) -> _MaterialTables:
    return _made(pickle.loads(packed))


def _joined(materials: Sequence[Material], parts: Sequence[_MaterialTables]) -> PropertyTables:
    """The tables of `materials` with their melt at rest."""
    rows = np.array([len(one.strength) for one in parts], dtype=np.intp)
    solidus, liquidus, boiling = np.array([one.marks_J_m3 for one in parts]).T
    return PropertyTables(
        materials=tuple(materials),
        by_enthalpy=np.concatenate([one.by_enthalpy for one in parts]),
        enthalpy_start=np.array([one.enthalpy_start for one in parts]),
        enthalpy_step=np.array([one.enthalpy_step for one in parts]),
        by_temperature=np.concatenate([one.by_temperature for one in parts]),
        strength=np.concatenate([one.strength for one in parts]),
        strength_start=np.cumsum(rows) - rows,
        strength_last=rows - 1,
        solidus_J_m3=solidus,
        liquidus_J_m3=liquidus,
        boiling_J_m3=boiling,
        melting_K=np.array([m.melting_K or np.inf for m in materials]),
        sensible_J_m3K=np.array([one.sensible_J_m3K for one in parts]),
        table_end_K=np.array([_table_end(m) for m in materials]),
    )


def _stirred(still: PropertyTables, stirring: float) -> FloatArray:
    """`by_temperature` with the conductivity of molten metal as many times as high."""
    found = still.by_temperature.copy()
    for material, rows in zip(still.materials, found.reshape(-1, ROWS, found.shape[1]), strict=True):
        # The current stirs, and surface tension of liquid metal: molten polymer stands still.
        if material.resistivity is not None and material.solidus_K is not None:
            liquid = _liquid_fraction(material, _GRID)
            rows[:, :2] *= (1.0 + (stirring - 1.0) * liquid)[:, None]
            rows[:-1, 4:6] = rows[1:, :2] - rows[:-1, :2]
    return found


def _made(material: Material) -> _MaterialTables:
    by_enthalpy, start, step = _enthalpy_table(material)
    points = material.solidus_K, material.liquidus_K, material.boiling_K
    capacity = material.heat_capacity(material.solidus_K or REFERENCE_K)
    return _MaterialTables(
        by_enthalpy=by_enthalpy,
        enthalpy_start=start,
        enthalpy_step=step,
        by_temperature=_property_table(material),
        strength=_strength_table(material),
        marks_J_m3=tuple(_enthalpy_at(material, T) for T in points),
        sensible_J_m3K=float(capacity) * material.density_kg_m3,
    )


def _enthalpy_at(material: Material, temperature_K: float | None) -> float:
    return np.inf if temperature_K is None else float(enthalpy_J_m3(material, temperature_K))


def _enthalpy_table(material: Material) -> tuple[FloatArray, float, float]:
    """Return rows of temperature and increment on a uniform enthalpy grid, start and step."""
    top = min(material.boiling_K or HOTTEST_K, HOTTEST_K)
    marks = [T for T in (material.solidus_K, material.liquidus_K) if T is not None]
    fine = np.unique(np.concatenate([np.arange(COLDEST_K, top, 1.0), marks, [top]]))
    h = enthalpy_J_m3(material, fine)
    if material.boiling_K is not None:
        # Two more points carry the plateau: temperature almost stands still while heat enters.
        extra = 0.25 * (h[-1] - h[0])
        h = np.append(h, h[-1] + extra)
        fine = np.append(fine, top + extra / BOILING_J_M3_K)
    grid = np.linspace(h[0], h[-1], ENTHALPY_NODES)
    temperature = np.interp(grid, h, fine)
    increment = np.diff(temperature, append=2.0 * temperature[-1] - temperature[-2])
    return np.column_stack([temperature, increment]), float(grid[0]), float(grid[1] - grid[0])


def _property_table(material: Material) -> FloatArray:
    """Columns against temperature with the melt at rest, then what each gains to the next row."""
    resistivity = material.resistivity
    columns = [
        material.conductivity_r(_GRID),
        material.conductivity_z(_GRID),
        np.zeros_like(_GRID) if resistivity is None else 1.0 / resistivity(_GRID),
        _sample(material.seebeck, _GRID),
    ]
    return np.column_stack(columns + [np.diff(column, append=column[-1]) for column in columns])


def _strength_table(material: Material) -> FloatArray:
    """Rows up to the solidus, whose last one is held from there on; a single one of no hardness."""
    end = int(np.searchsorted(_GRID, material.solidus_K or HOTTEST_K)) + 1
    solid = _GRID[: 1 if material.hardness is None else end]
    hardness = np.maximum(material.hardness_at(solid[:, None], RATES_1_S), 1.0)
    return np.hstack([hardness, np.diff(hardness, axis=0, append=hardness[-1:])])


def _table_end(material: Material) -> float:
    curves = [material.heat_capacity, material.conductivity_r, material.conductivity_z, material.resistivity]
    return min(float(c.temperature_K[-1]) for c in curves if c is not None)
