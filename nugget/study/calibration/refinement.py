"""March a design, search a stand-in, march where it matters, until both agree."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.emulator import Emulator
from nugget.study.calibration.identifiable import TOLD, sigmas
from nugget.study.calibration.likelihood import Side, Surface
from nugget.study.calibration.marcher import Marcher, Points

MOST_ROUNDS = 8
NEAR = 0.35
"""Places this near to a marched one, in standard deviations, are not marched again ..."""
GOOD = 0.1
"""... nor those three times as far, where the stand-in misses by no more than this many spreads."""
MOVED = 0.3
"""Optimum and intervals have to stand still within this many standard deviations."""
BOLDER = 0.5
"""A place that the stand-in calls likelier than the best by so much (logarithm) is marched too."""
UNEVEN = 0.6
"""The stand-in may miss the outputs that count by this many of their spreads."""


class Search:
    """Design, stand-in, optimum and intervals, round by round."""

    def __init__(self, bench: Bench, marcher: Marcher, points: Points) -> None:
        self.bench, self.marcher, self.points = bench, marcher, points
        self.knobs = points.knobs
        self.own = np.array([knob.place(knob.own) for knob in self.knobs])
        self.held: dict[int, float] = {}
        self.trouble = ""
        self.surface: Surface

    def run(self) -> None:
        """Repeat until nothing moves any more; `trouble` says why that was not reached."""
        self.points.march(self.marcher, _design(len(self.knobs), self.own))
        if len(self.points.places) < 4 * len(self.knobs):
            self.trouble = f"the model gave no answer at most places: {self.marcher.reason}"
            return
        self._look(None)
        for _ in range(MOST_ROUNDS):
            wanted, metric = self._ends(), self._metric()
            far = [one for one in (*wanted, *self._bold()) if not self._known(one, metric)]
            if far:
                self.points.march(self.marcher, np.array(far))
                self._look(self.best)
            away = self._ends() - wanted
            moved = np.sqrt(np.einsum("ni,ij,nj->n", away, metric, away))
            if (not far or float(moved.max()) < MOVED) and not self._hold():
                if self.surface.emulator.error_near(self.best, self._metric()) > UNEVEN:
                    self.trouble = "the model is too uneven on this grid: raise numerics.refinement"
                return
        self.trouble = f"the fit still moved after {MOST_ROUNDS} rounds"

    def _known(self, place: FloatArray, metric: FloatArray) -> bool:
        """Whether the stand-in can be trusted at a place as it is."""
        away = self.points.nearest(place, metric)
        if away <= NEAR:
            return True
        return away <= 3.0 * NEAR and self.surface.emulator.error_near(place, metric) <= GOOD

    def _bold(self) -> list[FloatArray]:
        """The likeliest place of the stand-in, where it beats the best that rests on marches."""
        bold = self.surface.bold()
        best, other = self.surface.log_likelihood(np.array([self.best, bold]))
        return [bold] if other > best + BOLDER else []

    def _look(self, near: FloatArray | None) -> None:
        """Fit the stand-in to all points; find optimum and intervals."""
        emulator = Emulator(self.points.places, self.points.outputs, self.bench.scales(), self.bench.used)
        marched = self.bench.log_likelihood(self.points.outputs)
        self.surface = Surface(self.bench, emulator, self.held, marched)
        self.best = self.surface.best(near)
        information = self.surface.information(self.best)
        together = sigmas(information, list(range(len(self.surface.free))))
        self.sigma = [min(s, 0.5) for s in together] if together is not None else [0.5] * len(information)
        self.sides: list[tuple[Side, Side]] = [
            self.surface.interval(self.best, knob, sigma)
            for knob, sigma in zip(self.surface.free, self.sigma, strict=True)
        ]

    def _ends(self) -> FloatArray:
        """The optimum and both ends of every interval."""
        return np.array([self.best, *(side.place for pair in self.sides for side in pair)])

    def _metric(self) -> FloatArray:
        """Information of all knobs; those held count by the width of their range."""
        full = np.eye(len(self.knobs))
        free = self.surface.free
        information = self.surface.information(self.best)
        # A knob that is hardly told must not make everything near.
        full[np.ix_(free, free)] = information + np.eye(len(free)) / TOLD**2
        return full

    def _hold(self) -> bool:
        """Hold the knob that the data say least about, if its interval fills its range."""
        open_ = [
            knob
            for knob, (low, high) in zip(self.surface.free, self.sides, strict=True)
            if low.open and high.open
        ]
        if not open_:
            return False
        worst = max(open_, key=lambda knob: self.sigma[self.surface.free.index(knob)])
        self.held = {**self.held, worst: float(self.own[worst])}
        self._look(None)
        return bool(self.surface.free)


def _design(knobs: int, own: FloatArray) -> FloatArray:
    """Places to march first: a Sobol sequence, and the setup as it is."""
    from scipy.stats import qmc

    count = 8 * knobs + 8
    power = int(np.ceil(np.log2(count)))
    cloud = qmc.Sobol(knobs, seed=7).random_base2(power)[:count]
    return np.vstack([own, cloud])
