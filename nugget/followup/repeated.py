"""Several welds on one cell: what the heat of the earlier ones does to the next.

Two lumps: the *base* (can wall under the weld and the strip on it) and the *cell* (roll and can
side). A weld puts its heat into the base at once; between welds heat flows from the base through
the interior layers and the can side into the cell, and from both to the air:

    C_b dT_b/dt = -G (T_b - T_c) - g_b (T_b - T_air)
    C_c dT_c/dt =  G (T_b - T_c) - g_c (T_c - T_air)

Counted is the heat that a weld leaves behind: all but what the air, the holders and the tips took,
which lift off with it. The next weld is marched with everything at the base's temperature, roll
and tips included: cautious. So is that the base holds no more than wall and strip, and that the
roll resists with a third of its height from the first instant: followed for three seconds on the
grid, the wall of the default weld's cell is on average 0.55 to 0.75 times as warm as the lumps say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import REFERENCE_K
from nugget.errors import InputError
from nugget.outcome.registry.interior_figures import strictest_K
from nugget.setup import Setup
from nugget.setup.description import Layer

MOST_WELDS = 200
LONGEST_REST_S = 3600.0
MOST_RISE_K = 120.0
BELOW_LIMIT = 0.9
SLOWEST_MODE = 3.8317
"""First zero of the Bessel function J1: the slowest way in which a disc with an insulated rim
evens out has the time constant ``R^2 / (3.8317^2 alpha)`` (Carslaw and Jaeger, from memory)."""


@dataclass(frozen=True)
class Lumps:
    """The two lumps of one cell end.

    Attributes
    ----------
    base_J_K, cell_J_K : float
        Heat capacities.
    between_W_K : float
        Conductance from base to cell.
    base_air_W_K, cell_air_W_K : float
        Conductances to the air.
    evens_out_s : float
        Time in which the base itself becomes even; the lumps say nothing of shorter times.
    """

    base_J_K: float
    cell_J_K: float
    between_W_K: float
    base_air_W_K: float
    cell_air_W_K: float
    evens_out_s: float

    def cooled(self, rise_K: FloatArray, time_s: float) -> FloatArray:
        """Rises of base and cell over the air [K] after `time_s` without a weld: exact."""
        from scipy.linalg import expm

        G = self.between_W_K
        rates = np.array(
            [
                [-(G + self.base_air_W_K) / self.base_J_K, G / self.base_J_K],
                [G / self.cell_J_K, -(G + self.cell_air_W_K) / self.cell_J_K],
            ]
        )
        return np.asarray(expm(rates * time_s) @ rise_K, dtype=np.float64)


@dataclass(frozen=True)
class Repeated:
    """A row of welds on one cell.

    Attributes
    ----------
    welds : int
    rest_s : float
        From the end of one weld to the next.
    heat_J : float
        Left behind by each weld.
    lumps : Lumps
    base_K, cell_K : tuple of float
        Before each weld, and after the rest that follows the last one.
    peak_K : tuple of float or None
        Peak of the roll's top in each weld; None where the setup has no roll.
    limit_K : float or None
        Of that peak.
    shortest_rest_s : float or None
        Shortest rest that keeps every peak below the limit, and long enough for the base to be
        one lump; None: no rest is enough, or there is no limit.
    """

    welds: int
    rest_s: float
    heat_J: float
    lumps: Lumps
    base_K: tuple[float, ...]
    cell_K: tuple[float, ...]
    peak_K: tuple[float, ...] | None
    limit_K: float | None
    shortest_rest_s: float | None

    @property
    def even(self) -> bool:
        """Whether the rest is long enough for the base to be taken as one lump."""
        return self.rest_s >= self.lumps.evens_out_s


def lumps_of(setup: Setup) -> Lumps:
    """Return the lumps of the cell that `setup` is about.

    Raises
    ------
    InputError
        When it is about a coupon or an empty can, which have no interior to keep cool.
    """
    cell = setup.file.cell
    roll = setup.base[-1]
    if cell.kind != "cell" or roll.role != "roll":
        raise InputError("spots", f"cell.kind {cell.kind}", "a cell, whose interior warms up")
    height_m = int(str(cell.size)[2:]) * 1e-4  # IEC 61960: the last three digits, 0.1 mm
    wall = [layer for layer in setup.base if layer.role == "can"]
    radius_m = wall[0].radius_m
    base = sum(_capacity(layer, math.pi * radius_m**2) for layer in wall)
    covered_m2 = min(setup.strip_width_m, 2.0 * radius_m) * 2.0 * radius_m
    base += sum(_capacity(layer, covered_m2) for layer in setup.strip)
    side_m = max(radius_m - roll.radius_m, 1e-4)
    side_m2 = 2.0 * math.pi * radius_m * side_m
    steel = wall[0].material
    core = steel.density_kg_m3 * float(steel.heat_capacity(REFERENCE_K)) * side_m2 * height_m
    material = roll.material
    core += (
        material.density_kg_m3
        * float(material.heat_capacity(REFERENCE_K))
        * math.pi
        * roll.radius_m**2
        * height_m
    )
    film = setup.film_W_m2K
    return Lumps(
        base_J_K=base,
        cell_J_K=core,
        between_W_K=_between(setup, wall, height_m, side_m2),
        base_air_W_K=film * math.pi * radius_m**2,
        cell_air_W_K=film * (2.0 * math.pi * radius_m * height_m + math.pi * radius_m**2),
        evens_out_s=_evens_out(wall),
    )


def _capacity(layer: Layer, area_m2: float) -> float:
    m = layer.material
    return m.density_kg_m3 * float(m.heat_capacity(REFERENCE_K)) * area_m2 * layer.thickness_m


def _between(setup: Setup, wall: list[Layer], height_m: float, side_m2: float) -> float:
    """Through the layers on the roll and a third of its height, and down the can side.

    A slab that warms up evenly while heat enters one end is warmer there than on average by what
    a third of it resists.
    """
    inner = [layer for layer in setup.base if layer.role != "can"]
    resistance = 0.0
    for layer in inner:
        length_m = height_m / 3.0 if layer.role == "roll" else layer.thickness_m
        conductivity = float(layer.material.conductivity_z(REFERENCE_K))
        resistance += length_m / (conductivity * math.pi * layer.radius_m**2)
    steel = wall[0].material
    k = float(steel.conductivity_r(REFERENCE_K))
    sheet = sum(float(w.material.conductivity_r(REFERENCE_K)) * w.thickness_m for w in wall)
    # An evenly heated disc is warmer than its rim by 1 / (8 pi k t) per watt, on average.
    down = 1.0 / (8.0 * math.pi * sheet) + height_m / 3.0 / (k * side_m2)
    return 1.0 / resistance + 1.0 / down


def _evens_out(wall: list[Layer]) -> float:
    storage = sum(
        w.material.density_kg_m3 * float(w.material.heat_capacity(REFERENCE_K)) * w.thickness_m for w in wall
    )
    sheet = sum(float(w.material.conductivity_r(REFERENCE_K)) * w.thickness_m for w in wall)
    return (wall[0].radius_m / SLOWEST_MODE) ** 2 * storage / sheet


def heat_left_J(figures: Mapping[str, Any]) -> float:
    """Heat [J] that one weld leaves in the cell: all but what holders, tips and air took."""
    gone = figures["holder_heat_J"] + figures["tip_heat_J"] + figures["air_heat_J"]
    return max(float(figures["weld_energy_J"]) - float(gone), 0.0)


def rises(lumps: Lumps, heat_J: float, welds: int, rest_s: float) -> FloatArray:
    """Rises of base and cell [K] before each weld and after the last rest, shape (welds + 1, 2)."""
    state, found = np.zeros(2), [np.zeros(2)]
    for _ in range(welds):
        state = lumps.cooled(state + np.array([heat_J / lumps.base_J_K, 0.0]), rest_s)
        found.append(state)
    return np.array(found)


def warmed(setup: Setup, start_K: float) -> Setup:
    """Return `setup` with everything at `start_K` before the weld but the holders.

    Raises
    ------
    InputError
        When that is beyond what a setup takes.
    """
    return setup.with_({"ambient.temperature": start_K})


def checked(setup: Setup, welds: int, rest_s: float) -> Lumps:
    """Return the lumps when so many welds can be worked out; nothing is marched.

    Raises
    ------
    InputError
    """
    if not 2 <= welds <= MOST_WELDS:
        raise InputError("spots", welds, f"2 to {MOST_WELDS} welds")
    if not 0.0 < rest_s <= LONGEST_REST_S:
        raise InputError("rest", f"{rest_s:g} s", f"more than zero and at most {LONGEST_REST_S:g} s")
    return lumps_of(setup)


def repeat(
    setup: Setup,
    figures: Mapping[str, Any],
    welds: int,
    rest_s: float,
    march: Callable[[Setup], Mapping[str, Any]],
) -> Repeated:
    """Work out a row of welds on one cell.

    Parameters
    ----------
    setup : Setup
    figures : mapping
        Of the first weld, as marched.
    welds : int
    rest_s : float
    march : callable
        Returns the figures of a setup; asked once, for the warmest weld that a setup can describe.
        The peak is taken linear in the base's temperature, which it is but for the properties'
        own change.
    """
    lumps, heat_J = checked(setup, welds, rest_s), heat_left_J(figures)
    rise = rises(lumps, heat_J, welds, rest_s)
    limit = strictest_K(setup, "interior_peak_K")
    first_K = figures["interior_peak_K"]
    # A setup cannot start above its own limit: from there on the line is simply carried on.
    most_K = MOST_RISE_K if limit is None else min(MOST_RISE_K, BELOW_LIMIT * (limit - setup.ambient_K))
    probed_K = min(float(rise[:welds, 0].max()), most_K)
    last_K = float(march(warmed(setup, setup.ambient_K + probed_K))["interior_peak_K"])
    slope = (last_K - first_K) / probed_K

    def peaks(levels: FloatArray) -> FloatArray:
        return np.asarray(first_K + slope * levels[:welds, 0], dtype=np.float64)

    shortest = None
    if limit is not None:
        shortest = _shortest(
            lambda s: float(peaks(rises(lumps, heat_J, welds, s)).max()), limit, lumps.evens_out_s
        )
    return Repeated(
        welds,
        rest_s,
        heat_J,
        lumps,
        tuple(float(v) for v in setup.ambient_K + rise[:, 0]),
        tuple(float(v) for v in setup.ambient_K + rise[:, 1]),
        tuple(float(v) for v in peaks(rise)),
        limit,
        shortest,
    )


def _shortest(hottest: Callable[[float], float], limit: float, least_s: float) -> float | None:
    """Shortest rest [s], from `least_s` on, that keeps the limit; None when none is enough."""
    from scipy.optimize import brentq

    if hottest(LONGEST_REST_S) > limit:
        return None
    if hottest(least_s) <= limit:
        return least_s
    return float(brentq(lambda s: hottest(s) - limit, least_s, LONGEST_REST_S, xtol=1e-3))
