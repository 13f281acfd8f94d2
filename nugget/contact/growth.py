"""How fast a contact grows under its force: the rate equation of the contact radius (manual, theory-contact).

A hot contact creeps. What it carries is ``F = 2 pi * integral over 0..a of H(T(r), e) r dr`` with
the indentation hardness `H` at the contact's own rate of deformation ``e = (da/dt) / a``
(similarity of indentation in rate-dependent solids: Bower, Fleck, Needleman and Ogbonna, Proc. R.
Soc. A 441 (1993) 97, from memory). Solved for `da/dt` this is a stiff differential equation. An
implicit stage of length `tau` that starts from `a_s` has ``da/dt = (a - a_s) / tau``, so both
the rate and the integral grow with `a`: one root, and it is bracketed.

Hardness comes as rows at fixed rates; between two rows what the contact carries goes by a power of
the rate. Below the slowest row and above the fastest one the row itself is held. A material with
equal rows has no rate in it, and the equation becomes the balance of forces.
"""

from __future__ import annotations

import bisect
import math
from typing import Protocol

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]

SINKING_1_S = 10.0
"""Rate [1/s] at which the load share of a capped contact is told: at 10 1/s a face of 1.5 mm sinks
by 40 um in 5 ms, a quarter of thin strip (assumption)."""
HALVINGS = 24


class HardnessRows(Protocol):
    """Hardness in each column at each rate, an array or what works out rows as they are asked for."""

    def __getitem__(self, rates: slice, /) -> FloatArray:
        """Rows of these rates [Pa], shape (n_rates, nr)."""
        ...


class RootFinding(HardnessRows, Protocol):
    """Hardness that finds the root of the rate equation by itself."""

    def free_radius_m(
        self,
        force_N: float,
        rates_1_s: FloatArray,
        r_faces_m: FloatArray,
        stage: tuple[float, float],
        likely_m: float,
    ) -> float:
        """Radius, whatever bounds it; parameters as those of `grown_radius`."""
        ...


def grown_radius(
    force_N: float,
    strength_Pa: HardnessRows,
    rates_1_s: FloatArray,
    r_faces_m: FloatArray,
    stage: tuple[float, float],
    limits_m: tuple[float, float],
    likely_m: float = 0.0,
) -> tuple[float, float]:
    """Contact radius at the end of an implicit stage, and the share of the force it carries.

    Parameters
    ----------
    force_N : float
    strength_Pa : ndarray, shape (n_rates, nr), or HardnessRows
        Hardness of the softer side in each column at each rate; it must not fall with the rate.
    rates_1_s : ndarray, shape (n_rates,)
        Increasing.
    r_faces_m : ndarray, shape (nr + 1,)
    stage : (float, float)
        Radius that the stage starts from [m] and its length [s]; an infinite length asks for the
        radius that carries the force at the slowest rate.
    limits_m : (float, float)
        Least and largest radius. A contact does not shrink while it is loaded.
    likely_m : float
        Where the radius may be; it saves work and decides nothing. 0: not known.

    Returns
    -------
    radius_m : float
    share : float
        1 below the largest radius.
    """
    least, cap = limits_m
    # Asked for by name: a check against a protocol takes longer than the search.
    of_its_own = getattr(strength_Pa, "free_radius_m", None)
    if of_its_own is None:
        radius = _free_radius(force_N, strength_Pa, rates_1_s, r_faces_m, stage, likely_m)
    else:
        radius = of_its_own(force_N, rates_1_s, r_faces_m, stage, likely_m)
    radius = max(radius, least)
    if radius < cap:
        return radius, 1.0
    return cap, held_share(force_N, strength_Pa, rates_1_s, r_faces_m, cap)


