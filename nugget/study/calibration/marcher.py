"""Marches of the bench's conditions at many places of the knobs, each only once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.condition import Answer, answer, answer_from
from nugget.study.calibration.knobs import Knob
from nugget.study.tasks import Finished, key_of, run_all

DIGITS = 4
"""Places are rounded, so that a call that is repeated finds its marches again."""


def kept(path: Path | None = None, resume: bool = False) -> Finished[Answer]:
    """Finished marches, in a file when `path` is given; `resume` reads what it holds already."""
    return Finished(asdict, answer_from, path, resume)


class Marcher:
    """Model outputs at places of some knobs.

    Parameters
    ----------
    bench : Bench
    executor : Executor, optional
    finished : Finished, optional
        Marches that are in already; where new ones are put.
    on_done : callable, optional
        Called with the number of marches done and the number asked for so far.
    """

    def __init__(
        self,
        bench: Bench,
        executor: Executor | None = None,
        finished: Finished[Answer] | None = None,
        on_done: Callable[[int, int], None] | None = None,
    ) -> None:
        self.bench, self.executor, self.on_done = bench, executor, on_done
        self.finished = kept() if finished is None else finished
        self.asked = self.done = self.failed = 0
        self.reason = ""

    def outputs(self, knobs: Sequence[Knob], places: FloatArray) -> list[FloatArray | None]:
        """Return all outputs at each place, shape (n, p); None where the model gave no answer."""
        asks = [self.bench.asks(knobs, place) for place in places]
        keys = [[key_of(ask) for ask in row] for row in asks]
        tasks = {
            key: ask
            for row, names in zip(asks, keys, strict=True)
            for ask, key in zip(row, names, strict=True)
        }
        self.asked += len(tasks)
        results = run_all(answer, tasks, self.executor, self.finished, self._count)
        found = []
        for names in keys:
            answers = [results[key] for key in names]
            vector = self.bench.vector(answers)
            if vector is None:
                self.failed += 1
                self.reason = next(one.failed for one in answers if one.failed)
            found.append(vector)
        return found

    def _count(self, _: str) -> None:
        self.done += 1
        if self.on_done is not None:
            self.on_done(self.done, self.asked)


class Points:
    """Places of one set of knobs at which the model has been marched, and its outputs there."""

    def __init__(self, knobs: Sequence[Knob], outputs: int) -> None:
        self.knobs = tuple(knobs)
        self.places: FloatArray = np.empty((0, len(self.knobs)))
        self.outputs: FloatArray = np.empty((0, outputs))

    def march(self, marcher: Marcher, places: FloatArray) -> None:
        """Add places, rounded; those known already and those without an answer are left out."""
        rounded = np.unique(np.clip(np.round(places, DIGITS), 0.0, 1.0), axis=0)
        new = [one for one in rounded if self.nearest(one, np.eye(len(self.knobs))) > 0.5 * 10.0**-DIGITS]
        if not new:
            return
        for place, vector in zip(new, marcher.outputs(self.knobs, np.array(new)), strict=True):
            if vector is not None:
                self.places = np.vstack([self.places, place])
                self.outputs = np.vstack([self.outputs, vector])

    def nearest(self, place: FloatArray, metric: FloatArray) -> float:
        """Distance of the nearest known place, ``sqrt(d' metric d)``."""
        if not len(self.places):
            return float("inf")
        away = self.places - place
        return float(np.sqrt(np.einsum("ni,ij,nj->n", away, metric, away).min()))
