"""Search on the stand-in model: the likeliest knobs, and how far each may move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.emulator import Emulator

HALF_DEVIANCE_95 = 1.9207
"""Half of the 95 % point of chi-squared with one degree of freedom."""
SCATTERED, STARTS = 512, 4
REACH = 0.2
"""The likeliest place is looked for this far from marched ones, as a share of the range."""
STRIDE = 0.4
"""Profiles are followed in strides of this share of a standard deviation ..."""
MOST_STRIDES = 40
"""... and at most so many, or up to the bound."""


@dataclass(frozen=True)
class Side:
    """One end of an interval: the place of all knobs there, and whether the bound stopped it."""

    place: FloatArray
    open: bool


class Surface:
    """Likelihood of the bench on a stand-in model, with some knobs held.

    Parameters
    ----------
    bench : Bench
    emulator : Emulator
    held : dict of int to float
        Knobs that stay at a place.
    marched : ndarray
        Likelihood at the places of the stand-in, of what was marched there.
    """

    def __init__(self, bench: Bench, emulator: Emulator, held: dict[int, float], marched: FloatArray) -> None:
        self.bench, self.emulator, self.held, self.marched = bench, emulator, held, marched
        knobs = emulator.places.shape[1]
        self.free = [k for k in range(knobs) if k not in held]

    def log_likelihood(self, places: FloatArray) -> FloatArray:
        """At places of all knobs, shape (n, p) to (n,)."""
        return self.bench.log_likelihood(self.emulator.seen(places))

    def best(self, near: FloatArray | None = None) -> FloatArray:
        """Likeliest place, from the likeliest of those that were marched.

        Where the model jumps, as at a burn-through, the stand-in runs through everything in
        between and may be likely there; what was marched on both sides is not.
        """
        likely = np.argsort(-self.marched, kind="stable")[:STARTS]
        starts = self._held_in(
            np.vstack([self.emulator.places[likely], *([] if near is None else [near[None, :]])])
        )
        return self._likeliest([self._descend(one, self.free, REACH) for one in starts])

    def bold(self) -> FloatArray:
        """Likeliest place anywhere on the stand-in: worth a march, not yet to be believed."""
        from scipy.stats import qmc

        cloud = self._held_in(qmc.Sobol(self.emulator.places.shape[1], seed=1).random(SCATTERED))
        start = cloud[np.argsort(-self.log_likelihood(cloud), kind="stable")[:STARTS]]
        return self._likeliest([self._descend(one, self.free) for one in start])

    def _held_in(self, places: FloatArray) -> FloatArray:
        for knob, place in self.held.items():
            places[:, knob] = place
        return places

    def _likeliest(self, places: list[FloatArray]) -> FloatArray:
        return places[int(np.argmax(self.log_likelihood(np.array(places))))]

    def _descend(self, start: FloatArray, free: list[int], reach: float = 1.0) -> FloatArray:
        from scipy.optimize import minimize

        if not free:
            return start
        step = 1e-4

        def loss(some: FloatArray) -> tuple[float, FloatArray]:
            around = np.repeat(start[None, :], 1 + 2 * len(free), axis=0)
            around[:, free] = some
            for k, knob in enumerate(free):
                around[1 + 2 * k, knob] += step
                around[2 + 2 * k, knob] -= step
            value = -self.log_likelihood(around)
            return float(value[0]), (value[1::2] - value[2::2]) / (2.0 * step)

        bounds = [(max(x - reach, 0.0), min(x + reach, 1.0)) for x in start[free]]
        found = minimize(
            loss, start[free], jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 80}
        )
        place = start.copy()
        place[free] = found.x
        return place

    def information(self, place: FloatArray) -> FloatArray:
        """Fisher information of the free knobs."""
        slopes = self.emulator.slopes(place)[:, self.free]
        return self.bench.information(self.emulator(place)[0], slopes)

    def interval(self, best: FloatArray, knob: int, sigma: float) -> tuple[Side, Side]:
        """Ends of the 95 % interval of one knob by its profile likelihood."""
        return self._side(best, knob, sigma, -1.0), self._side(best, knob, sigma, 1.0)

    def _side(self, best: FloatArray, knob: int, sigma: float, sign: float) -> Side:
        others = [k for k in self.free if k != knob]
        top = float(self.log_likelihood(best[None, :])[0])
        stride = sign * STRIDE * min(max(sigma, 2e-3), 0.5)
        last, root = best, 0.0
        for _ in range(MOST_STRIDES):
            place = last.copy()
            place[knob] = min(max(last[knob] + stride, 0.0), 1.0)
            place = self._descend(place, others)
            drop = top - float(self.log_likelihood(place[None, :])[0])
            here = float(np.sqrt(max(drop, 0.0)))
            wanted = np.sqrt(HALF_DEVIANCE_95)
            if here >= wanted:
                share = (wanted - root) / (here - root)
                return Side(last + share * (place - last), False)
            if place[knob] in (0.0, 1.0):
                return Side(place, True)
            last, root = place, here
        return Side(last, True)
