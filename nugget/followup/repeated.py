"""Several welds on one cell: what the heat of the earlier ones does to the next.

Each spot leaves its heat in the wall; the whole cell answers by `nugget.whole_cell`, in space and
time, and the answers of all earlier spots add up at the place of the next one. Counted is the heat
that a weld leaves behind: all but what the air, the holders and the tips took, which lift off with it.

What the next weld starts from is laid on top of what the first one did. That counts the earlier heat at
its highest from then on, though part of it is gone when the weld's own peak comes: conservative. The
warmest weld is also run from there, which tells what warmer metal does to the weld itself.

The equations: manual, theory-interior.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.followup.cell_parts import watched_part, whole_cell
from nugget.followup.places import places, spots_each
from nugget.setup import Setup
from nugget.whole_cell import respond

MOST_WELDS = 200
LONGEST_REST_S = 3600.0
SHORTEST_REST_S = 0.1
"""Below it the heat is still where the weld model left it, in a patch that is not followed here."""
MOST_RISE_K = 120.0
AFTER = np.array([0.0, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4, 12.8])
"""Times after a rest at which the earlier heat is looked for at its highest [s]."""


@dataclass(frozen=True)
class Bound:
    """A limit of harm by heat, over a row of welds.

    Attributes
    ----------
    what : str
        What it keeps cool, in words.
    limit_K : float
    peak_K : tuple of float
        In each weld.
    shortest_rest_s : float or None
        Shortest rest that keeps every one below the limit; None: no rest is enough.
    """

    what: str
    limit_K: float
    peak_K: tuple[float, ...]
    shortest_rest_s: float | None


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
    apart_m : float
        From one weld to the next on the cell's end; 0: they do not fit, all are taken at one place.
    wall_K, interior_K : tuple of float
        At the place of each weld before it, and at the last one's after the rest that follows it: wall, and
        the hottest that the earlier heat makes the interior from then on.
    rim_K : tuple of float
        Rim of the welded wall, hottest after each weld: where the gasket of a positive end sits.
    peak_K : tuple of float
        Of the interior in each weld.
    bounds : tuple of Bound
        Of the interior, of free electrolyte below the wall, of the gasket of a positive end.
    """

    welds: int
    rest_s: float
    heat_J: float
    apart_m: float
    wall_K: tuple[float, ...]
    interior_K: tuple[float, ...]
    rim_K: tuple[float, ...]
    peak_K: tuple[float, ...]
    bounds: tuple[Bound, ...]

    @property
    def shortest_rest_s(self) -> float | None:
        """Shortest rest that keeps every bound [s]; None: no rest is enough, or nothing is bounded."""
        rests = [one.shortest_rest_s for one in self.bounds]
        known = [rest_s for rest_s in rests if rest_s is not None]
        return max(known) if known and len(known) == len(rests) else None


