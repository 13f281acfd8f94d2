"""A smooth response of the uncertain inputs, fitted to simulated welds, that knows its own error.

A Gaussian process: a constant, a linear part and a smooth bend, with one length for each input, all of
them what makes the welds likeliest under weak beliefs (C. E. Rasmussen and C. K. I. Williams, Gaussian
Processes for Machine Learning, 2006, sections 2.2, 5.4 and A.2). An input that does not matter gets a long
length. The equations: manual, theory-chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.inputs.uncertain import Inputs

LEVEL = 100.0
"""Variance of the constant, over that of the values: it may be anything."""
BELIEFS = {"length": (4.0, 1.0), "bend": (1.0, 1.5), "slope": (1.0, 1.5), "noise": (0.02, 2.0)}
"""Middle of lengths [standard deviations of an input] and of variances, over that of the values, and standard
deviation of their logarithms: inputs matter little until welds say otherwise."""
FINEST = 0.01
"""No fit is believed to be better than this share of a threshold."""
PER_FREEDOM, LEAST_FREEDOM = 8.0, 3.0
"""Welds per degree of freedom of its errors, and the fewest: of 96 welds that it had not seen, 5 to 14 % were
off by over twice their standard deviation after 32 welds, 4 to 5 % after 48."""
ENOUGH = 96
"""Lengths and variances are found from no more welds: their cost grows with the third power."""
FOLDS = 4
FARTHEST = 4.0
"""A fold that is off counts for no more of its standard deviations: what leaps is told by counting."""
PAIRS = 256
"""Pairs of places for the share of each input."""


def degrees(inputs: Inputs) -> tuple[str, ...]:
    """What each column of the deviations is: ``normal``, ``range`` or ``sign``."""
    kinds = ["range" if one.spread.kind == "range" else "normal" for one in inputs.items]
    return (*kinds, *(("sign",) if inputs.either_spot else ()))


def features(deviations: FloatArray, kinds: Sequence[str]) -> FloatArray:
    """Coordinates of unit variance, even in a range, shape (n, d), of independent deviations."""
    from scipy.special import ndtr

    found = deviations[:, : len(kinds)].copy()
    for k, kind in enumerate(kinds):
        if kind == "sign":
            found[:, k] = np.where(found[:, k] > 0.0, 1.0, -1.0)
        elif kind == "range":
            found[:, k] = 3.0**0.5 * (2.0 * ndtr(found[:, k]) - 1.0)
    return found


@dataclass(frozen=True)
class Response:
    """A fitted response.

    Attributes
    ----------
    places : ndarray, shape (n, d)
        `features` of the welds.
    lengths : ndarray, shape (d,)
    slope, bend, noise : float
        Variances of the linear part, the bend and the noise, over the square of `scale`.
    middle, scale : float
        Mean and standard deviation of the values.
    weights : ndarray, shape (n,)
    inverse : ndarray, shape (n, n)
        Of the covariance of the values, over the square of `scale`.
    raised : float
        By how much its errors are larger than the likeliest lengths have them.
    missed, alone : ndarray, shape (n,)
        What each weld is above the word of some others for it, and the standard deviation of that word.
    """

    places: FloatArray
    lengths: FloatArray
    slope: float
    bend: float
    noise: float
    middle: float
    scale: float
    weights: FloatArray
    inverse: FloatArray
    raised: float = 1.0
    missed: FloatArray = field(default_factory=lambda: np.empty(0))
    alone: FloatArray = field(default_factory=lambda: np.empty(0))

    @property
    def freedom(self) -> float:
        """Degrees of freedom behind the errors: the lengths come from the same few welds."""
        return max(len(self.places) / PER_FREEDOM, LEAST_FREEDOM)

    def __call__(self, places: FloatArray) -> FloatArray:
        """Values at `features`, shape (n, d) to (n,)."""
        if self.scale == 0.0:
            return np.full(len(places), self.middle)
        return np.asarray(self.middle + self.scale * (self._kernel(places) @ self.weights), dtype=np.float64)

    def at(self, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Values and their standard deviations at `features`, each of shape (n,)."""
        if self.scale == 0.0:
            return self(places), np.full(len(places), FINEST)
        kernel = self._kernel(places)
        own = LEVEL + self.slope * ((places / self.lengths) ** 2).sum(axis=1) + self.bend + self.noise
        variance = own - (kernel @ self.inverse * kernel).sum(axis=1)
        error = np.asarray(np.maximum(self.raised * self.scale * np.sqrt(np.maximum(variance, 0.0)), FINEST))
        return np.asarray(self.middle + self.scale * (kernel @ self.weights), dtype=np.float64), error

    @cached_property
    def totals(self) -> FloatArray:
        """Share of its variance in which each input has a part, shape (d,): total effects.

        From pairs of places that differ in one input (M. J. W. Jansen, Comput. Phys. Commun. 117 (1999) 35).
        """
        from nugget.study.inputs.sobol import sobol

        count, d = PAIRS, self.places.shape[1]
        cloud = 3.0**0.5 * (2.0 * sobol(2 * d, count, 5) - 1.0)
        one, other = cloud[:, :d], cloud[:, d:]
        moved = np.repeat(one[None], d, axis=0)
        moved[np.arange(d), :, np.arange(d)] = other.T
        before, after = self(one), self(moved.reshape(-1, d)).reshape(d, count)
        found = 0.5 * ((before - after) ** 2).mean(axis=1)
        return np.asarray(found / before.var() if found.max() > 0.0 else found, dtype=np.float64)

    def _kernel(self, places: FloatArray) -> FloatArray:
        return _kernel(places / self.lengths, self.places / self.lengths, self.slope, self.bend)


