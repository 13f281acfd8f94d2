"""What can be said about a weld whose inputs are not known exactly: chances, verdict, what decides."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import MarchError
from nugget.merit.limit import SEVERITIES, titles
from nugget.setup import Setup
from nugget.study.durations.criteria import criteria_of
from nugget.study.inputs.uncertain import Inputs, inputs_of
from nugget.study.statement.chances import (
    GOOD,
    JOINT,
    UNFINISHED,
    Chance,
    Surface,
    chances_of,
    severity_of,
    surface_of,
)
from nugget.study.statement.measuring import Advice, advise
from nugget.study.statement.samples import Sample, sample
from nugget.study.statement.words import by_sampling, undecided, verdict_of, wanted
from nugget.study.tasks import Finished, key_of, run_all

WELDS = (32, 64)
"""Welds of a statement: more of them only where the fewer leave its verdict open by their own error."""
FINE = 3
"""Welds that are repeated on the setup's own grid."""
SHARE_OF_FINE = 16
"""One weld in so many is repeated where there are many."""
COARSER, LOOSER = 0.5, 4.0 / 3.0
"""Refinement and tolerance of all others, times the setup's own."""
COARSEST = 0.25
"""The coarsest refinement that a setup may have."""
SEED = 1
NAMED = 0.1
"""Inputs with at least this share in what decides are named."""


@dataclass(frozen=True)
class Statement:
    """A statement about one weld of a setup.

    Attributes
    ----------
    inputs : Inputs
    deviations : ndarray, shape (n, d)
        Independent standard deviations of the welds in `samples`.
    samples : tuple of Sample
        Those whose march came to its end, on the coarser grid.
    failed : tuple of str
        Why the other marches stopped.
    fine : tuple of Sample
        Those that were repeated on the setup's own grid.
    surface : Surface
    chances : tuple of Chance
    verdict, reason : str
    decides : tuple of (str, float)
        Inputs by their share in the criterion on which the verdict hangs; empty when it is decided.
    advice : tuple of Advice
        What to measure, in this order; empty when it is decided.
    seed : int
    """

    inputs: Inputs
    deviations: FloatArray
    samples: tuple[Sample, ...]
    failed: tuple[str, ...]
    fine: tuple[Sample, ...]
    surface: Surface
    chances: tuple[Chance, ...]
    verdict: str
    reason: str
    decides: tuple[tuple[str, float], ...]
    advice: tuple[Advice, ...]
    seed: int

    @property
    def setup(self) -> Setup:
        return self.inputs.setup

    def chance(self, key: str) -> Chance | None:
        """The chance of this key; None where no such limit applies."""
        return next((one for one in self.chances if one.key == key), None)

    def influence(self, key: str) -> tuple[tuple[str, float], ...]:
        """Inputs by their share in the spread of a criterion, the largest first."""
        number = next(k for k, one in enumerate(self.surface.criteria) if one.key == key)
        totals = self.surface.responses[number].totals
        order = np.argsort(-totals, kind="stable")
        return tuple((self.inputs.titles[k], float(totals[k])) for k in order if totals[k] > 0.0)

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
            "welds_on_own_grid": len(self.fine),
            "failed": list(self.failed),
            "inputs": self.inputs.record(),
        }


