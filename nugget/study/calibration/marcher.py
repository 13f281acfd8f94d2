"""Marches of the bench's conditions with their inputs off by some deviations, each only once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.condition import Answer, Ask, answer, answer_from
from nugget.study.inputs.uncertain import Inputs
from nugget.study.tasks import Finished, key_of, run_all

DIGITS = 4
"""Deviations are rounded, so that a call that is repeated finds its simulations again."""


def kept(path: Path | None = None, resume: bool = False) -> Finished[Answer]:
    """Finished simulations, in a file when `path` is given; `resume` reads what it holds already."""
    return Finished(asdict, answer_from, path, resume)


class Marcher:
    """Model outputs at deviations of uncertain inputs.

    Parameters
    ----------
    bench : Bench
    executor : Executor, optional
    finished : Finished, optional
        Marches that are in already; where new ones are put.
    on_done : callable, optional
        Called with the number of simulations done and the number asked for so far.
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

    def as_set_up(self) -> FloatArray | None:
        """All outputs of the setup as it is; None where the model gave no answer."""
        return self._outputs([[case.ask(case.condition.setup) for case in self.bench.cases]])[0]

    def outputs(self, inputs: Inputs, rows: FloatArray, quick: bool = False) -> list[FloatArray | None]:
        """Return all outputs at each row of deviations, shape (n, p); None where there is no answer.

        `quick` on a coarser grid.
        """
        return self._outputs([self.bench.asks(inputs, np.round(row, DIGITS), quick) for row in rows])

    def _outputs(self, asks: Sequence[Sequence[Ask]]) -> list[FloatArray | None]:
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