def fit(places: FloatArray, values: FloatArray) -> Response:
    """Fit the values of simulated welds, shape (n,), at their `features`, shape (n, d).

    What the lengths took from the welds shows only where they had not seen them: each quarter of the
    welds is told by the other three, and where that misses by more than it says, every error is raised.
    """
    count = len(values)
    missed, alone = np.empty(count), np.empty(count)
    for fold in range(FOLDS):
        out = np.arange(count) % FOLDS == fold
        told, alone[out] = _likeliest(places[~out], values[~out]).at(places[out])
        missed[out] = values[out] - told
    raised = max(float(np.sqrt(np.mean(np.minimum((missed / alone) ** 2, FARTHEST**2)))), 1.0)
    whole = _likeliest(places, values)
    return replace(whole, raised=raised, missed=missed, alone=raised * alone)


def _likeliest(places: FloatArray, values: FloatArray) -> Response:
    """The response under which the welds are likeliest."""
    count, d = places.shape
    middle, scale = float(values.mean()), float(values.std())
    nothing = np.zeros(count)
    if scale <= 1e-12 * abs(middle) or scale == 0.0:
        return Response(places, np.ones(d), 0.0, 0.0, 0.0, middle, 0.0, nothing, np.eye(count))
    problem, some = _Likelihood(places, (values - middle) / scale), slice(0, ENOUGH)
    at = _Likelihood(places[some], problem.values[some]).best()
    lengths, bend, slope, noise = problem.read(at)
    return Response(places, lengths, slope, bend, noise, middle, scale, *problem.solved(at))


def _kernel(some: FloatArray, others: FloatArray, slope: float, bend: float) -> FloatArray:
    inner = some @ others.T
    squares = (some**2).sum(axis=1)[:, None] + (others**2).sum(axis=1) - 2.0 * inner
    return np.asarray(LEVEL + slope * inner + bend * np.exp(-0.5 * np.maximum(squares, 0.0)))


class _Likelihood:
    """How likely welds are under lengths and variances, and under what is believed of these."""

    def __init__(self, places: FloatArray, values: FloatArray) -> None:
        self.places, self.values = places, values
        count = places.shape[1]
        named = [*["length"] * count, "bend", "slope", "noise"]
        middle, self.width = np.array([BELIEFS[one] for one in named]).T
        self.middle = np.log(middle)

    def read(self, at: FloatArray) -> tuple[FloatArray, float, float, float]:
        """Lengths, and the variances of bend, linear part and noise."""
        bend, slope, noise = np.exp(at[-3:])
        return np.exp(at[:-3]), float(bend), float(slope), float(noise)

    def solved(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Weights and the inverse of the covariance of the values."""
        lengths, bend, slope, noise = self.read(at)
        u = self.places / lengths
        inverse = np.linalg.inv(_kernel(u, u, slope, bend) + noise * np.eye(len(u)))
        return inverse @ self.values, np.asarray(inverse, dtype=np.float64)

    def best(self) -> FloatArray:
        """The likeliest, from the middle of what is believed."""
        from scipy.optimize import minimize

        bounds = list(zip(self.middle - 4.0 * self.width, self.middle + 4.0 * self.width, strict=True))
        found = minimize(self.badness, self.middle, jac=True, method="L-BFGS-B", bounds=bounds)
        return np.asarray(found.x, dtype=np.float64)

    def badness(self, at: FloatArray) -> tuple[float, FloatArray]:
        """Negative logarithm of the likelihood and belief, and its slope."""
        lengths, bend, slope, noise = self.read(at)
        u, y = self.places / lengths, self.values
        kernel = _kernel(u, u, 0.0, bend) - LEVEL
        inner = slope * (u @ u.T)
        root = np.linalg.cholesky(LEVEL + inner + kernel + noise * np.eye(len(u)))
        inverse = np.linalg.inv(root)
        inverse = inverse.T @ inverse
        weights = inverse @ y
        z = (at - self.middle) / self.width
        bad = 0.5 * float(y @ weights) + float(np.log(np.diag(root)).sum()) + 0.5 * float(z @ z)
        pull = np.outer(weights, weights) - inverse
        bent = pull * kernel
        of_length = 2.0 * (u**2).T @ bent.sum(axis=1) - 2.0 * ((bent + slope * pull) @ u * u).sum(axis=0)
        rest = [float(bent.sum()), float((pull * inner).sum()), noise * float(np.trace(pull))]
        return bad, z / self.width - 0.5 * np.array([*of_length, *rest])
