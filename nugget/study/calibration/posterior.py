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

from collections.abc import Sequence

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.local_response import LocalResponse, respond
from nugget.study.calibration.marcher import Marcher
from nugget.study.calibration.observation import Traced
from nugget.study.calibration.weighted_draws import likeliest, moments
from nugget.study.inputs.sobol import sobol
from nugget.study.inputs.uncertain import FARTHEST, Inputs
from nugget.study.statement.statement import coarse

FIRST, MORE, FINE = 32, 12, 4
"""Places of the first round and of each other one, and of marches on the bench's own grid in the latter."""
LEAST_ROUNDS, MOST_ROUNDS = 3, 8
CLOUD = 1.3
"""Marches lie this much farther apart than what is known: the response shall hold in the tails too."""
REACH = 3.0
"""Standard deviations of the marches up to which a response is believed."""
MOVED, CHANGED = 0.5, 0.35
"""The search has settled when a round with fresh marches moves no input by more than the first of its standard
deviations, and changes no deviation by more than the second as a logarithm ..."""
EVEN, FALLING = 0.3, 0.75
"""... and when marches are off the response by less than the first of the spread of what was seen, or that
falls to no less than the second from round to round any more."""
LEAST_SHARE = 1e-3
"""Outputs are responded to as logarithms where no march gives less than this share of the largest."""
SEEN = 0.03
"""An input whose information is below this, of one for what was believed, moves nothing that was seen."""
MISSES = 6
"""Patterns in which marches are off the response that are fitted along ..."""
LEAST_MISS = 0.02
"""... where their variance, summed over what was seen in units of its spread, is above this."""


