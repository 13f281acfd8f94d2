"""Conductances and the field of one ampere (`nugget.field.electric`).

Arrays over the conducting block have the shape (nz, nr), those of contacts (contacts, nr of the grid).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.compiled.kernel import kernel

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.intp]


@kernel(
    "void(f8[:,::1], b1[:,::1], i8, f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[::1], f8[::1],"
    " i8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[::1], f8[:,::1])"
)
def conductances(
    conductivity: FloatArray,
    inside: BoolArray,
    lowest: int,
    half_r: FloatArray,
    half_z: FloatArray,
    area_r: FloatArray,
    area_z: FloatArray,
    plane: FloatArray,
    bottom: FloatArray,
    sides: IntArray,
    covered: FloatArray,
    resistance: FloatArray,
    across: FloatArray,
    along: FloatArray,
    g_r: FloatArray,
    g_z: FloatArray,
    g_bottom: FloatArray,
    diagonal: FloatArray,
) -> None:
    """Fill in resistivity times half cells along r and z, conductances, the diagonal but for top and ground.

    Parameters
    ----------
    conductivity : ndarray
        Of the whole grid; the block begins at its row `lowest`.
    bottom : ndarray, shape (nr,)
        Area towards the holder below, zeros without one.
    sides : ndarray, shape (contacts, 2)
        Rows above and below each contact in the block, alike where it stands on a mirror.
    """
    nz, nr = inside.shape
    for i in range(nz):
        for j in range(nr):
            sigma = conductivity[lowest + i, j] if inside[i, j] else 1.0
            across[i, j], along[i, j] = half_r[0, j] / sigma, half_z[i, 0] / sigma
            diagonal[i, j] = 0.0 if inside[i, j] else 1.0
        for j in range(nr - 1):
            g_r[i, j] = area_r[i, j] / (across[i, j + 1] + across[i, j])
    for i in range(nz - 1):
        for j in range(nr):
            g_z[i, j] = area_z[i, j] / (along[i + 1, j] + along[i, j])
    for j in range(nr):
        g_bottom[j] = bottom[j] / along[0, j]
    for n in range(sides.shape[0]):
        above, below = sides[n]
        for j in range(nr):
            if above == below:
                here = plane[j] * covered[n, j] * inside[above, j]
                g_bottom[j] = here / (along[above, j] + 0.5 * resistance[n, j])
            else:
                series = along[above, j] + resistance[n, j] + along[below, j]
                g_z[below, j] = area_z[below, j] * covered[n, j] / series
    for i in range(nz):
        for j in range(nr - 1):
            diagonal[i, j] += g_r[i, j]
        for j in range(nr - 1):
            diagonal[i, j + 1] += g_r[i, j]
        if i + 1 < nz:
            for j in range(nr):
                diagonal[i, j] += g_z[i, j]
        if i > 0:
            for j in range(nr):
                diagonal[i, j] += g_z[i - 1, j]
    for j in range(nr):
        diagonal[0, j] += g_bottom[j]


@kernel(
    "void(f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8[:,::1], f8[:,::1],"
    " f8[::1], f8[::1], f8[::1], i8[:,::1], f8[:,::1], f8[:,::1], f8, f8[:,::1], f8[:,::1])"
)
def heat(
    potential: FloatArray,
    across: FloatArray,
    along: FloatArray,
    g_r: FloatArray,
    g_z: FloatArray,
    g_bottom: FloatArray,
    i_top: FloatArray,
    per_r: FloatArray,
    per_z: FloatArray,
    per_top: FloatArray,
    per_bottom: FloatArray,
    plane: FloatArray,
    sides: IntArray,
    covered: FloatArray,
    resistance: FloatArray,
    least_covered: float,
    made: FloatArray,
    at_contacts: FloatArray,
) -> None:
    """Add Joule heat of each cell [W/A2], grounds left out, and of each contact per contact area [W/(m2 A2)].

    Parameters
    ----------
    potential : ndarray
        [V/A]
    i_top : ndarray, shape (nr,)
        Current through the top of each column, in all one ampere.
    per_r, per_z, per_top, per_bottom : ndarray
        One over the area of each face.
    """
    nz, nr = potential.shape
    phi = potential
    for i in range(nz):
        for j in range(nr - 1):
            i_r = g_r[i, j] * (phi[i, j] - phi[i, j + 1])
            made[i, j] += i_r * i_r * per_r[i, j] * across[i, j]
        for j in range(nr - 1):
            i_r = g_r[i, j] * (phi[i, j] - phi[i, j + 1])
            made[i, j + 1] += i_r * i_r * per_r[i, j] * across[i, j + 1]
    for i in range(nz - 1):
        crowded = -1
        for n in range(sides.shape[0]):
            if sides[n, 1] == i and sides[n, 0] != i:
                crowded = n
        for j in range(nr):
            # The current crowds into the covered share of a contact, and so does its heat.
            share = max(covered[crowded, j], least_covered) if crowded >= 0 else 1.0
            i_z = g_z[i, j] * (phi[i + 1, j] - phi[i, j])
            j_z = i_z * per_z[i, j] / share
            made[i + 1, j] += i_z * j_z * along[i + 1, j]
            made[i, j] += i_z * j_z * along[i, j]
            if crowded >= 0:
                at_contacts[crowded, j] = resistance[crowded, j] * j_z * j_z
    for n in range(sides.shape[0]):
        above, below = sides[n]
        if above == below:
            for j in range(nr):
                i_z = g_bottom[j] * phi[above, j]
                j_z = i_z / (plane[j] * max(covered[n, j], least_covered))
                made[above, j] += i_z * j_z * along[above, j]
                at_contacts[n, j] = resistance[n, j] * j_z * j_z
    for j in range(nr):
        made[nz - 1, j] += i_top[j] * i_top[j] * per_top[j] * along[nz - 1, j]
        i_z = g_bottom[j] * phi[0, j]
        made[0, j] += i_z * i_z * per_bottom[j] * along[0, j]
