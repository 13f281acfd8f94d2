"""What a few dozen marches say about all of those around a place: a response fitted by least squares.

Outputs are a constant, a linear and a smoothly bent function of the inputs (a Gaussian process; Rasmussen
and Williams, Gaussian Processes for Machine Learning, 2006, sections 2.2 and 2.7), and every march misses
that by an error of its own. How strong and how wide the bends are, how large the errors, and how fast
marches far away lose credence, is what makes the marches likeliest, for each output by itself. So a model
that is uneven from march to march needs no small steps: it comes out as a larger error.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray

IntArray = npt.NDArray[np.intp]

BENDS = ((0.0, 1.0), *((strength, reach) for strength in (0.1, 1.0) for reach in (2.0, 5.0)))
"""Bends that are tried: their variance at one standard deviation of the inputs, over that of the linear
part, and how many of these they reach."""
BENT = 0.3
"""Share of what the input that tells most tells, at which an input bends outputs by half of what it could at
most (as a variance). On two benches marches were off what the others said by 0.52 and 0.59 of the spread of
what was seen, and by 0.69 and 0.67 where every input that tells anything could bend."""
FADES = (0.0, 1.5, 3.0)
"""Powers of the squared distance with which the variance of an error grows beyond `NEAR`; a third-order
remainder grows with the third."""
ERRORS = np.logspace(-6.0, 2.0, 17)
"""Variances of the errors that are tried, over those of the linear coefficients."""
NEAR = 1.5
"""Squared distance of a march, over the number of inputs, up to which it counts in full."""
LEAST = 1e-4
"""Share of what the input that tells most tells, that each other is believed to tell at least."""
LEVEL = 100.0
"""Variance of the constant, over those of the linear coefficients: it may be anything."""


@dataclass(frozen=True)
class LocalResponse:
    """Outputs around a place.

    Attributes
    ----------
    centre : ndarray, shape (p,)
    stretch : ndarray, shape (p,)
        How much each input is believed to move what was seen, over its spread.
    bending : ndarray, shape (p,)
        How far each input bends anything that was seen, of its spread.
    level, linear : ndarray, shape (m,) and (p, m)
    points : ndarray, shape (n, p)
        Deviations of the marches times `bending`.
    bends : tuple of (float, ndarray)
        Reach and weights (n, m) of the bent parts.
    missed : ndarray, shape (n, m)
        By how much each march is off what the others say.
    nearness : ndarray, shape (n,)
        From one down to nought.
    """

    centre: FloatArray
    stretch: FloatArray
    bending: FloatArray
    level: FloatArray
    linear: FloatArray
    points: FloatArray
    bends: tuple[tuple[float, FloatArray], ...]
    missed: FloatArray
    nearness: FloatArray

    def __call__(self, places: FloatArray) -> FloatArray:
        """Outputs at places, shape (n, p) to (n, m)."""
        away = places - self.centre
        found = self.level + away * self.stretch @ self.linear
        squares = _squares(away * self.bending, self.points)
        for reach, weights in self.bends:
            found += np.exp(-0.5 * squares / reach**2) @ weights
        return np.asarray(found, dtype=np.float64)

    def only(self, columns: IntArray) -> LocalResponse:
        """The same for some of the outputs."""
        return replace(
            self,
            level=self.level[columns],
            linear=self.linear[:, columns],
            bends=tuple((reach, weights[:, columns]) for reach, weights in self.bends),
            missed=self.missed[:, columns],
        )

    def slopes(self, place: FloatArray) -> FloatArray:
        """Derivatives of the outputs after the inputs, shape (m, p)."""
        from_points = (place - self.centre) * self.bending - self.points
        found = self.linear.T * self.stretch
        for reach, weights in self.bends:
            bump = np.exp(-0.5 * (from_points**2).sum(axis=1) / reach**2)
            found -= weights.T @ (bump[:, None] * from_points) * self.bending / reach**2
        return np.asarray(found, dtype=np.float64)


def respond(
    places: FloatArray,
    values: FloatArray,
    centre: FloatArray,
    covariance: FloatArray,
    spreads: FloatArray,
) -> LocalResponse:
    """Fit the outputs of marches, shape (n, m), at places, shape (n, p).

    Parameters
    ----------
    places, values : ndarray
    centre, covariance : ndarray
        Where the response has to be good.
    spreads : ndarray, shape (m,)
        Of what was seen of each output; infinite where nothing was.
    """
    away, deviations = places - centre, np.sqrt(np.diag(covariance))
    whitened = away @ np.linalg.inv(np.linalg.cholesky(covariance)).T
    distance = np.maximum((whitened**2).sum(axis=1) / (NEAR * len(centre)), 1.0)
    u = away / deviations
    scale = np.maximum(values.std(axis=0), 1e-12 * np.abs(values).max(axis=0) + 1e-300)
    middle = values.mean(axis=0)
    y = (values - middle) / scale
    straight = _Regression(u, np.zeros_like(u), y, distance, BENDS[:1])
    told = ((straight.linear * scale / spreads) ** 2).sum(axis=1)
    stretch = np.maximum(told / max(told.max(), 1e-300), LEAST) ** 0.25 / deviations
    bending = np.sqrt(told / (max(1.0, BENT * told.max()) + told)) / deviations
    best = _Regression(away * stretch, away * bending, y, distance, BENDS)
    return LocalResponse(
        centre,
        stretch,
        bending,
        middle + scale * best.level,
        best.linear * scale,
        away * bending,
        tuple((reach, weights * scale) for reach, weights in best.bends.items()),
        best.missed * scale,
        distance ** -FADES[-1],
    )


class _Regression:
    """Coefficients and errors of each output, shape (n, m), under what makes it likeliest."""

    def __init__(
        self,
        u: FloatArray,
        t: FloatArray,
        y: FloatArray,
        distance: FloatArray,
        bends: tuple[tuple[float, float], ...],
    ) -> None:
        squares = _squares(t, t)
        best = np.full(y.shape[1], -np.inf)
        weights, self.missed, chosen = np.zeros_like(y), np.zeros_like(y), np.zeros(y.shape[1], dtype=int)
        for k, (strength, reach) in enumerate(bends):
            kernel = LEVEL + u @ u.T + strength * reach**4 * np.exp(-0.5 * squares / reach**2)
            for fade in FADES:
                trust = distance ** (-0.5 * fade)
                self._try(kernel, trust, y, best, weights, chosen, k)
        self.level = LEVEL * weights.sum(axis=0)
        self.linear = u.T @ weights
        self.bends: dict[float, FloatArray] = {}
        for k, (strength, reach) in enumerate(bends):
            if strength > 0.0 and (chosen == k).any():
                some = np.where(chosen == k, strength * reach**4 * weights, 0.0)
                self.bends[reach] = self.bends.get(reach, 0.0) + some

    def _try(
        self,
        kernel: FloatArray,
        trust: FloatArray,
        y: FloatArray,
        best: FloatArray,
        weights: FloatArray,
        chosen: FloatArray,
        k: int,
    ) -> None:
        """Put in what is likelier with a kernel and a trust in each march than all before."""
        count = len(y)
        values, vectors = np.linalg.eigh(trust[:, None] * kernel * trust)
        turned = vectors.T @ (trust[:, None] * y)
        known = 1.0 / (np.maximum(values, 0.0) + ERRORS[:, None])
        square = known @ turned**2 / count + 1e-300
        log = -0.5 * (count * np.log(square) - np.log(known).sum(axis=1)[:, None]) + np.log(trust).sum()
        at = np.argmax(log, axis=0)
        log = log[at, np.arange(len(at))]
        better = log > best
        best[better], chosen[better] = log[better], k
        some = known[at[better]].T
        alone = (vectors**2) @ some
        some = vectors @ (some * turned[:, better])
        weights[:, better] = trust[:, None] * some
        self.missed[:, better] = some / alone / trust[:, None]


def _squares(some: FloatArray, others: FloatArray) -> FloatArray:
    """Squared distances, shape (n, k)."""
    found = (some**2).sum(axis=1)[:, None] + (others**2).sum(axis=1) - 2.0 * some @ others.T
    return np.asarray(np.maximum(found, 0.0), dtype=np.float64)
