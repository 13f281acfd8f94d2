"""Where the uncertain inputs of a bench lie, given what was seen, and how far they may still be off.

Inputs are counted in independent standard deviations from what is believed before (`nugget.study.inputs`),
so that the belief is a standard normal one. Marches are made at places drawn from what is known so far, at
first the belief itself; a response is fitted to them, and what is known is worked out anew from it: posterior
linearisation (Garcia-Fernandez et al., IEEE Trans. Signal Process. 63 (2015) 5561), with quadratic terms and
the exact likelihood of what was seen. What marches miss the response by, each against the fit without
it, is unknown too, and is fitted along: so curvature, and leaps of the model from march to march, make the
answer wider and never end the search. Most marches are on a coarser grid; few on the bench's own correct
them. The equations: manual, theory-chances.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from nugget.arrays import BoolArray, FloatArray
from nugget.errors import SolverError
from nugget.study.calibration.bench import COLD, CURRENT, INNER, PRINT, VOLTAGE, Bench
from nugget.study.calibration.local_response import LocalResponse, respond
from nugget.study.calibration.marcher import Marcher
from nugget.study.calibration.observation import Traced
from nugget.study.calibration.weighted_draws import halfway, likeliest_near, moments
from nugget.study.inputs.sobol import sobol
from nugget.study.inputs.uncertain import FARTHEST, Inputs
from nugget.study.statement.statement import coarse

FIRST, MORE, EACH = 12, 20, 2.0
"""Places of the first round and of each other: these, and for each input so many, or a quarter of that."""
UNMARCHED = 4
"""Times as many where no weld is simulated: a resistance alone takes milliseconds."""
WORTH = 0.7
"""A grid with less than this share of the refinement is worth correcting."""
FINE = 4
"""Marches on the bench's own grid in each round but the first."""
LEAST_ROUNDS, MOST_ROUNDS = 3, 6
CLOUD = 1.3
"""Marches lie this much farther apart than what is known: the response shall hold in the tails too."""
REACH = 3.0
"""Standard deviations of the marches up to which a response is believed."""
MOVED, CHANGED = 0.5, 0.2
"""The search has settled when a round with fresh marches moves the inputs by no more than the first of their
standard deviations, and changes these by no more than the second as a logarithm (root mean squares) ..."""
ASTRAY = 1.0
"""Where even the last of the rounds moves them by more, nothing is known."""
EVEN, FALLING = 0.3, 0.75
"""... and when marches are off the response by less than the first of the spread of what was seen, or that
falls to no less than the second from round to round any more."""
LEAST_SHARE = 0.01
"""Outputs are responded to as logarithms where no march gives less than this share of the largest."""
SEEN = 0.03
"""An input whose information is below this, of one for what was believed, moves nothing that was seen."""
APART, TOGETHER = 0.2, 0.3
"""Correlations up to which two inputs are handed on as if they were independent, and above which they are
said to hang together. Dropping all that no input is narrowed by itself would widen what is known of a sum,
such as that of the resistances in series, and could narrow what adds up."""
WIDER = 1.2
"""By how much what is told by welds is less certain than marches make it. The response's error at the true
inputs has more shapes than its misses at a few dozen marches show: over 24 invented machines these inputs
lay, squared and over all directions, 1.33 times as far off as said; 1.0 times where it had no error there."""
MISSES = 6
"""Patterns in which marches are off the response that are fitted along ..."""
LEAST_MISS = 0.02
"""... where their variance, summed over what was seen in units of its spread, is above this."""


