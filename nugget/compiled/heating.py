"""Face sums of the heat equation (`nugget.field.heat`) and the norm of its errors (`nugget.weld.model`).

Arrays over the grid have the shape (nz, nr).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.compiled.kernel import kernel

BoolArray = npt.NDArray[np.bool_]


@kernel(
    "void(f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1])"
)
def conductances(
    k_r: FloatArray,
    k_z: FloatArray,
    half_r: FloatArray,
    half_z: FloatArray,
    area_r: FloatArray,
    area_z: FloatArray,
    extra_z: FloatArray,
    g_r: FloatArray,
    g_z: FloatArray,
) -> None:
    """Fill in conductances along r and z [W/K], contacts left out; `extra_z` has the shape (nz - 1, 1)."""
    nz, nr = k_r.shape
    across = np.empty(nr)
    for i in range(nz):
        for j in range(nr):
            across[j] = half_r[0, j] / k_r[i, j]
        for j in range(nr - 1):
            g_r[i, j] = area_r[i, j] / (across[j + 1] + across[j])
    for i in range(nz - 1):
        upper, lower, extra = half_z[i + 1, 0], half_z[i, 0], extra_z[i, 0]
        for j in range(nr):
            g_z[i, j] = area_z[i, j] / (upper / k_z[i + 1, j] + lower / k_z[i, j] + extra)


@kernel("void(f8[:,::1], i8, f8[:,::1], f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8)")
def touch(
    g_z: FloatArray,
    row: int,
    area_z: FloatArray,
    half_z: FloatArray,
    k_z: FloatArray,
    share: FloatArray,
    resistance: FloatArray,
    gap_W_m2K: float,
) -> None:
    """Put a contact above `row` into `g_z`: see `nugget.field.heat.ThermalContact`."""
    for j in range(g_z.shape[1]):
        series = half_z[row + 1, 0] / k_z[row + 1, j] + half_z[row, 0] / k_z[row, j]
        touching = share[j] / (series + resistance[j])
        if gap_W_m2K > 0.0:
            touching += (1.0 - share[j]) / (series + 1.0 / gap_W_m2K)
        g_z[row, j] = area_z[row, j] * touching


@kernel("void(f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8[:,::1])")
def coupling(
    g_r: FloatArray, g_z: FloatArray, g_top: FloatArray, g_bottom: FloatArray, total: FloatArray
) -> None:
    """Add the conductances of each cell to `total`."""
    nz, nr = total.shape
    for i in range(nz):
        for j in range(nr - 1):
            total[i, j] += g_r[i, j]
        for j in range(nr - 1):
            total[i, j + 1] += g_r[i, j]
        if i + 1 < nz:
            for j in range(nr):
                total[i, j] += g_z[i, j]
        if i > 0:
            for j in range(nr):
                total[i, j] += g_z[i - 1, j]
    for j in range(nr):
        total[nz - 1, j] += g_top[j]
        total[0, j] += g_bottom[j]


@kernel("void(f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8[:,::1], f8[:,::1], f8[:,::1], f8, f8, f8[:,::1])")
def net(
    g_r: FloatArray,
    g_z: FloatArray,
    g_top: FloatArray,
    g_bottom: FloatArray,
    g_air: FloatArray,
    temperature: FloatArray,
    heat_W: FloatArray,
    ambient_K: float,
    holder_K: float,
    gained: FloatArray,
) -> None:
    """Fill in the heat that each cell gains [W]."""
    (nz, nr), T = temperature.shape, temperature
    for i in range(nz):
        for j in range(nr):
            gained[i, j] = heat_W[i, j] - g_air[i, j] * (T[i, j] - ambient_K)
        for j in range(nr - 1):
            gained[i, j] += g_r[i, j] * (T[i, j + 1] - T[i, j])
        for j in range(nr - 1):
            gained[i, j + 1] -= g_r[i, j] * (T[i, j + 1] - T[i, j])
        if i + 1 < nz:
            for j in range(nr):
                gained[i, j] += g_z[i, j] * (T[i + 1, j] - T[i, j])
        if i > 0:
            for j in range(nr):
                gained[i, j] -= g_z[i - 1, j] * (T[i, j] - T[i - 1, j])
    for j in range(nr):
        gained[nz - 1, j] -= g_top[j] * (T[nz - 1, j] - holder_K)
        gained[0, j] -= g_bottom[j] * (T[0, j] - holder_K)


@kernel("f8(f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8, f8[:,::1], f8[:,::1])")
def updated(
    temperature: FloatArray,
    change: FloatArray,
    enthalpy: FloatArray,
    capacity: FloatArray,
    g_air: FloatArray,
    ambient_K: float,
    warmer: FloatArray,
    richer: FloatArray,
) -> float:
    """Fill in temperature and enthalpy after a change; what the air takes then [W]."""
    air_W = 0.0
    for i in range(change.shape[0]):
        for j in range(change.shape[1]):
            warmer[i, j] = temperature[i, j] + change[i, j]
            richer[i, j] = enthalpy[i, j] + capacity[i, j] * change[i, j]
            air_W += g_air[i, j] * (warmer[i, j] - ambient_K)
    return air_W


@kernel("f8(f8[:,:], f8[:,::1], i8, b1[:,:], f8[:,:], f8, f8, f8, f8, f8)")
def norm(
    change: FloatArray,
    temperature: FloatArray,
    first_row: int,
    near: BoolArray,
    scale: FloatArray,
    ambient_K: float,
    tolerance_K: float,
    relative_per_K: float,
    warm_share: float,
    fewest: float,
) -> float:
    """See `nugget.weld.model.WeldModel`; `change`, `near` and `scale` are cut to the cells that count."""
    hottest, coldest, endless = -math.inf, math.inf, 0
    for i in range(temperature.shape[0]):
        for j in range(temperature.shape[1]):
            T = temperature[i, j]
            hottest, coldest = max(hottest, T), min(coldest, T)
            endless += not abs(T) < math.inf
    if endless > 0:
        return math.nan
    warm_K = warm_share * max(hottest - ambient_K, ambient_K - coldest)
    warm, square = 0, 0.0
    for i in range(change.shape[0]):
        for j in range(change.shape[1]):
            rise = abs(temperature[first_row + i, j] - ambient_K)
            scaled = change[i, j] * scale[i, j] / (tolerance_K * (1.0 + relative_per_K * rise))
            square += scaled * scaled
            warm += near[i, j] and rise > warm_K
    return math.sqrt(square / max(float(warm), fewest))