class Row:
    """Answers of the whole cell to a row of welds, for any rest between them."""

    def __init__(self, setup: Setup, welds: int) -> None:
        cell = whole_cell(setup)
        self.inside = watched_part(setup, cell)
        self.rim_m = cell.wall.outer_m * (1.0 - 1e-6)
        patch = 0.5 * setup.electrode.face_diameter_m
        apart = 0.5 * setup.spacing_m
        found = places(setup, welds, apart, patch)
        self.apart_m = apart if found is not None else 0.0
        if found is None:
            found = np.repeat(places_at_one(setup), welds, axis=0)
        self.spots = found
        self.answers = {
            r: respond(cell, r, patch, (self.inside,)) for r in {_from_axis(at) for at in self._all}
        }
        self._courses: dict[tuple[str, bytes], list[FloatArray]] = {}

    @property
    def _all(self) -> FloatArray:
        return np.asarray(self.spots.reshape(-1, 2))

    def rises(self, heat_J: float, rest_s: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Rises [K] of wall and interior before each weld and after the last rest, and of the rim.

        The interior's is the highest from then on without further welds, the rim's the highest from
        a tenth of a second after each weld; shapes (welds + 1,), (welds + 1,), (welds,).
        """
        welds, each = self.spots.shape[:2]
        share = heat_J / each
        wall, inside, rim = np.zeros(welds + 1), np.zeros(welds + 1), np.zeros(welds)
        for n in range(1, welds + 1):
            after = rest_s + AFTER
            for place in self.spots[min(n, welds - 1)]:
                wall[n] = max(wall[n], self._sum("wall", place, n, rest_s, after[:1])[0])
                inside[n] = max(inside[n], self._sum(self.inside, place, n, rest_s, after).max())
            for spot in self.spots[n - 1]:
                edge = self.rim_m * spot / max(float(np.hypot(*spot)), 1e-12)
                rim[n - 1] = max(
                    rim[n - 1], self._sum("wall", edge, n, rest_s, SHORTEST_REST_S + AFTER).max()
                )
        return share * wall, share * inside, share * rim

    def _sum(self, face: str, at: FloatArray, welds: int, rest_s: float, after_s: FloatArray) -> FloatArray:
        """Rise at a place from the first `welds` welds at times after the last of them [K/J]."""
        courses = self._courses_at(face, at)
        total = np.zeros(len(after_s))
        each = self.spots.shape[1]
        for k in range(welds):
            past = (welds - 1 - k) * rest_s + after_s
            for index in range(k * each, (k + 1) * each):
                total += self.answers[_from_axis(self._all[index])].read(courses[index], past)
        return total

    def _courses_at(self, face: str, at: FloatArray) -> list[FloatArray]:
        """Course at a place after each spot, worked out once."""
        key = face, at.tobytes()
        if key not in self._courses:
            r, angle = float(np.hypot(*at)), math.atan2(at[1], at[0])
            self._courses[key] = [
                self.answers[_from_axis(spot)].course(face, r, angle - math.atan2(spot[1], spot[0]))
                for spot in self._all
            ]
        return self._courses[key]


def _from_axis(spot: FloatArray) -> float:
    return float(np.round(np.hypot(*spot), 7))


def places_at_one(setup: Setup) -> FloatArray:
    """The spots of one weld in the middle of the end, whether they fit or not, shape (1, spots, 2)."""
    half = 0.5 * setup.spacing_m
    each = [(0.0, -half), (0.0, half)] if spots_each(setup) == 2 else [(0.0, 0.0)]
    return np.array([each])


def heat_left_J(figures: Mapping[str, Any]) -> float:
    """Heat [J] that one weld leaves in the cell: all but what holders, tips and air took."""
    gone = figures["holder_heat_J"] + figures["tip_heat_J"] + figures["air_heat_J"]
    return max(float(figures["weld_energy_J"]) - float(gone), 0.0)


def warmed(setup: Setup, start_K: float) -> Setup:
    """Return `setup` with everything at `start_K` before the weld but the holders.

    Raises
    ------
    InputError
        When that is beyond what a setup takes.
    """
    return setup.with_({"ambient.temperature": start_K})


def checked(setup: Setup, welds: int, rest_s: float) -> None:
    """Raise InputError when so many welds cannot be worked out; nothing is run."""
    if not 2 <= welds <= MOST_WELDS:
        raise InputError("spots", welds, f"2 to {MOST_WELDS} welds")
    if not SHORTEST_REST_S <= rest_s <= LONGEST_REST_S:
        raise InputError("rest", f"{rest_s:g} s", f"{SHORTEST_REST_S:g} s to {LONGEST_REST_S:g} s")
    whole_cell(setup)


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
        Of the first weld.
    welds : int
    rest_s : float
    march : callable
        Returns the figures of a setup; asked once, for the warmest weld that a setup can describe.
    """
    checked(setup, welds, rest_s)
    row, heat_J = Row(setup, welds), heat_left_J(figures)
    first_K, ambient = float(figures["interior_peak_K"]), setup.ambient_K
    wall, inside, rim = row.rises(heat_J, rest_s)
    extra = _extra_per_kelvin(setup, first_K, float(wall[:welds].max()), march)
    rim_first_K = ambient + float(rim[0])

    def interior(wall: FloatArray, inside: FloatArray, rim: FloatArray) -> FloatArray:
        return first_K + inside[:welds] + extra * wall[:welds]

    def electrolyte(wall: FloatArray, inside: FloatArray, rim: FloatArray) -> FloatArray:
        return float(figures["film_peak_K"]) + (1.0 + extra) * wall[:welds]

    def gasket(wall: FloatArray, inside: FloatArray, rim: FloatArray) -> FloatArray:
        """Never below what the weld itself says of its own rim."""
        return ambient + rim + max(0.0, float(figures["gasket_peak_K"]) - rim_first_K)

    bounds = []
    for figure, what, peaks in (
        ("interior_peak_K", "the interior", interior),
        ("film_peak_K", "electrolyte below the wall", electrolyte),
        ("gasket_peak_K", "the gasket", gasket),
    ):
        limits = [k.value for k in setup.limits if k.figure == figure and k.sense == "at most"]
        if limits and figures.get(figure) is not None:
            each = tuple(float(v) for v in peaks(wall, inside, rim))
            rest = _shortest(row, heat_J, peaks, min(limits))
            bounds.append(Bound(what, min(limits), each, rest))
    return Repeated(
        welds,
        rest_s,
        heat_J,
        row.apart_m,
        tuple(float(v) for v in ambient + wall),
        tuple(float(v) for v in ambient + inside),
        tuple(float(v) for v in ambient + rim),
        tuple(float(v) for v in interior(wall, inside, rim)),
        tuple(bounds),
    )


def _extra_per_kelvin(
    setup: Setup,
    first_K: float,
    rise_K: float,
    march: Callable[[Setup], Mapping[str, Any]],
) -> float:
    """By how much more than its warmer start the weld's own peak rises, per kelvin; never below zero."""
    # A setup cannot start above a limit of its own.
    limits = [one.value for one in setup.limits if one.what.unit == "K" and one.sense == "at most"]
    most = min([MOST_RISE_K, *(0.9 * (bound_K - setup.ambient_K) for bound_K in limits)])
    probed = min(rise_K, most)
    if probed <= 0.0:
        return 0.0
    last_K = float(march(warmed(setup, setup.ambient_K + probed))["interior_peak_K"])
    return max(0.0, (last_K - first_K) / probed - 1.0)


def _shortest(row: Row, heat_J: float, peaks: Callable[..., FloatArray], limit_K: float) -> float | None:
    """Shortest rest [s] that keeps the limit; None when none is enough."""
    from scipy.optimize import brentq

    def above_K(rest_s: float) -> float:
        return float(peaks(*row.rises(heat_J, rest_s)).max()) - limit_K

    if above_K(LONGEST_REST_S) > 0.0:
        return None
    if above_K(SHORTEST_REST_S) <= 0.0:
        return SHORTEST_REST_S
    # The search is in the logarithm, as rests of a tenth of a second and of an hour are alike to it.
    low, high = math.log(SHORTEST_REST_S), math.log(LONGEST_REST_S)
    return math.exp(float(brentq(lambda x: above_K(math.exp(x)), low, high, xtol=1e-3)))