class Posterior:
    """Mean deviations, and their covariance.

    Attributes
    ----------
    place : ndarray, shape (p,)
        Independent deviations of the inputs.
    covariance : ndarray, shape (p, p)
    outputs : ndarray, shape (m,)
        Of the model there.
    slopes : ndarray, shape (m, p)
    active : ndarray of bool, shape (p,)
        Whether an input moves anything that was seen.
    missed : ndarray, shape (m,)
        Standard deviation of what a march is off the response.
    unevenness : float
        Root mean square of these, each as a share of the spread of what was seen.
    trouble : str
        Why there is none; empty when there is.
    """

    def __init__(self, bench: Bench, inputs: Inputs, marcher: Marcher) -> None:
        self.bench, self.inputs, self.marcher = bench, inputs, marcher
        count = len(inputs.items)
        self.place, self.covariance, self.trouble = np.zeros(count), np.eye(count), ""
        self.spreads, self.positive = _spreads(bench), _positive(bench)
        self.marches = any(case.marched for case in bench.cases)
        refinement = bench.setup.file.numerics.refinement
        cheaper = coarse(bench.setup).file.numerics.refinement < WORTH * refinement
        self.own_grid = not (self.marches and cheaper)
        self.marched: dict[bool, tuple[FloatArray, FloatArray]] = {}
        self.unevenness, self.missed = 0.0, np.zeros(bench.outputs)
        self._search()
        own = marcher.outputs(inputs, self.place[None, :])[0]
        if own is None:
            raise SolverError(0.0, f"no answer for the setup as it is fitted: {marcher.reason}")
        self.outputs = own
        self.slopes = self.response.slopes(self.place)
        if self.correction is not None:
            self.slopes = self.slopes + self.correction.slopes(self.place)
        per_log = np.where(self.logs, own, 1.0)
        self.slopes, self.missed = per_log[:, None] * self.slopes, per_log * self.missed
        self.active = np.diag(bench.hopeful(self.slopes)) > SEEN

    def shares(self, information: FloatArray | None = None) -> FloatArray:
        """What is left of each input's standard deviation, shape (p,); by all that was seen by default."""
        before = np.eye(len(self.place))
        known = self.covariance if information is None else np.linalg.inv(before + information)
        root = self.inputs.root
        return np.asarray(np.sqrt(np.diag(root @ known @ root.T)), dtype=np.float64)

    def _search(self) -> None:
        """March and work out what is known, round by round, until that stays as it is."""
        for turn in range(MOST_ROUNDS):
            before, old = self.unevenness, (self.place, self.covariance)
            self._march(turn)
            new = self._known()
            self.place, self.covariance = new
            moved, changed = _between(new, old)
            as_even = self.unevenness < EVEN or self.unevenness > FALLING * before
            if turn + 1 >= LEAST_ROUNDS and as_even and moved < MOVED and changed < CHANGED:
                break
        pair = [(place, _wider(known) if self.marches else known) for place, known in (new, old)]
        self.place, self.covariance = _mixed(*pair)
        if moved > ASTRAY:
            self.trouble = f"what is known still moved after {MOST_ROUNDS} rounds of simulations"

    def _march(self, turn: int) -> None:
        """Simulate at places drawn from what is known so far."""
        from scipy.special import ndtri

        count = len(self.place)
        fine = FINE if turn > 0 and not self.own_grid else 0
        pairs = (FIRST + int(EACH * count)) // 2 if turn == 0 else (MORE + int(0.25 * EACH * count)) // 2
        if not self.marches:
            pairs *= UNMARCHED
        half = sobol(count, pairs + fine // 2, 100 + turn)
        normal = ndtri(np.clip(half, 1e-6, 1.0 - 1e-6))
        both = np.stack([normal, -normal], axis=1).reshape(-1, count)
        away = (CLOUD if turn > 0 else 1.0) * both @ np.linalg.cholesky(self.covariance).T
        places = np.clip(self.place + away, -FARTHEST, FARTHEST)
        self._add(places[fine:], quick=not self.own_grid)
        if fine:
            self._add(places[:fine], quick=False)

    def _add(self, places: FloatArray, quick: bool) -> None:
        found = self.marcher.outputs(self.inputs, places, quick)
        good = [k for k, one in enumerate(found) if one is not None]
        if not good and quick not in self.marched:
            raise SolverError(0.0, f"no answer near the setup as it is: {self.marcher.reason}")
        new = places[good], np.array([found[k] for k in good]).reshape(len(good), self.bench.outputs)
        old = self.marched.get(quick)
        self.marched[quick] = (
            new if old is None else (np.vstack([old[0], new[0]]), np.vstack([old[1], new[1]]))
        )

    def _known(self) -> tuple[FloatArray, FloatArray]:
        """Mean and covariance, from all marches so far."""
        around = CLOUD**2 * self.covariance
        everything = np.vstack([values for _, values in self.marched.values()])
        self.logs = self.positive & (everything.min(axis=0) > LEAST_SHARE * everything.max(axis=0))
        typical = np.where(self.logs, np.exp(np.log(np.where(self.logs, everything, 1.0)).mean(axis=0)), 1.0)
        self.scales = self.spreads / typical
        places, values = self.marched[not self.own_grid]
        self.response = last = respond(places, self._in(values), self.place, around, self.scales)
        self.correction: LocalResponse | None = None
        if not self.own_grid and False in self.marched:
            places, values = self.marched[False]
            missed = self._in(values) - self.response(places)
            self.correction = last = respond(places, missed, self.place, around, self.scales)
        misses = self._misses(last)
        log_density = self._log_density(misses, np.linalg.inv(np.linalg.cholesky(around)))
        count = len(self.place)
        start = np.append(self.place, np.zeros(len(misses)))
        whole = np.eye(len(start))
        whole[:count, :count] = halfway(self.covariance)
        mean, covariance = moments(log_density, start, whole)
        place = np.clip(likeliest_near(log_density, mean, covariance), -FARTHEST, FARTHEST)
        covariance = covariance + np.outer(mean - place, mean - place)
        return place[:count], covariance[:count, :count]

    def _log_density(self, misses: FloatArray, root: FloatArray) -> Callable[[FloatArray], FloatArray]:
        """Of draws of the inputs and of the amounts of the `misses`, within reach of the marches."""
        seen, centre, count = np.flatnonzero(np.isfinite(self.scales)), self.place, len(self.place)
        parts = [one.only(seen) for one in (self.response, self.correction) if one is not None]
        logs, misses = self.logs[seen], misses[:, seen]

        def log_density(draws: FloatArray) -> FloatArray:
            places = np.clip(draws[:, :count], -FARTHEST, FARTHEST)
            found = draws[:, count:] @ misses
            for part in parts:
                found += part(places)
            outputs = np.zeros((len(draws), self.bench.outputs))
            outputs[:, seen] = np.where(logs, np.exp(np.where(logs, found, 0.0)), found)
            beyond = np.maximum(np.abs((draws[:, :count] - centre) @ root.T) - REACH, 0.0)
            unlikely = 0.5 * (draws**2).sum(axis=1) + 2.0 * (beyond**2).sum(axis=1)
            return np.asarray(self.bench.log_likelihood(outputs) - unlikely, dtype=np.float64)

        return log_density

    def _in(self, values: FloatArray) -> FloatArray:
        """Outputs as the response has them: logarithms of those that are never near zero."""
        return np.where(self.logs, np.log(np.where(self.logs, values, 1.0)), values)

    def _misses(self, response: LocalResponse) -> FloatArray:
        """Patterns, shape (k, m), in which marches are off the response, each at one standard deviation."""
        near = response.nearness
        freedom = max(float(near.sum()) - 1.0, 3.0)
        widened = freedom / (freedom - 2.0)
        weight = np.sqrt(widened * near / near.sum())
        whole = weight[:, None] * response.missed
        self.missed = np.sqrt((whole**2).sum(axis=0))
        self.unevenness = float(np.sqrt(np.mean((self.missed / self.scales)[np.isfinite(self.scales)] ** 2)))
        scaled = whole / self.scales
        _, sizes, patterns = np.linalg.svd(scaled, full_matrices=False)
        kept = [k for k in range(min(MISSES, len(sizes))) if sizes[k] ** 2 > LEAST_MISS]
        left = scaled @ patterns[kept].T
        amounts = left / np.maximum(sizes[kept], 1e-300)
        return np.asarray(amounts.T @ whole, dtype=np.float64)


def _between(new: tuple[FloatArray, FloatArray], old: tuple[FloatArray, FloatArray]) -> tuple[float, float]:
    """By how many deviations places moved, and deviations changed as logarithms; root mean squares."""
    deviations, others = (np.sqrt(np.diag(one[1])) for one in (new, old))
    moved = (new[0] - old[0]) / deviations
    return float(np.sqrt(np.mean(moved**2))), float(np.sqrt(np.mean(np.log(deviations / others) ** 2)))


def _mixed(
    one: tuple[FloatArray, FloatArray], two: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of an even mixture: what two rounds differ by is uncertain too."""
    apart = 0.5 * (one[0] - two[0])
    return 0.5 * (one[0] + two[0]), 0.5 * (one[1] + two[1]) + np.outer(apart, apart)


def _wider(covariance: FloatArray) -> FloatArray:
    """Less certain by `WIDER`, but nowhere less than what was believed before."""
    share = WIDER**-2
    certain = share * np.linalg.inv(covariance) + (1.0 - share) * np.eye(len(covariance))
    return np.asarray(np.linalg.inv(certain), dtype=np.float64)


def _spreads(bench: Bench) -> FloatArray:
    """Spread of what was seen of each output, shape (m,); infinite where nothing was."""
    found = np.full(bench.outputs, np.inf)
    for one in bench.observations:
        at = list(one.outputs) if isinstance(one, Traced) else [one.output]
        spread = one.noise if isinstance(one, Traced) else one.spread / one.count**0.5
        found[at] = 1.0 / np.hypot(1.0 / found[at], 1.0 / spread)
    return found


def _positive(bench: Bench) -> BoolArray:
    """Outputs that are never below zero and of any order of magnitude, shape (m,)."""
    found = np.zeros(bench.outputs, dtype=bool)
    for case in bench.cases:
        for run in (INNER, CURRENT, VOLTAGE, PRINT, COLD):
            found[list(case.outputs(run))] = True
    return found


def partners(covariance: FloatArray, column: int, among: Sequence[int]) -> int | None:
    """Which of some inputs an input hangs together with most; None where with none of them."""
    alike = np.abs(_correlations(covariance))[column]
    best = max((k for k in among if k != column), key=lambda k: float(alike[k]), default=None)
    return best if best is not None and alike[best] > TOGETHER else None


def hanging(covariance: FloatArray) -> list[int]:
    """Inputs of which another tells something: what is known of both is lost with either."""
    alike = np.abs(_correlations(covariance)) - np.eye(len(covariance))
    return [int(k) for k in np.flatnonzero(alike.max(axis=0) > APART)]


def _correlations(covariance: FloatArray) -> FloatArray:
    deviations = np.sqrt(np.diag(covariance))
    return np.asarray(covariance / np.outer(deviations, deviations))
