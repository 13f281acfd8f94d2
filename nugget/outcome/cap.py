"""The cap of a positive end after the pulse: a small heat store that all spots warm alike.

The march follows one spot on the axis of the cap. Each of several spots adds its own rise, so the mean
of the cap rises by that of one spot times their number. Where the cap's rim sits in its gasket it is
hotter than the mean as long as the spots near it have not spread out: by the factor of a disc that has
an insulated rim and takes the heat at points.

Insulated is the conservative choice: ring, burst disc and gasket that clamp the rim take up heat, but nobody
knows their contact, and in the first tenth of a second, which decides, they have taken little. Over
seconds both temperatures are therefore too high. The gasket is taken to be as hot as the rim. The equations:
manual, theory-interior.
"""

from __future__ import annotations

import functools
from collections.abc import Mapping

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import REFERENCE_K
from nugget.setup.description import Description

FIRST_S, LAST_S = 0.1, 10.0
"""From and to these times after the last pulse [s] the cap is judged."""
INSTANTS_S = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
MOST_ANGLES, RADIAL = 12, 8
"""Harmonics of the angle and radial modes for each: at 0.1 s all others have faded."""
FADED = 1e-12


def spot_radius_m(setup: Description) -> float:
    """Distance of a spot from the cap's axis [m]; a single spot is taken as far out as one of a pair."""
    return min(0.5 * setup.spacing_m, setup.base[0].radius_m)


def diffusivity_m2_s(setup: Description) -> float:
    """Of the cap along its plane at room temperature, its layers side by side."""
    walls = [layer for layer in setup.base if layer.role == "can"]
    conducts = sum(one.thickness_m * float(one.material.conductivity_r(REFERENCE_K)) for one in walls)
    stores = sum(
        one.thickness_m * one.material.density_kg_m3 * float(one.material.heat_capacity(REFERENCE_K))
        for one in walls
    )
    return conducts / stores


@functools.lru_cache(maxsize=8)
def _zeros(order: int) -> FloatArray:
    """Roots of J_n' above zero, shape (RADIAL,)."""
    from scipy.special import jnp_zeros

    return np.asarray(jnp_zeros(order, RADIAL))


def rim_over_mean(
    spot_m: float, rim_m: float, diffusivity: float, spots: int, after_s: FloatArray
) -> FloatArray:
    """Rise at the rim nearest to a spot over the mean rise of an insulated disc.

    Heat that enters at a point spreads as ``1 + sum_n e_n sum_a exp(-k a^2 t) a^2 J_n(a r') /
    ((a^2 - n^2/R^2) J_n(a R))`` at the rim, with ``J_n'(a R) = 0`` and e_0 = 1, else 2 (Carslaw and
    Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, chapter 14, from memory). Two spots across the
    middle leave the even n.

    Parameters
    ----------
    spot_m, rim_m : float
        Distance of the spots from the axis and radius of the disc [m].
    diffusivity : float
        [m2/s]
    spots : {1, 2}
    after_s : ndarray
        Since the heat entered [s].
    """
    from scipy.special import jv

    after = np.asarray(after_s, dtype=np.float64)
    total = np.ones_like(after)
    for n in range(0, MOST_ANGLES + 1, spots):
        for root in _zeros(n):
            faded = np.exp(-diffusivity * (root / rim_m) ** 2 * after)
            size = root**2 / (root**2 - n**2) * jv(n, root * spot_m / rim_m) / jv(n, root)
            total += (1.0 if n == 0 else 2.0) * size * faded
    return total


def outside_factor(heat_left_J: float, outside_J: float) -> float:
    """By how much the cap warms more than in the march, whose field ends before the mid-plane.

    What the sheets beyond it turn into heat is not in the field; all of it is counted for the cap,
    though part stays in the strip.

    Parameters
    ----------
    heat_left_J, outside_J : float
        What a weld leaves in the cell, the sheets beyond the field included, and theirs of it.
    """
    return heat_left_J / max(heat_left_J - outside_J, 1e-3 * heat_left_J) if heat_left_J > 0.0 else 1.0


def curves(
    setup: Description, time_s: FloatArray, table: Mapping[str, Mapping[str, float]]
) -> tuple[FloatArray, FloatArray]:
    """Mean of the cap and its rim [K] at `time_s`, NaN where they are not judged.

    Parameters
    ----------
    time_s : ndarray, shape (n,)
    table : mapping
        Mean and rim by instant after the last pulse, as the figure ``cap_course`` has them.
    """
    instants = np.log([float(name.removesuffix(" s")) for name in table])
    after = np.log(np.maximum(np.asarray(time_s) - setup.train_s, 1e-9))
    mean, rim = (
        np.interp(after, instants, [one[key] for one in table.values()], np.nan, np.nan)
        for key in ("mean_K", "rim_K")
    )
    return mean, rim


def course(
    setup: Description, time_s: FloatArray, wall_mean_K: FloatArray, factor: float = 1.0
) -> tuple[FloatArray, ...]:
    """Time after the last pulse [s], mean of the cap and its rim [K], from `FIRST_S` to `LAST_S`.

    Parameters
    ----------
    time_s, wall_mean_K : ndarray, shape (n,)
        Mean temperature of the cap in the march of one spot.
    factor : float
        On its rise, from `outside_factor`.
    """
    end = setup.train_s
    last = min(LAST_S, float(time_s[-1]) - end)
    inside = time_s[(time_s > end + FIRST_S) & (time_s < end + last)] - end
    after = np.unique(np.concatenate([[FIRST_S], inside, [max(last, FIRST_S)], INSTANTS_S]))
    after = after[after <= max(last, FIRST_S)]
    rise = factor * setup.spots * (np.interp(end + after, time_s, wall_mean_K) - setup.ambient_K)
    rim = setup.base[0].radius_m
    ratio = rim_over_mean(spot_radius_m(setup), rim, diffusivity_m2_s(setup), setup.spots, after)
    return after, setup.ambient_K + rise, setup.ambient_K + rise * np.maximum(ratio, 1.0)