def fine_of(welds: int) -> int:
    """How many of so many welds are repeated on the setup's own grid."""
    return max(FINE, welds // SHARE_OF_FINE)


def coarse(setup: Setup) -> Setup:
    """The setup as its many welds are marched."""
    refinement = max(COARSEST, COARSER * setup.file.numerics.refinement)
    tolerance_K = LOOSER * setup.file.numerics.tolerance.si
    return setup.with_({"numerics.refinement": refinement, "numerics.tolerance": tolerance_K})


def state(
    setup: Setup,
    inputs: Inputs | None = None,
    welds: Sequence[int] = WELDS,
    fine: int = FINE,
    seed: int = SEED,
    executor: Executor | None = None,
    finished: Finished[Sample] | None = None,
    on_done: Callable[[str, int], None] | None = None,
) -> Statement:
    """March welds whose inputs vary, and say what follows for the weld of `setup`.

    Parameters
    ----------
    setup : Setup
    inputs : Inputs, optional
        Those of the setup by default.
    welds : sequence of int
        How many; a further number is only gone to where the verdict is open by the error of the
        chances alone.
    fine : int
        How many of them are repeated on the setup's own grid.
    seed : int
        The same seed draws the same welds.
    executor : Executor, optional
        One march after the other in this process by default.
    finished : Finished, optional
        Marches of an earlier call.
    on_done : callable, optional
        Called with the key of each march that is in, and the number asked for so far.

    Raises
    ------
    InputError
        When a spread reaches what no setup can have.
    MarchError
        When hardly a march came to its end.
    """
    inputs = inputs_of(setup) if inputs is None else inputs
    drawn = inputs.drawn(max(welds), seed)
    known: dict[str, Sample] = {}
    for count in welds:
        rows = [inputs.setup_at(row) for row in drawn[:count]]
        many, few = keyed(map(coarse, rows)), keyed(rows[:fine])
        tasks = dict([*many, *few])

        def counted(key: str, total: int = len(tasks)) -> None:
            if on_done is not None:
                on_done(key, total)

        known |= run_all(sample, tasks, executor, finished, counted)
        found = _stated(
            inputs, drawn[:count], [known[key] for key, _ in many], [known[key] for key, _ in few], seed
        )
        if found.verdict != "uncertain" or not by_sampling(_groups(found.chances), wanted(setup)):
            break
    return found


def keyed(setups: Iterable[Setup]) -> list[tuple[str, Setup]]:
    """Setups with their keys."""
    return [(key_of(one), one) for one in setups]


def _stated(
    inputs: Inputs,
    drawn: FloatArray,
    welds: Sequence[Sample],
    fine: Sequence[Sample],
    seed: int,
) -> Statement:
    """The statement that follows from marched welds; `fine` are the first of them on the setup's own grid."""
    ended = [k for k, one in enumerate(welds) if not one.failed]
    failed = tuple(one.failed for one in welds if one.failed)
    if 2 * len(ended) < len(welds):
        raise MarchError(0.0, f"{len(failed)} of {len(welds)} welds did not come to their end: {failed[0]}")
    samples, deviations = tuple(welds[k] for k in ended), drawn[ended]
    repeated = {place: fine[k] for place, k in enumerate(ended) if k < len(fine) and not fine[k].failed}
    setup = inputs.setup
    criteria = tuple(one for one in criteria_of(setup) if one.kind != "bond" and _applies(one.key, samples))
    surface = surface_of(inputs, criteria, deviations, samples, repeated)
    chances = chances_of(surface, samples, len(failed), _titles(setup))
    found = Statement(
        inputs, deviations, samples, failed, tuple(repeated.values()), surface, chances, "", "", (), (), seed
    )
    return _worded(found)


def _applies(key: str, samples: Sequence[Sample]) -> bool:
    return key == "target" or any(one.limits.get(key) is not None for one in samples)


def _titles(setup: Setup) -> dict[str, str]:
    return {
        JOINT: "joint suffices",
        GOOD: "joint suffices and every limit holds",
        UNFINISHED: "run ended before the interior's peak",
        **SEVERITIES,
        **titles(setup.limits),
    }


def _groups(chances: Sequence[Chance]) -> dict[str, Chance]:
    """What a verdict is taken from; welds that were not followed to their end may come to harm."""
    found = {one.key: one for one in chances if one.key in (JOINT, *SEVERITIES)}
    unfinished = next((one for one in chances if one.key == UNFINISHED), None)
    if unfinished is not None:
        harm = found.get("harm", Chance("harm", "", "harm", 0.0, 0.0, 0.0))
        high = min(1.0, harm.high + unfinished.share)
        found["harm"] = Chance("harm", harm.title, "harm", harm.share, harm.low, high)
    return found


def _worded(found: Statement) -> Statement:
    """The same statement with its verdict, its reason, and what would settle it."""
    from dataclasses import replace

    groups, sure = _groups(found.chances), wanted(found.setup)
    verdict = verdict_of(groups, sure)
    said = f"joint suffices in {_percent(groups[JOINT])}"
    said += "".join(f"; {_percent(groups[key])} {SEVERITIES[key]}" for key in SEVERITIES if key in groups)
    if verdict != "uncertain":
        return replace(found, verdict=verdict, reason=said)
    key = _hangs_on(found, undecided(groups, sure))
    influence = found.influence(key)
    decides = tuple((name, share) for name, share in influence if share >= NAMED)[:3]
    title = _titles(found.setup).get(key, "joint suffices").lower()
    said += f"; it hangs on '{title}'" + (f", and that on {_named(decides)}" if decides else "")
    if by_sampling(groups, sure):
        said += f"; more welds than {len(found.samples)} may decide it"
    return replace(
        found, verdict=verdict, reason=said, decides=decides, advice=advise(found.surface, groups, sure)
    )


def _hangs_on(found: Statement, open_groups: Sequence[str]) -> str:
    """The criterion that keeps a verdict open most."""
    group = open_groups[0] if open_groups else JOINT
    if group == JOINT:
        keys = [one.key for one in found.surface.criteria if one.kind == "target"]
        return max(keys, key=lambda key: 0.0 if key == "target" else _share(found, key))
    keys = [one.key for one in found.surface.criteria if severity_of(one) == group]
    return max(keys, key=lambda key: _share(found, key))


def _share(found: Statement, key: str) -> float:
    one = found.chance(key)
    return 0.0 if one is None else one.share


def _named(decides: Sequence[tuple[str, float]]) -> str:
    return ", ".join(f"{name} ({100.0 * share:.0f} %)" for name, share in decides)


def _percent(one: Chance) -> str:
    """A chance with its error, in words."""
    share, half = 100.0 * one.share, 50.0 * (one.high - one.low)
    if one.high < 0.005:
        return "under 1 %"
    return f"{share:.0f} % (+-{max(half, 1.0):.0f})"
