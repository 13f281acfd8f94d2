"""Look-ups in dense property tables (`nugget.materials.property_tables`) and strengths of contacts."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.compiled.kernel import inlined, kernel

IntArray = npt.NDArray[np.intp]


@inlined
def _node(x: float, last: int) -> int:
    """The node at or below `x`, from 0 to `last`; 0 for what is not a number."""
    if not x > 0.0:
        return 0
    return last if x >= last else int(x)


@kernel("void(f8[::1], i8[::1], f8[::1], f8[::1], f8[:,::1], i8, f8[::1], f8[::1])")
def temperature(
    enthalpy: FloatArray,
    base: IntArray,
    start: FloatArray,
    scale: FloatArray,
    table: FloatArray,
    nodes: int,
    found: FloatArray,
    capacity: FloatArray,
) -> None:
    """Fill in temperature [K] and heat capacity [J/(m3 K)] of cells, shape (cells,)."""
    for i in range(enthalpy.size):
        x = (enthalpy[i] - start[i]) * scale[i]
        node = _node(x, nodes - 2)
        slope = table[base[i] + node, 1]
        found[i] = table[base[i] + node, 0] + (x - node) * slope
        capacity[i] = 1.0 / (slope * scale[i])


@kernel("void(f8[::1], i8[::1], f8[:,::1], f8, f8, i8, i8, f8[:,::1])")
def columns(
    temperature: FloatArray,
    base: IntArray,
    table: FloatArray,
    coldest: float,
    per_kelvin: float,
    nodes: int,
    first: int,
    found: FloatArray,
) -> None:
    """Fill in properties of cells in the columns of the table from `first` on, shape (columns, cells)."""
    steps = table.shape[1] // 2
    for i in range(temperature.size):
        x = (temperature[i] - coldest) * per_kelvin
        node = _node(x, nodes - 2)
        row, share = base[i] + node, x - node
        for n in range(found.shape[0]):
            found[n, i] = table[row, first + n] + share * table[row, first + n + steps]


@kernel("void(f8[::1], i8[::1], f8[::1], f8[::1], f8[:,::1], i8, i8[::1], f8[:,::1], f8, f8, i8, f8[:,::1])")
def state(
    enthalpy: FloatArray,
    base: IntArray,
    start: FloatArray,
    scale: FloatArray,
    by_enthalpy: FloatArray,
    enthalpies: int,
    property_base: IntArray,
    by_temperature: FloatArray,
    coldest: float,
    per_kelvin: float,
    nodes: int,
    found: FloatArray,
) -> None:
    """Fill in temperature, heat capacity, k_r, k_z and electrical conductivity of cells, shape (5, cells)."""
    steps = by_temperature.shape[1] // 2
    for i in range(enthalpy.size):
        x = (enthalpy[i] - start[i]) * scale[i]
        node = _node(x, enthalpies - 2)
        slope = by_enthalpy[base[i] + node, 1]
        T = by_enthalpy[base[i] + node, 0] + (x - node) * slope
        found[0, i], found[1, i] = T, 1.0 / (slope * scale[i])
        y = (T - coldest) * per_kelvin
        node = _node(y, nodes - 2)
        row, share = property_base[i] + node, y - node
        found[2, i] = by_temperature[row, 0] + share * by_temperature[row, steps]
        found[3, i] = by_temperature[row, 1] + share * by_temperature[row, 1 + steps]
        found[4, i] = by_temperature[row, 2] + share * by_temperature[row, 2 + steps]
