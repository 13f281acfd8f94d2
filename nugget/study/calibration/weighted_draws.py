"""Mean and covariance of a probability density that is known but for a factor, by weighted draws.

They go from a normal density that is too wide to the one asked for, in steps small enough that
each leaves a fair share of the draws with weight (annealed importance sampling, Neal, Stat. Comput. 11
(2001) 125, with a normal proposal that follows, Cappe et al., Stat. Comput. 18 (2008) 447).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.inputs.sobol import sobol

DRAWS = 13
"""Power of two of the number of draws."""
WIDER = 1.3
"""By how much the proposal's standard deviations are larger than those of the draws that it follows, in
directions in which these are much narrower than a standard normal; in the others it stays as that."""
LEAST_SHARE = 0.2
"""Of the draws that a step leaves with weight."""
MOST_STEPS = 40
KNOWN, NUDGE = 0.5, 1e-4
"""Variance below which something is known along an axis; step of the differences of a log density."""
POLISHED = 1
"""Further rounds at the end."""


def moments(
    log_density: Callable[[FloatArray], FloatArray], mean: FloatArray, covariance: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and covariance of a density, given one to start from that covers it.

    Parameters
    ----------
    log_density : callable
        From draws of shape (n, d) to (n,), but for a constant.
    mean, covariance : ndarray
        Of the start.
    """
    normal = _normal(len(mean))
    inverse = np.linalg.inv(np.linalg.cholesky(covariance))
    start, share, polished = mean, 0.0, 0
    for _ in range(MOST_STEPS):
        root = np.linalg.cholesky(_reshaped(covariance, _wider))
        draws = mean + normal @ root.T
        first = -0.5 * (((draws - start) @ inverse.T) ** 2).sum(axis=1)
        last, drawn = log_density(draws), -0.5 * (normal**2).sum(axis=1)
        share = _next_share(first, last, drawn, share)
        weight = _weights((1.0 - share) * first + share * last - drawn)
        mean = weight @ draws
        away = draws - mean
        covariance = np.einsum("n,ni,nj->ij", weight, away, away)
        polished += share >= 1.0
        if polished > POLISHED:
            break
    return mean, covariance


def halfway(covariance: FloatArray) -> FloatArray:
    """Between a covariance and that of a standard normal distribution: wider where it is narrow."""
    return _reshaped(covariance, np.sqrt)


def _wider(variances: FloatArray) -> FloatArray:
    return np.asarray(variances * (1.0 + (WIDER**2 - 1.0) * np.maximum(1.0 - variances, 0.0)))


def _reshaped(covariance: FloatArray, change: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """A covariance with its variances along its main axes changed."""
    variances, axes = np.linalg.eigh(covariance)
    return np.asarray((axes * change(np.maximum(variances, 1e-12))) @ axes.T, dtype=np.float64)


def likeliest_near(
    log_density: Callable[[FloatArray], FloatArray], mean: FloatArray, covariance: FloatArray
) -> FloatArray:
    """Go uphill from a mean, along the main axes of which more is known than of a standard normal.

    Where what is known is bent, its mean lies beside it. Along the other axes the mean is the better
    place: there a density that is a little off has its top anywhere.
    """
    from scipy.optimize import minimize

    variances, axes = np.linalg.eigh(covariance)
    axes = axes[:, variances < KNOWN]
    if axes.shape[1] == 0:  # nothing is known, and scipy 1.14 minimises over something only
        return mean
    nudges = NUDGE * np.eye(axes.shape[1])

    def loss(step: FloatArray) -> tuple[float, FloatArray]:
        values = log_density(mean + np.vstack([step, step + nudges, step - nudges]) @ axes.T)
        up, down = np.split(values[1:], 2)
        return -float(values[0]), (down - up) / (2.0 * NUDGE)

    found = minimize(loss, np.zeros(axes.shape[1]), jac=True, method="L-BFGS-B")
    return np.asarray(mean + axes @ found.x, dtype=np.float64)


def _normal(columns: int) -> FloatArray:
    from scipy.special import ndtri

    cloud = sobol(columns, 2**DRAWS, 1)
    return np.asarray(ndtri(np.clip(cloud, 1e-9, 1.0 - 1e-9)), dtype=np.float64)


def _weights(log: FloatArray) -> FloatArray:
    weight = np.exp(log - log.max())
    return np.asarray(weight / weight.sum(), dtype=np.float64)


def _next_share(first: FloatArray, last: FloatArray, drawn: FloatArray, share: float) -> float:
    """How far one step may go from the first density to the last."""

    def enough(share: float) -> bool:
        weight = _weights((1.0 - share) * first + share * last - drawn)
        return 1.0 / float(weight @ weight) > LEAST_SHARE * len(weight)

    if enough(1.0):
        return 1.0
    low, high = share, 1.0
    for _ in range(20):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if enough(middle) else (low, middle)
    return low if low > share else min(1.0, share + 0.01)