class Posterior:
    """Likeliest deviations, and their covariance about these.

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
    unevenness : float
        By how much a march is off the response, as a share of the spread of what was seen; the most.
    trouble : str
        Why there is none; empty when there is.
    """

    def __init__(self, bench: Bench, inputs: Inputs, marcher: Marcher) -> None:
        self.bench, self.inputs, self.marcher = bench, inputs, marcher
        count = len(inputs.items)
        self.place, self.covariance, self.trouble = np.zeros(count), np.eye(count), ""
        self.spreads = _spreads(bench)
        self.own_grid = (
            coarse(bench.setup).file.numerics.refinement > 0.7 * bench.setup.file.numerics.refinement
        )
        self.marched: dict[bool, tuple[FloatArray, FloatArray]] = {}
        self.unevenness = 0.0
        self._search()
        own = marcher.outputs(inputs, self.place[None, :])[0]
        if own is None:
            raise SolverError(0.0, f"no answer for the setup as it is fitted: {marcher.reason}")
        self.outputs = own
        self.slopes = self.response.slopes(self.place)
        if self.correction is not None:
            self.slopes = self.slopes + self.correction.slopes(self.place)
        self.slopes = np.where(self.logs, own, 1.0)[:, None] * self.slopes
        self.active = np.diag(bench.hopeful(self.slopes)) > SEEN

    def shares(self, information: FloatArray | None = None) -> FloatArray:
        """What is left of each input's standard deviation, shape (p,); by all that was seen by default."""
        before = np.eye(len(self.place))
        known = self.covariance if information is None else np.linalg.inv(before + information)
        root = self.inputs.root
        return np.asarray(np.sqrt(np.diag(root @ known @ root.T)), dtype=np.float64)

    def _search(self) -> None:
        for turn in range(MOST_ROUNDS):
            self._march(turn)
            before = self.unevenness
            place, covariance = self._known()
            as_even = self.unevenness < EVEN or self.unevenness > FALLING * before
            settled = as_even and self._settled(place, covariance)
            self.place, self.covariance = place, covariance
            if settled and turn + 1 >= LEAST_ROUNDS:
                return
        self.trouble = f"what is known still moved after {MOST_ROUNDS} rounds of simulations"

    def _march(self, turn: int) -> None:
        """Simulate at places drawn from what is known so far."""
        from scipy.special import ndtri

        fine = FINE if turn > 0 and not self.own_grid else 0
        more = (FIRST if turn == 0 else MORE) + fine
        half = sobol(len(self.place), more // 2 + more % 2, 100 + turn)
        normal = ndtri(np.clip(half, 1e-6, 1.0 - 1e-6))
        both = np.stack([normal, -normal], axis=1).reshape(-1, len(self.place))[:more]
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
        """Likeliest place, and covariance about it, from all marches so far."""
        around = CLOUD**2 * self.covariance
        everything = np.vstack([values for _, values in self.marched.values()])
        self.logs = everything.min(axis=0) > LEAST_SHARE * everything.max(axis=0)
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
        count, root = len(self.place), np.linalg.inv(np.linalg.cholesky(around))
        response, correction, bench = self.response, self.correction, self.bench
        centre = self.place

        def log_density(draws: FloatArray) -> FloatArray:
            places = np.clip(draws[:, :count], -FARTHEST, FARTHEST)
            outputs = response(places) + draws[:, count:] @ misses
            if correction is not None:
                outputs = outputs + correction(places)
            beyond = np.maximum(np.abs((draws[:, :count] - centre) @ root.T) - REACH, 0.0)
            unlikely = 0.5 * (draws**2).sum(axis=1) + 2.0 * (beyond**2).sum(axis=1)
            return np.asarray(bench.log_likelihood(self._out(outputs)) - unlikely, dtype=np.float64)

        start = np.zeros(count + len(misses))
        start[:count] = centre
        whole = np.eye(len(start))
        whole[:count, :count] = around
        mean, covariance = moments(log_density, start, whole)
        place = np.clip(likeliest(log_density, mean), -FARTHEST, FARTHEST)
        covariance = covariance + np.outer(mean - place, mean - place)
        return place[:count], covariance[:count, :count]

    def _in(self, values: FloatArray) -> FloatArray:
        """Outputs as the response has them: logarithms of those that are never near zero."""
        return np.where(self.logs, np.log(np.where(self.logs, values, 1.0)), values)

    def _out(self, values: FloatArray) -> FloatArray:
        return np.where(self.logs, np.exp(np.where(self.logs, values, 0.0)), values)

    def _misses(self, response: LocalResponse) -> FloatArray:
        """Patterns, shape (k, m), in which marches are off the response, each times its standard deviation."""
        near = response.nearness
        freedom = max(float(near.sum()) - 1.0, 3.0)
        widened = freedom / (freedom - 2.0)
        weight = np.sqrt(widened * near / near.sum())
        scaled = weight[:, None] * response.missed / self.scales
        self.unevenness = float(np.sqrt((scaled**2).sum(axis=0).max()))
        _, sizes, patterns = np.linalg.svd(scaled, full_matrices=False)
        kept = [k for k in range(min(MISSES, len(sizes))) if sizes[k] ** 2 > LEAST_MISS]
        whole = weight[:, None] * response.missed
        left = scaled @ patterns[kept].T
        amounts = left / np.maximum(sizes[kept], 1e-300)
        return np.asarray(amounts.T @ whole, dtype=np.float64)

    def _settled(self, place: FloatArray, covariance: FloatArray) -> bool:
        deviations = np.sqrt(np.diag(covariance))
        moved = np.abs(place - self.place) / deviations
        changed = np.abs(np.log(deviations / np.sqrt(np.diag(self.covariance))))
        return bool(moved.max() < MOVED and changed.max() < CHANGED)


def _spreads(bench: Bench) -> FloatArray:
    """Spread of what was seen of each output, shape (m,); infinite where nothing was."""
    found = np.full(bench.outputs, np.inf)
    for one in bench.observations:
        at = list(one.outputs) if isinstance(one, Traced) else [one.output]
        spread = one.noise if isinstance(one, Traced) else one.spread / one.count**0.5
        found[at] = 1.0 / np.hypot(1.0 / found[at], 1.0 / spread)
    return found


def partners(covariance: FloatArray, column: int, among: Sequence[int]) -> int | None:
    """Which of some inputs an input hangs together with most; None where with none of them."""
    deviations = np.sqrt(np.diag(covariance))
    alike = {k: abs(covariance[column, k]) / deviations[column] / deviations[k] for k in among if k != column}
    best = max(alike, key=lambda k: alike[k], default=None)
    return best if best is not None and alike[best] > 0.3 else None
