"""Where the uncertain inputs of a bench lie, given what was seen, and how far they may still be off.

Inputs are counted in independent standard deviations from what is believed before (`nugget.study.inputs`),
so that the belief is a standard normal one. The likeliest place is found by models of the outputs,
quadratic in each input, within a trust region and on the exact likelihood of what was seen. The posterior
is handed on as a normal one around it. Its covariance is first that of the Fisher information of the
observations (Laplace's approximation; Kass and Raftery, J. Am. Stat. Assoc. 90 (1995) 773), then that of
draws from it, weighted with the likelihood on those models: it is wider where they are bent. The
equations: manual, theory-chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.marcher import Marcher
from nugget.study.calibration.observation import Observation, Traced
from nugget.study.inputs.sobol import sobol
from nugget.study.inputs.uncertain import FARTHEST, Inputs

NUDGE, LEAST_NUDGE = 0.5, 0.25
"""Step of the differences, in standard deviations: a model on a grid is a little uneven. Where an input is
told well by itself, twice what is left of it, and no less than the second."""
UNEVEN = 2.0
"""How much of the logarithm of the probability a last small step may promise and not keep: about a spread of
what was seen, shared by the outputs of the two marches that are compared."""
SEEN = 0.03
"""An input whose information is below this, of one for what was believed, moves nothing that was seen."""
RADIUS, LEAST_RADIUS = 1.5, 0.1
"""How far one step of the search may move any input, at first and at last."""
DRAWS, WIDER, LEAST_DRAWS = 12, 1.3, 100.0
"""Power of two of the draws for the covariance, how much wider than it they are drawn, and how many have to
count."""
STALE = 0.7
"""Slopes are worked out again once any input has moved this far."""
SETTLED = 0.05
"""The search ends where a step promises less than this much of the logarithm of the probability."""
MOST_STEPS = 12
BELIEVED = 0.25
"""A step counts when it brings this share of what the linear models promise."""


class Posterior:
    """Likeliest deviations and their covariance.

    Attributes
    ----------
    place : ndarray, shape (p,)
        Independent deviations of the inputs.
    outputs : ndarray, shape (m,)
        Of the model there.
    slopes : ndarray, shape (m, p)
        Nought for inputs that move nothing that was seen.
    covariance : ndarray, shape (p, p)
    trouble : str
        Why there is none; empty when there is.
    """

    def __init__(self, bench: Bench, inputs: Inputs, marcher: Marcher) -> None:
        self.bench, self.inputs, self.marcher = bench, inputs, marcher
        count = len(inputs.items)
        self.place, self.trouble = np.zeros(count), ""
        self.active = np.ones(count, dtype=bool)
        self.outputs = self._marched(self.place)
        self.slopes, self.slopes_at = np.zeros((len(self.outputs), count)), self.place
        self._differentiate(np.full(count, NUDGE), quick=True)
        self.first_slopes = self.slopes
        self.active = np.diag(bench.hopeful(self.slopes)) > SEEN
        self.slopes = np.where(self.active, self.slopes, 0.0)
        self.bench = replace(bench, observations=tuple(_sober(one) for one in bench.observations))
        self._search()
        self.bench = bench
        if not self.trouble:
            self._search()
        known = np.linalg.inv(np.eye(count) + self._information())
        self.covariance = self._weighted(np.asarray(known, dtype=np.float64))

    def _information(self) -> FloatArray:
        return self.bench.information(self.outputs, self.slopes)

    def _weighted(self, known: FloatArray) -> FloatArray:
        """Covariance of weighted draws about the likeliest place; that given where few of them count."""
        from scipy.special import ndtri

        cloud = sobol(len(known), 2**DRAWS, 1)
        normal = ndtri(np.clip(cloud, 1e-9, 1.0 - 1e-9))
        away = WIDER * normal @ np.linalg.cholesky(known).T
        seen = self.outputs + away @ self.slopes.T + 0.5 * away**2 @ self.bends.T
        log = self.bench.log_likelihood(seen) - 0.5 * ((self.place + away) ** 2).sum(axis=1)
        log = log + 0.5 * (normal**2).sum(axis=1)
        weight = np.exp(log - log.max())
        weight /= weight.sum()
        if 1.0 / float(weight @ weight) < LEAST_DRAWS:
            return known
        return np.asarray(np.einsum("n,ni,nj->ij", weight, away, away), dtype=np.float64)

    def shares(self, information: FloatArray | None = None) -> FloatArray:
        """What is left of each input's standard deviation, shape (p,); by all that was seen by default."""
        before = np.eye(len(self.place))
        known = self.covariance if information is None else np.linalg.inv(before + information)
        root = self.inputs.root
        return np.asarray(np.sqrt(np.diag(root @ known @ root.T)), dtype=np.float64)

    @property
    def all_slopes(self) -> FloatArray:
        """Slopes of what was not seen too, at least as they were where the search began; shape (m, p)."""
        return np.where(self.active, self.slopes, self.first_slopes)

    def _marched(self, place: FloatArray) -> FloatArray:
        found = self.marcher.outputs(self.inputs, place[None, :])[0]
        if found is None:
            raise SolverError(0.0, f"no answer for the setup as it is: {self.marcher.reason}")
        return found

    def _search(self) -> None:
        """Step by step; slopes on the way are taken on a coarser grid, those at the end are not."""
        exact, radius = self.exact and np.array_equal(self.slopes_at, self.place), RADIUS
        for _ in range(MOST_STEPS):
            step, promised = self._step(radius)
            gained = 0.0 if promised < SETTLED else self._tried(step)
            if gained < BELIEVED * promised or promised < SETTLED:
                radius = max(0.4 * float(np.abs(step).max()), LEAST_RADIUS)
                if exact and (promised < SETTLED or radius <= LEAST_RADIUS):
                    self._check_unevenness(promised - gained)
                    return
                if promised < SETTLED or radius <= LEAST_RADIUS:
                    exact, radius = self._renewed(quick=False), 4.0 * LEAST_RADIUS
            elif np.abs(self.place - self.slopes_at).max() > STALE:
                exact = self._renewed(quick=True)
        self.trouble = f"the fit still moved after {MOST_STEPS} steps"

    def _tried(self, step: FloatArray) -> float:
        """Go there where it is likelier; return by how much it is."""
        found = self.marcher.outputs(self.inputs, (self.place + step)[None, :])[0]
        if found is None:
            return -np.inf
        here = self._log_posterior(self.place, self.outputs)
        there = self._log_posterior(self.place + step, found)
        if there > here:
            self.place, self.outputs = self.place + step, found
        return there - here

    def _renewed(self, quick: bool) -> bool:
        """Take the slopes anew where the search stands; return whether on the bench's own grid."""
        alone = 1.0 / np.sqrt(1.0 + np.diag(self._information()))
        self._differentiate(np.clip(2.0 * alone, LEAST_NUDGE, NUDGE), quick)
        return not quick

    def _check_unevenness(self, promised: float) -> None:
        """What a tenth of a standard deviation promises and the model does not keep is its unevenness."""
        if promised > UNEVEN:
            reason = self.marcher.reason or "the model is too uneven on this grid: raise numerics.refinement"
            self.trouble = f"no place is found at which the fit settles: {reason}"

    def _log_posterior(self, place: FloatArray, outputs: FloatArray) -> float:
        return float(self.bench.log_likelihood(outputs[None, :])[0] - 0.5 * place @ place)

    def _step(self, radius: float) -> tuple[FloatArray, float]:
        """The likeliest step within a radius by slopes and curvatures, and what it promises."""
        from scipy.optimize import minimize

        columns = np.flatnonzero(self.active)
        slopes, bends, start = self.slopes[:, columns], self.bends[:, columns], self.place[columns]

        def loss(step: FloatArray) -> tuple[float, FloatArray]:
            nudges = 1e-4 * np.eye(len(step))
            around = np.vstack([step, step + nudges, step - nudges])
            bent = self.outputs + around @ slopes.T + 0.5 * around**2 @ bends.T
            values = self.bench.log_likelihood(bent)
            values = values - 0.5 * ((start + around) ** 2).sum(axis=1)
            up, down = np.split(values[1:], 2)
            return -float(values[0]), (down - up) / 2e-4

        bounds = [(max(-radius, -FARTHEST - x), min(radius, FARTHEST - x)) for x in start]
        nothing = np.zeros(len(columns))
        found = minimize(loss, nothing, jac=True, method="L-BFGS-B", bounds=bounds)
        step = np.zeros(len(self.place))
        step[columns] = found.x
        return step, loss(nothing)[0] - float(found.fun)

    def _differentiate(self, nudges: FloatArray, quick: bool) -> None:
        """Slopes and curvatures at the place of the inputs that move anything, by differences both ways."""
        columns = np.flatnonzero(self.active)
        steps = np.diag(nudges)[columns]
        places = np.clip(np.vstack([self.place + steps, self.place - steps]), -FARTHEST, FARTHEST)
        found = self.marcher.outputs(self.inputs, np.vstack([places, self.place]), quick)
        slopes, bends = np.zeros_like(self.slopes), np.zeros_like(self.slopes)
        middle = found[-1]
        for k, column in enumerate(columns):
            up, down = found[k], found[k + len(columns)]
            if up is not None and down is not None:
                ahead = places[k, column] - self.place[column]
                behind = self.place[column] - places[k + len(columns), column]
                slopes[:, column] = (up - down) / (ahead + behind)
                if middle is not None and min(ahead, behind) > 0.5 * nudges[column]:
                    bends[:, column] = (up - 2.0 * middle + down) / (ahead * behind)
        self.slopes, self.bends, self.slopes_at, self.exact = slopes, bends, self.place, not quick


def _sober(one: Observation | Traced) -> Observation | Traced:
    """The same row without the chance that it says nothing: far off, it would else pull no more."""
    return replace(one, outlier_share=0.0) if isinstance(one, Observation) else one


def partners(covariance: FloatArray, column: int, among: Sequence[int]) -> int | None:
    """Which of some inputs an input hangs together with most; None where with none of them."""
    deviations = np.sqrt(np.diag(covariance))
    alike = {k: abs(covariance[column, k]) / deviations[column] / deviations[k] for k in among if k != column}
    best = max(alike, key=lambda k: alike[k], default=None)
    return best if best is not None and alike[best] > 0.3 else None
