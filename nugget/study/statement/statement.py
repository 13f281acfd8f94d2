"""What can be said about a weld whose inputs are not known exactly: chances, verdict, what decides.

The equations: manual, theory-verdict.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.setup import Setup
from nugget.study.durations.criteria import criteria_of
from nugget.study.inputs.uncertain import Inputs, inputs_of
from nugget.study.statement.chances import Chance, Surface, chances_of, clipped, gaps_of, surface_of
from nugget.study.statement.measuring import Advice
from nugget.study.statement.reasons import groups_of, influence, said_of, titles_of
from nugget.study.statement.samples import Sample, sample
from nugget.study.statement.words import by_sampling, decided_by, wanted
from nugget.study.tasks import Finished, key_of, run_all

WELDS = (32, 64, 128, 256)
"""Welds of a statement: more of them only where the fewer leave its verdict open by their own error."""
FEW = 64
"""Fewer welds never say *in window*: of invented benches whose harm leaps where hardly a weld is, with 1.5 %
where 1 % is asked for, 32 missed it in 19 of 33 sets, 64 in 6. From so many on more follow only where as many
as there may be would probably decide."""
STATED, SEARCHED, LOOSER = 0.7, 0.5, 3.0
"""Refinement of the welds of a statement and of a search, and tolerance of both, times the setup's own. Over
ten benches the wall reads 0.02 of its limit lower at 0.7 than at 1.5 and scatters by as much, the joint reads
0.01 of its minimum lower. Inputs move them by five times that, and what a grid reads too low is counted."""
COARSEST, LOOSEST_K = 0.25, 100.0
"""The coarsest refinement and the largest tolerance that a setup may have."""
SEED = 1


@dataclass(frozen=True)
class Statement:
    """A statement about one weld of a setup.

    Attributes
    ----------
    inputs : Inputs
    deviations : ndarray, shape (n, d)
        Independent standard deviations of the welds in `samples`.
    samples : tuple of Sample
        Those whose simulation came to its end.
    failed : tuple of str
        Why the other simulations stopped.
    surface : Surface
    chances : tuple of Chance
    verdict, reason : str
    decides : tuple of (str, float)
        Inputs by their share in the criterion on which the verdict depends; empty when it is decided.
    advice : tuple of Advice
        What to measure, in this order; empty when it is decided.
    more_welds : bool
        Whether more of them may decide what they leave open.
    seed : int
    """

    inputs: Inputs
    deviations: FloatArray
    samples: tuple[Sample, ...]
    failed: tuple[str, ...]
    surface: Surface
    chances: tuple[Chance, ...]
    verdict: str
    reason: str
    decides: tuple[tuple[str, float], ...]
    advice: tuple[Advice, ...]
    more_welds: bool
    seed: int

    @property
    def setup(self) -> Setup:
        return self.inputs.setup

    def chance(self, key: str) -> Chance | None:
        """The chance of this key; None where no such limit applies."""
        return next((one for one in self.chances if one.key == key), None)

    def influence(self, key: str) -> tuple[tuple[str, float], ...]:
        """Inputs by their share in the spread of a criterion, the largest first."""
        return influence(self.surface, key)

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {
            "verdict": self.verdict,
            "reason": self.reason,
            "chances": [one.record() for one in self.chances],
            "asked": wanted(self.setup),
            "decides": [{"input": name, "share": share} for name, share in self.decides],
            "measure": [one.record() for one in self.advice],
            "welds": len(self.samples),
            "failed": list(self.failed),
            "inputs": self.inputs.record(),
        }


def looser(setup: Setup) -> Setup:
    """The setup as the welds of a statement are simulated: on a coarser grid, in longer steps."""
    return _rougher(setup, STATED)


def coarse(setup: Setup) -> Setup:
    """The setup as many welds of a search are simulated: on a grid that is coarser still."""
    return _rougher(setup, SEARCHED)


def _rougher(setup: Setup, share: float) -> Setup:
    own = setup.file.numerics
    return setup.with_(
        {
            "numerics.refinement": max(COARSEST, share * own.refinement),
            "numerics.tolerance": min(LOOSEST_K, LOOSER * own.tolerance.si),
        }
    )


def state(
    setup: Setup,
    inputs: Inputs | None = None,
    welds: Sequence[int] | None = None,
    seed: int = SEED,
    executor: Executor | None = None,
    finished: Finished[Sample] | None = None,
    on_done: Callable[[str, int], None] | None = None,
    meanwhile: Callable[[], None] | None = None,
) -> Statement:
    """March welds whose inputs vary, and say what follows for the weld of `setup`.

    Parameters
    ----------
    setup : Setup
    inputs : Inputs, optional
        Those of the setup by default.
    welds : sequence of int, optional
        How many, `WELDS` by default; a further number is only gone to where the verdict is open by
        the error of the chances alone, from `FEW` on where the last number would probably decide it, and
        where fewer than that say *in window*.
    seed : int
        The same seed draws the same welds.
    executor : Executor, optional
        One simulation after the other in this process by default.
    finished : Finished, optional
        Marches of an earlier call.
    on_done : callable, optional
        Called with the key of each simulation that is in, and the number asked for so far.
    meanwhile : callable, optional
        Called once in this process, while another runs the first weld, or before them all.

    Raises
    ------
    InputError
        When a spread reaches what no setup can have.
    SolverError
        When hardly a simulation came to its end.
    """
    inputs = inputs_of(setup) if inputs is None else inputs
    welds = WELDS if welds is None else welds
    drawn = inputs.drawn(max(welds), seed)
    rows: list[tuple[str, Setup]] = []
    known: dict[str, Sample] = {}
    for count in welds:
        rows += keyed(looser(inputs.setup_at(row)) for row in drawn[len(rows) : count])
        fresh = {key: one for key, one in rows if key not in known}

        def counted(key: str, total: int = len(dict(rows))) -> None:
            if on_done is not None:
                on_done(key, total)

        known |= run_all(sample, fresh, executor, finished, counted, meanwhile)
        meanwhile = None
        found = _stated(inputs, drawn[:count], [known[key] for key, _ in rows], seed)
        if not _goes_on(found, count, welds[-1]):
            break
    return found


def _goes_on(found: Statement, count: int, most: int) -> bool:
    """Whether more welds than `count`, up to `most`, are worth their time, or needed."""
    if found.verdict == "in window":
        return count < FEW
    groups, sure = groups_of(found.chances), wanted(found.setup)
    if found.verdict != "uncertain" or not by_sampling(groups, sure):
        return False
    return count < FEW or decided_by(groups, sure, math.sqrt(count / most))


def keyed(setups: Iterable[Setup]) -> list[tuple[str, Setup]]:
    """Setups with their keys."""
    return [(key_of(one), one) for one in setups]


def _stated(inputs: Inputs, drawn: FloatArray, welds: Sequence[Sample], seed: int) -> Statement:
    """The statement that follows from these welds."""
    ended = [k for k, one in enumerate(welds) if not one.failed]
    failed = tuple(one.failed for one in welds if one.failed)
    if 2 * len(ended) < len(welds):
        raise SolverError(0.0, f"{len(failed)} of {len(welds)} welds did not come to their end: {failed[0]}")
    samples, deviations = tuple(welds[k] for k in ended), drawn[ended]
    setup = inputs.setup
    criteria = tuple(one for one in criteria_of(setup) if one.kind != "bond" and _applies(one.key, samples))
    surface = surface_of(inputs, criteria, deviations, samples)
    values = [clipped(samples, one.key) for one in criteria]
    gaps = gaps_of(surface, deviations, values, len(failed) / len(welds))
    chances = chances_of(surface, samples, gaps, titles_of(setup))
    said = said_of(surface, chances, gaps)
    return Statement(
        inputs,
        deviations,
        samples,
        failed,
        surface,
        chances,
        said.verdict,
        said.reason,
        said.decides,
        said.advice,
        said.more_welds,
        seed,
    )


def _applies(key: str, samples: Sequence[Sample]) -> bool:
    return key == "minimum_diameter" or any(one.limits.get(key) is not None for one in samples)