def _free_radius(
    force_N: float,
    strength_Pa: HardnessRows,
    rates_1_s: FloatArray,
    r_faces_m: FloatArray,
    stage: tuple[float, float],
    likely_m: float,
) -> float:
    """Root of the rate equation, whatever bounds the radius."""
    start, tau = stage
    rows = _Rows(strength_Pa, r_faces_m)
    last = len(rates_1_s) - 1

    def too_slow(row: int) -> bool:
        return rows.balanced_m(row, force_N) > _moved(start, float(rates_1_s[row]), tau)

    # The harder the rate makes it the smaller the contact, and the faster it grew the wider: the rows
    # that are too slow come first. They mostly end within two rows of where they may.
    if likely_m > 0.0:
        slower = min(max(bisect.bisect_left(rates_1_s, (likely_m - start) / (tau * likely_m)), 1), last)
        rows.fetch(max(slower - 2, 0), min(slower + 2, last + 1))
    else:
        slower = bisect.bisect_left(range(last + 1), True, key=lambda row: not too_slow(row))
    while slower <= last and too_slow(slower):
        slower += 1
    while slower > 0 and not too_slow(slower - 1):
        slower -= 1
    if slower in (0, last + 1):
        return rows.balanced_m(min(slower, last), force_N)
    rates = float(rates_1_s[slower - 1]), float(rates_1_s[slower])
    return _between(force_N, (rows, slower), rates, (start, tau))


def held_share(
    force_N: float, strength_Pa: HardnessRows, rates_1_s: FloatArray, r_faces_m: FloatArray, radius_m: float
) -> float:
    """Share of the force that a contact of `radius_m` carries while it sinks at `SINKING_1_S`."""
    row = min(max(bisect.bisect_left(rates_1_s, SINKING_1_S), 1), len(rates_1_s) - 1)
    around = slice(row - 1, row + 1)
    carried = [_carried(one, r_faces_m, radius_m) for one in strength_Pa[around]]
    holds = math.exp(float(np.interp(math.log(SINKING_1_S), np.log(rates_1_s[around]), np.log(carried))))
    return min(1.0, holds / force_N)


def _carried(hardness_Pa: FloatArray, r_faces_m: FloatArray, radius_m: float) -> float:
    """Integral of 2 pi H r dr up to `radius_m` [N], never quite nothing."""
    inside = np.minimum(r_faces_m, radius_m) ** 2
    return max(math.pi * float((hardness_Pa * np.diff(inside)).sum()), 1e-30)


def _moved(start_m: float, rate_1_s: float, tau_s: float) -> float:
    """Radius whose implicit rate ``(a - a_s) / (tau a)`` is the given one; infinite past all bounds."""
    left = 1.0 - rate_1_s * tau_s
    return start_m / left if left > 0.0 else math.inf


class _Rows:
    """What a contact carries at each rate, row by row as it is asked for."""

    def __init__(self, strength_Pa: HardnessRows, r_faces_m: FloatArray) -> None:
        square = r_faces_m**2
        self._strength_Pa, self._rings = strength_Pa, math.pi * (square[1:] - square[:-1])
        self.square = square.tolist()
        self._rows: dict[int, list[float]] = {}

    def carried_N(self, row: int) -> list[float]:
        """What the columns inside each face carry."""
        if row not in self._rows:
            self.fetch(row, row + 1)
        return self._rows[row]

    def fetch(self, first: int, end: int) -> None:
        """Work out the rows from `first` to before `end` together."""
        carried = (self._strength_Pa[first:end] * self._rings).cumsum(axis=1).tolist()
        for row, inside in enumerate(carried, first):
            self._rows[row] = [0.0, *inside]

    def balanced_m(self, row: int, force_N: float) -> float:
        """Radius that carries the force; the outermost face where nothing does."""
        carried, square = self.carried_N(row), self.square
        if force_N >= carried[-1]:
            return math.sqrt(square[-1])
        i = bisect.bisect_right(carried, force_N)
        share = (force_N - carried[i - 1]) / (carried[i] - carried[i - 1])
        return math.sqrt(square[i - 1] + share * (square[i] - square[i - 1]))


