"""All observations at once: the same sums as one by one, without a loop over rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.study.calibration.observation import TAIL, Observation, Traced

IntArray = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Together:
    """Observations in columns.

    Attributes
    ----------
    low, high : ndarray, shape (c,)
        Bounds of the class that each classed observation fell into.
    even : ndarray, shape (c,)
        Chance of that class when the row says nothing.
    value : ndarray, shape (v,)
        Measured values.
    class_columns, value_columns : tuple of ndarray
        Output, spread, count and outlier_share of each.
    traced : tuple of Traced
    """

    low: FloatArray
    high: FloatArray
    even: FloatArray
    value: FloatArray
    class_columns: tuple[IntArray, FloatArray, FloatArray, FloatArray]
    value_columns: tuple[IntArray, FloatArray, FloatArray, FloatArray]
    traced: tuple[Traced, ...]

    @staticmethod
    def of(observations: Sequence[Observation | Traced]) -> Together:
        """Put observations into columns."""
        singles = [one for one in observations if isinstance(one, Observation)]
        classed = [one for one in singles if one.value is None]
        valued = [one for one in singles if one.value is not None]
        bounds = [(-np.inf, *one.edges, np.inf)[one.seen : one.seen + 2] for one in classed]
        low, high = np.array(bounds).reshape(-1, 2).T
        return Together(
            low,
            high,
            np.array([one.outlier_share / (len(one.edges) + 1) for one in classed]),
            np.array([one.value for one in valued], dtype=np.float64),
            _columns(classed),
            _columns(valued),
            tuple(one for one in observations if isinstance(one, Traced)),
        )

    def log_likelihood(self, outputs: FloatArray) -> FloatArray:
        """For outputs of shape (n, m); shape (n,)."""
        from scipy.special import ndtr

        where, spread, count, outlier_share = self.class_columns
        output = outputs[:, where]
        share = ndtr((self.high - output) / spread) - ndtr((self.low - output) / spread)
        chance = np.maximum((1.0 - outlier_share) * share, 0.0) + self.even
        total = np.log(np.maximum(chance, 1e-300)) @ count
        where, spread, count, outlier_share = self.value_columns
        z = (self.value - outputs[:, where]) / spread
        total = (
            total
            + np.log((1.0 - outlier_share) * np.exp(-0.5 * z**2) + outlier_share * TAIL + 1e-300) @ count
        )
        for one in self.traced:
            total = total + one.log_likelihood(outputs)
        return np.asarray(total, dtype=np.float64)


def _columns(some: Sequence[Observation]) -> tuple[IntArray, FloatArray, FloatArray, FloatArray]:
    return (
        np.array([one.output for one in some], dtype=np.intp),
        np.array([one.spread for one in some], dtype=np.float64),
        np.array([one.count for one in some], dtype=np.float64),
        np.array([one.outlier_share for one in some], dtype=np.float64),
    )
