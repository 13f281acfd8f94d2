"""A smooth stand-in for the model between the points where it was marched."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray

STEP = 1e-3
"""Of central differences, as a share of the range of a knob."""
SMOOTHINGS = (1e-6, 1e-4, 1e-2, 1.0)
FOLDS = 6
NEIGHBOURS = 9


class Emulator:
    """Cubic radial basis functions with a polynomial tail near every marched point.

    How near is chosen by cross-validation: the model's own steps in time and space make its
    outputs a little uneven, the more the coarser its grid.

    Parameters
    ----------
    places : ndarray, shape (n, p)
        Knobs from 0 to 1.
    outputs : ndarray, shape (n, m)
    scales : ndarray, shape (m,)
        Spread of each output: what counts as a small difference.
    used : ndarray of int
        Outputs that matter.

    """

    def __init__(
        self, places: FloatArray, outputs: FloatArray, scales: FloatArray, used: npt.NDArray[np.intp]
    ) -> None:
        self.places, self.scales = places, scales
        scaled = outputs / scales
        missed = [_missed(places, scaled[:, used], one) for one in SMOOTHINGS]
        best = int(np.argmin([np.median(one) for one in missed]))
        self._missed = missed[best]
        self._fit = _interpolator(places, scaled, SMOOTHINGS[best])
        self._used, self._fit_used = used, _interpolator(places, scaled[:, used], SMOOTHINGS[best])

    def error_near(self, place: FloatArray, metric: FloatArray) -> float:
        """Typical error of an output that matters where it was not marched, in its spread.

        From the points around `place` (distance ``sqrt(d' metric d)``), each left out in turn.
        """
        away = self.places - place
        order = np.argsort(np.einsum("ni,ij,nj->n", away, metric, away))
        return float(np.median(self._missed[order[:NEIGHBOURS]]))

    def __call__(self, places: FloatArray) -> FloatArray:
        """Outputs at `places`, shape (n, p) to (n, m)."""
        return np.asarray(self._fit(np.atleast_2d(places)) * self.scales, dtype=np.float64)

    def seen(self, places: FloatArray) -> FloatArray:
        """As a call, but only the outputs that matter; the others are zero."""
        found = np.zeros((len(places), len(self.scales)))
        found[:, self._used] = self._fit_used(places) * self.scales[self._used]
        return found

    def slopes(self, place: FloatArray) -> FloatArray:
        """Derivatives of all outputs at one place, shape (m, p)."""
        knobs = len(place)
        steps = STEP * np.vstack([np.eye(knobs), -np.eye(knobs)])
        both = self(place + steps)
        return np.asarray((both[:knobs] - both[knobs:]).T / (2.0 * STEP), dtype=np.float64)


def _interpolator(places: FloatArray, values: FloatArray, smoothing: float) -> Any:
    from scipy.interpolate import RBFInterpolator

    knobs = places.shape[1]
    tail = 2 if len(places) > 1.5 * (knobs + 1) * (knobs + 2) / 2 else 1
    return RBFInterpolator(places, values, kernel="cubic", degree=tail, smoothing=smoothing)


def _missed(places: FloatArray, values: FloatArray, smoothing: float) -> FloatArray:
    """Root mean square error at each point where it was left out."""
    count = len(places)
    missed = np.zeros(count)
    for fold in range(FOLDS):
        out = np.arange(count) % FOLDS == fold
        guess = _interpolator(places[~out], values[~out], smoothing)(places[out])
        missed[out] = np.sqrt(np.mean((guess - values[out]) ** 2, axis=1))
    return missed