def _between(
    force_N: float, between: tuple[_Rows, int], rates: tuple[float, float], stage: tuple[float, float]
) -> float:
    """Root between two rates: the radius grows with the rate, and so does what it carries."""
    (rows, row), (start, tau), (low, high) = between, stage, rates
    slow, fast, square = rows.carried_N(row - 1), rows.carried_N(row), rows.square
    fastest = (1.0 - 1e-12) / tau
    high_s = min(1.0, math.log(fastest / low) / math.log(high / low))
    span = math.log(high / low)
    aim = math.log(force_N)

    def miss(share: float) -> tuple[float, float]:
        radius = start / (1.0 - low * math.exp(share * span) * tau)
        inside = min(radius * radius, square[-1])
        i = min(bisect.bisect_right(square, inside), len(square) - 1)
        part = (inside - square[i - 1]) / (square[i] - square[i - 1])
        slow_N = max(slow[i - 1] + part * (slow[i] - slow[i - 1]), 1e-30)
        fast_N = max(fast[i - 1] + part * (fast[i] - fast[i - 1]), 1e-30)
        return (1.0 - share) * math.log(slow_N) + share * math.log(fast_N) - aim, radius

    (f0, _), (f1, _) = miss(0.0), miss(high_s)
    s0, s1, side = 0.0, high_s, 0
    radius = start
    for _ in range(60):
        # Regula falsi; an end that stays put twice counts half (Illinois).
        share = s1 - f1 * (s1 - s0) / (f1 - f0) if f1 != f0 else 0.5 * (s0 + s1)
        if not s0 < share < s1:
            share = 0.5 * (s0 + s1)
        found, radius = miss(share)
        if abs(found) < 1e-9 or s1 - s0 < 1e-12:
            break
        if found > 0.0:
            s1, f1 = share, found
            f0, side = (0.5 * f0 if side == 1 else f0), 1
        else:
            s0, f0 = share, found
            f1, side = (0.5 * f1 if side == -1 else f1), -1
    return radius


def grown_fraction(
    pressure_Pa: float,
    strength_Pa: FloatArray,
    rates_1_s: FloatArray,
    stage: tuple[FloatArray, float],
    least: FloatArray,
) -> FloatArray:
    """Real over apparent area under flat faces at the end of an implicit stage.

    Each spot is a small contact of its own: ``f = min(1, p / H(T, e))``, and as its radius goes with
    the root of `f`, ``e = (df/dt) / (2 f)``. It never falls.

    Parameters
    ----------
    pressure_Pa : float
        Force over apparent area.
    strength_Pa : ndarray, shape (n_rates, nr)
    rates_1_s : ndarray, shape (n_rates,)
    stage : (ndarray, float)
        Fractions that the stage starts from, and its length [s].
    least : ndarray, shape (nr,)
        Fractions at the start of the step.
    """
    start, tau = stage
    hardness = np.maximum(strength_Pa, 1e-3 * pressure_Pa)
    asked = np.minimum(1.0, pressure_Pa / hardness)
    room = 1.0 - 2.0 * rates_1_s * tau
    with np.errstate(divide="ignore"):
        moved = np.where(room > 0.0, 1.0 / np.maximum(room, 1e-300), np.inf)[:, None] * np.maximum(
            start, 1e-12
        )
    slower = (asked > moved).sum(axis=0)
    row = np.clip(slower, 1, len(rates_1_s) - 1)
    columns = np.arange(asked.shape[1])
    ln_slow, ln_fast = np.log(hardness[row - 1, columns]), np.log(hardness[row, columns])
    ln_rate, span = np.log(rates_1_s)[row - 1], np.log(rates_1_s[row] / rates_1_s[row - 1])
    low, high = np.zeros(len(columns)), np.ones(len(columns))
    for _ in range(HALVINGS):
        share = 0.5 * (low + high)
        left = 1.0 - 2.0 * np.exp(ln_rate + share * span) * tau
        too_slow = (left > 0.0) & (
            np.minimum(1.0, pressure_Pa * np.exp(-(ln_slow + share * (ln_fast - ln_slow)))) * left > start
        )
        low, high = np.where(too_slow, share, low), np.where(too_slow, high, share)
    share = 0.5 * (low + high)
    between = np.minimum(1.0, pressure_Pa * np.exp(-(ln_slow + share * (ln_fast - ln_slow))))
    found = np.where(slower == 0, asked[0], np.where(slower == len(rates_1_s), asked[-1], between))
    return np.asarray(np.maximum(least, found), dtype=np.float64)
