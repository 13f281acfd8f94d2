"""Surfaces of a contact and how far it grows (`nugget.weld.interface_model`, `nugget.contact.growth`).

Arrays of both sides have the shape (2, nr).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.compiled.kernel import inlined, kernel

IntArray = npt.NDArray[np.intp]


@kernel(
    "void(f8[:,::1], f8[:,::1], i8, i8, f8, f8, f8[::1], f8[::1], i8[:,::1], f8[:,::1], f8, f8, i8, f8,"
    " f8[:,::1])"
)
def surfaces(
    temperature: FloatArray,
    k_z: FloatArray,
    above: int,
    below: int,
    half_above: float,
    half_below: float,
    thermal: FloatArray,
    heat: FloatArray,
    base: IntArray,
    table: FloatArray,
    coldest: float,
    per_kelvin: float,
    nodes: int,
    least_conductivity: float,
    found: FloatArray,
) -> None:
    """Fill in, shape (7, nr): temperatures of both surfaces, resistances of both half cells, both
    resistivities added up, Seebeck coefficients of both.
    """
    steps = table.shape[1] // 2
    for j in range(thermal.size):
        R1, R2 = half_above / k_z[above, j], half_below / k_z[below, j]
        T1, T2, half = temperature[above, j], temperature[below, j], 0.5 * heat[j]
        flux = (T1 - T2 + half * (R1 - R2)) / (R1 + thermal[j] + R2)
        T1, T2 = T1 - (flux - half) * R1, T2 + (flux + half) * R2
        resistivity = 0.0
        for side in range(2):
            x = ((T1 if side == 0 else T2) - coldest) * per_kelvin
            node = 0
            if x > 0.0:
                node = nodes - 2 if x >= nodes - 2 else int(x)
            row, share = base[side, j] + node, x - node
            sigma = table[row, 2] + share * table[row, 2 + steps]
            resistivity += 1.0 / max(sigma, least_conductivity)
            found[5 + side, j] = table[row, 3] + share * table[row, 3 + steps]
        found[0, j], found[1, j], found[2, j], found[3, j] = T1, T2, R1, R2
        found[4, j] = resistivity


@kernel(
    "void(f8[:,::1], i8[:,::1], i8[:,::1], f8[:,::1], f8[:,::1], f8, f8, i8, i8[:,::1], f8[:,:,::1])"
)  # fmt: skip
def place(
    surfaces_K: FloatArray,
    first: IntArray,
    last: IntArray,
    solidus_K: FloatArray,
    melting_K: FloatArray,
    coldest: float,
    per_kelvin: float,
    rates: int,
    base: IntArray,
    shares: FloatArray,
) -> None:
    """Fill in where the strength of each side begins in its table (`PropertyTables.strength`, flat).

    `shares`, shape (2, 2, nr), are that of the way to the next row, and that of the melting range passed.
    """
    for side in range(2):
        for j in range(surfaces_K.shape[1]):
            T = surfaces_K[side, j]
            x, node = (T - coldest) * per_kelvin, 0
            if x > 0.0:
                node = last[side, j] if x >= last[side, j] else int(x)
            base[side, j] = (first[side, j] + node) * 2 * rates
            shares[0, side, j] = x - node
            shares[1, side, j] = min(max((T - solidus_K[side, j]) / melting_K[side, j], 0.0), 1.0)


@inlined
def _softer(
    rate: int, j: int, rates: int, table: FloatArray, base: IntArray, shares: FloatArray, gains: FloatArray
) -> float:
    """Hardness [Pa] of the softer side in a column at a rate, molten metal counted as enclosed."""
    softer = math.inf
    for side in range(2):
        at, share, molten = base[side, j], shares[0, side, j], shares[1, side, j]
        hard = table[at + rate] + share * table[at + rate + rates]
        if molten > 0.0:
            slow = table[at] + share * table[at + rates]
            hard -= molten * (hard - min(hard, gains[rate] * slow))
        softer = min(softer, hard)
    return softer


@kernel("void(f8[::1], i8[:,::1], f8[:,:,::1], f8[::1], f8[::1], i8, f8[:,::1])")
def hardness(
    table: FloatArray,
    base: IntArray,
    shares: FloatArray,
    gains: FloatArray,
    counted: FloatArray,
    first: int,
    rows: FloatArray,
) -> None:
    """Fill in hardness [Pa] of the softer side at the rates from `first` on, shape (rates, nr)."""
    for n in range(rows.shape[0]):
        for j in range(rows.shape[1]):
            rows[n, j] = _softer(first + n, j, gains.size, table, base, shares, gains) * counted[j]


@inlined
def _after(ordered: FloatArray, value: float) -> int:
    """Place after the last entry that is not above `value`."""
    low, high = 0, ordered.size
    while low < high:
        middle = (low + high) // 2
        if value < ordered[middle]:
            high = middle
        else:
            low = middle + 1
    return low


@inlined
def _balanced(carried: FloatArray, square: FloatArray, force: float) -> float:
    """Radius that carries the force; the outermost face where nothing does."""
    if not force < carried[-1]:
        return math.sqrt(square[-1])
    i = _after(carried, force)
    share = (force - carried[i - 1]) / (carried[i] - carried[i - 1])
    return math.sqrt(square[i - 1] + share * (square[i] - square[i - 1]))


@inlined
def _too_slow(
    row: int, carried: FloatArray, square: FloatArray, force: float, rate: float, stage: tuple[float, float]
) -> bool:
    """Whether the contact that carries the force at this rate would have to grow faster."""
    start, tau = stage
    left = 1.0 - rate * tau
    return left > 0.0 and _balanced(carried[row], square, force) > start / left


@inlined
def _miss(
    share: float, rows: FloatArray, square: FloatArray, low_span: tuple[float, float],
    stage: tuple[float, float],
) -> tuple[float, float]:  # fmt: skip
    """Logarithm of what a contact carries that grows so far between two rates, and its radius."""
    (low, span), (start, tau) = low_span, stage
    radius = start / (1.0 - low * math.exp(share * span) * tau)
    inside = min(radius * radius, square[-1])
    i = min(_after(square, inside), square.size - 1)
    part = (inside - square[i - 1]) / (square[i] - square[i - 1])
    slow = max(rows[0, i - 1] + part * (rows[0, i] - rows[0, i - 1]), 1e-30)
    fast = max(rows[1, i - 1] + part * (rows[1, i] - rows[1, i - 1]), 1e-30)
    return (1.0 - share) * math.log(slow) + share * math.log(fast), radius


@inlined
def _between(
    rows: FloatArray, square: FloatArray, rates: tuple[float, float], force: float, stage: tuple[float, float]
) -> float:
    """Root between two rates, by the steps of `nugget.contact.growth`."""
    (low, high), (start, tau) = rates, stage
    span, aim = math.log(high / low), math.log(force)
    high_s = min(1.0, math.log((1.0 - 1e-12) / tau / low) / span)
    f0 = _miss(0.0, rows, square, (low, span), stage)[0] - aim
    f1 = _miss(high_s, rows, square, (low, span), stage)[0] - aim
    s0, s1, side, radius = 0.0, high_s, 0, start
    for _ in range(60):
        share = s1 - f1 * (s1 - s0) / (f1 - f0) if f1 != f0 else 0.5 * (s0 + s1)
        if not s0 < share < s1:
            share = 0.5 * (s0 + s1)
        found, radius = _miss(share, rows, square, (low, span), stage)
        found -= aim
        if abs(found) < 1e-9 or s1 - s0 < 1e-12:
            break
        if found > 0.0:
            s1, f1 = share, found
            f0, side = (0.5 * f0 if side == 1 else f0), 1
        else:
            s0, f0 = share, found
            f1, side = (0.5 * f1 if side == -1 else f1), -1
    return radius


@kernel("f8(f8[::1], i8[:,::1], f8[:,:,::1], f8[::1], f8[::1], f8[::1], f8[::1], f8, f8, f8, f8)")
def radius(
    table: FloatArray,
    base: IntArray,
    shares: FloatArray,
    gains: FloatArray,
    counted: FloatArray,
    rates: FloatArray,
    r_faces: FloatArray,
    force: float,
    start: float,
    tau: float,
    likely: float,
) -> float:
    """Root of the rate equation, free of bounds: see `nugget.contact.growth.grown_radius`."""
    number, stage, square = rates.size, (start, tau), r_faces * r_faces
    # What the columns inside each face carry at each rate.
    carried = np.zeros((number, square.size))
    known = np.zeros(number, dtype=np.bool_)
    slower, turns = number // 2, 0
    if likely > 0.0:
        rate = (likely - start) / (tau * likely)
        slower = 0
        while slower < number - 1 and rates[slower] < rate:
            slower += 1
    # The rows that are too slow come first: up while this one is, then down while the one below is not.
    row = slower
    while True:
        if 0 <= row < number and not known[row]:
            known[row] = True
            for j in range(counted.size):
                hard = _softer(row, j, number, table, base, shares, gains) * counted[j]
                carried[row, j + 1] = carried[row, j] + math.pi * hard * (square[j + 1] - square[j])
        if turns == 0:
            if row < number and _too_slow(row, carried, square, force, rates[row], stage):
                row += 1
            else:
                slower, turns, row = row, 1, row - 1
        elif row >= 0 and not _too_slow(row, carried, square, force, rates[row], stage):
            slower, row = row, row - 1
        else:
            break
    if slower == 0 or slower == number:
        return _balanced(carried[min(slower, number - 1)], square, force)
    return _between(
        carried[slower - 1 : slower + 1], square, (rates[slower - 1], rates[slower]), force, stage
    )
