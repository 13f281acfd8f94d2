"""Look for a setting that is in the window: fields the user lets go, trains, durations.

Windows of some benches, drawn from what is not known exactly, rank the candidates and place their
pulses. Whether one is safe is not said by them, but by the same statement that `nugget pulse` makes of
a weld that is set up so (`nugget.study.statement`).

The equations: manual, theory-verdict.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace

from nugget.errors import InputError
from nugget.merit.limit import SEVERITIES
from nugget.setup import Setup
from nugget.study.charting.duration_chart import usual_longest
from nugget.study.charting.hardware_changes import changes, judge_changes
from nugget.study.durations.branches import count_s
from nugget.study.durations.edges import Growth
from nugget.study.durations.window import agreed, crossing, window_of
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement import statement
from nugget.study.statement.chances import JOINT
from nugget.study.statement.samples import Sample, kept
from nugget.study.statement.statement import Statement, coarse, looser
from nugget.study.statement.words import undecided, wanted
from nugget.study.suggestion.candidate import (
    SAFE,
    Candidate,
    Free,
    Option,
    Suggestion,
    candidate_of,
    margin_of,
    middle_s,
    settable_s,
)
from nugget.study.suggestion.trains import OTHER_COOL_TIMES_S, Kind, Train, grow_train, trains, with_cool_time
from nugget.study.tasks import Finished, key_of, run_all

LEVELS = {1: 5, 2: 3, 3: 3}
"""Values of each free field in the first look, by how many there are."""
MOST_FREE = 3
FINALISTS = 2
"""Settings that are looked at with every train."""
BENCHES, SEED = 4, 5
"""Benches that are drawn: they have to share a window."""
STATED = 2
"""Candidates about which a statement is made, as long as none is in the window."""
SHIFTS, SHIFT = 2, 1.15
"""How often the pulse of the best one is made longer or shorter, and by how much."""
OPTIONS_STATED = 2
"""Changes to the bench about which a statement is made, as long as none is in the window."""


class _Looker:
    """Grows trains and makes statements, keeping count."""

    def __init__(
        self,
        tolerances: Sequence[str],
        longest_s: float,
        executor: Executor | None,
        finished: Finished[Growth] | None,
        welds: Finished[Sample],
        on_done: Callable[[int, int], None] | None,
    ) -> None:
        self.tolerances, self.longest_s, self.executor = tolerances, longest_s, executor
        self.finished, self.welds, self.on_done = finished, welds, on_done
        self.asked = self.done = 0

    def nominal(self, some: Sequence[tuple[Kind, Setup]]) -> list[Growth]:
        """Growth of each train as set up, simulated as the welds of a statement are: they only rank."""
        return [row[0] for row in self._grow([[(kind, looser(setup))] for kind, setup in some])]

    def grow(self, some: Sequence[tuple[Kind, Setup]]) -> list[tuple[Growth, ...]]:
        """Growths of each train as set up, and at the drawn benches on a coarser grid."""
        asked = [(kind, (looser(setup), *self._benches(setup))) for kind, setup in some]
        return self._grow([[(kind, one) for one in setups] for kind, setups in asked])

    def _benches(self, setup: Setup) -> list[Setup]:
        inputs = inputs_of(setup, self.tolerances)
        return [coarse(inputs.setup_at(row)) for row in inputs.drawn(8, SEED)[:BENCHES]]

    def _grow(self, rows: Sequence[Sequence[tuple[Kind, Setup]]]) -> list[tuple[Growth, ...]]:
        tasks = [[(kind, setup, self.longest_s) for kind, setup in row] for row in rows]
        keys = [[key_of(*task) for task in row] for row in tasks]
        flat = dict(zip(itertools.chain(*keys), itertools.chain(*tasks), strict=True))
        self.asked += len(flat)
        results = run_all(grow_train, flat, self.executor, self.finished, self.count)
        return [tuple(results[key] for key in row) for row in keys]

    def state(self, setup: Setup, whole: bool = False) -> Statement:
        """The statement about a weld: from as few welds as rank it, or whole, as `nugget pulse` makes it.

        What is *in window* by few is stated whole too: fewer than `statement.FEW` welds never say so.
        """
        welds = statement.WELDS if whole else statement.WELDS[:1]
        self.asked += welds[0]
        inputs = inputs_of(setup, self.tolerances)
        found = statement.state(
            setup, inputs, welds, executor=self.executor, finished=self.welds, on_done=self._welded
        )
        return self.state(setup, whole=True) if found.verdict == SAFE and not whole else found

    def _welded(self, key: str, _: int) -> None:
        self.count(key)

    def count(self, _: str = "") -> None:
        """Report one more finished task."""
        self.done += 1
        if self.on_done is not None:
            self.on_done(self.done, max(self.done, self.asked))


def suggest(
    setup: Setup,
    free: Sequence[Free] = (),
    tolerances: Sequence[str] = (),
    longest_s: float | None = None,
    executor: Executor | None = None,
    finished: Finished[Growth] | None = None,
    welds: Finished[Sample] | None = None,
    on_done: Callable[[int, int], None] | None = None,
) -> Suggestion:
    """Search trains, durations and free fields for a weld in the window.

    Parameters
    ----------
    setup : Setup
    free : sequence of Free
        What the search may change, at most `MOST_FREE`.
    tolerances : sequence of str
        How well inputs are known, as `nugget.study.inputs.uncertain.inputs_of` takes it.
    longest_s : float, optional
        Longest pulse to search [s].
    executor : Executor, optional
        One march after the other in this process by default.
    finished, welds : Finished, optional
        Results of an earlier call.
    on_done : callable, optional
        Called with the number of tasks done and the number asked for so far.
    """
    if len(free) > MOST_FREE:
        raise InputError("allow", f"{len(free)} fields", f"at most {MOST_FREE}")
    longest_s = usual_longest(setup) if longest_s is None else longest_s
    looker = _Looker(tolerances, longest_s, executor, finished, kept() if welds is None else welds, on_done)
    settings = _settings(setup, free, looker)
    found = _candidates(
        [(values, train) for values, changed in settings for train in trains(changed)], looker
    )
    double = next((one for one in found if one.train.kind != "single"), None)
    if double is not None:
        spaced = [with_cool_time(double.train, cool_time_s) for cool_time_s in OTHER_COOL_TIMES_S]
        found += _candidates([(double.values, train) for train in spaced if train is not None], looker)
        found.sort(key=lambda one: -one.margin)
    found = _stated(found, looker)
    best = found[0]
    options = () if best.safe else _options(best, looker)
    why = crossing(best.growths[0])
    return Suggestion(setup, tuple(free), tuple(tolerances), longest_s, tuple(found), why, options)


Values = tuple[tuple[str, float], ...]


def _candidates(some: Sequence[tuple[Values, Train]], looker: _Looker) -> list[Candidate]:
    """Look at trains at every bench; the widest margin first."""
    growths = looker.grow([(train.kind, train.setup) for _, train in some])
    found = [
        candidate_of(train, values, grown, agreed(grown))
        for (values, train), grown in zip(some, growths, strict=True)
    ]
    return sorted(found, key=lambda one: -one.margin)


def _settings(setup: Setup, free: Sequence[Free], looker: _Looker) -> list[tuple[Values, Setup]]:
    """The settings to look at with every train: the best of a grid, then of its neighbours."""
    if not free:
        return [((), setup)]
    count = LEVELS[len(free)]
    grids = [one.values(count) for one in free]
    seen: dict[Values, tuple[float, Setup]] = {}
    _look(setup, free, itertools.product(*grids), looker, seen)
    best = max(seen, key=lambda values: seen[values][0])
    around = []
    for k, one in enumerate(free):
        for sign in (-0.5, 0.5):
            row = [value for _, value in best]
            row[k] += sign * (one.high - one.low) / (count - 1)
            if one.low <= row[k] <= one.high:
                around.append(tuple(float(f"{v:.4g}") for v in row))
    _look(setup, free, around, looker, seen)
    ranked = sorted(seen, key=lambda values: -seen[values][0])[:FINALISTS]
    return [(values, seen[values][1]) for values in ranked]


def _look(
    setup: Setup,
    free: Sequence[Free],
    rows: Sequence[tuple[float, ...]] | itertools.product[tuple[float, ...]],
    looker: _Looker,
    seen: dict[Values, tuple[float, Setup]],
) -> None:
    """Margins of single pulses as set up; what no setup can have is left out."""
    tried: list[tuple[Values, Setup]] = []
    for row in rows:
        values = tuple((one.axis.field.path, v) for one, v in zip(free, row, strict=True))
        try:
            written = {one.axis.field.path: one.axis.field.exact(v) for one, v in zip(free, row, strict=True)}
            tried.append((values, setup.with_(written)))
        except InputError:
            continue
    if not tried and not seen:
        raise InputError("allow", ", ".join(one.axis.field.path for one in free), "values a setup can have")
    for (values, changed), grown in zip(
        tried, looker.nominal([("single", s) for _, s in tried]), strict=True
    ):
        seen[values] = margin_of(window_of(grown), [grown]), changed


def _stated(found: list[Candidate], looker: _Looker) -> list[Candidate]:
    """Make statements about the best candidates until one is in the window; that one comes first."""
    done: list[Candidate] = []
    for one in found[:STATED]:
        done.append(replace(one, statement=looker.state(one.setup)))
        if done[-1].safe:
            break
    rest = found[len(done) :]
    done.sort(key=_rank)
    for _ in range(SHIFTS):
        moved = _shifted(done[0])
        if done[0].safe or moved is None:
            break
        moved = replace(moved, statement=looker.state(moved.setup))
        if _rank(moved) >= _rank(done[0]):
            break
        done[0] = moved
    done[0] = replace(done[0], statement=looker.state(done[0].setup, whole=True))
    return [*done, *rest]


def _rank(one: Candidate) -> tuple[bool, float, float]:
    """The lower the better."""
    return (not one.safe, -(one.good.share if one.good is not None else 0.0), -one.margin)


def _shifted(one: Candidate) -> Candidate | None:
    """The same with a longer pulse where only the joint is in doubt, a shorter one where it is not."""
    assert one.statement is not None
    groups = {c.key: c for c in one.statement.chances if c.key in (JOINT, *SEVERITIES)}
    doubts = undecided(groups, wanted(one.train.setup))
    cold = groups[JOINT].low < wanted(one.train.setup)[JOINT]
    if cold == any(key != JOINT for key in doubts):
        return None
    step_s = count_s(one.train.setup)
    factor = SHIFT if step_s is None else 1.0 + step_s / one.duration_s
    moved_s = settable_s(one.duration_s * (factor if cold else 1.0 / factor), one.train.setup)
    return replace(one, duration_s=moved_s, statement=None) if moved_s != one.duration_s else None


def _options(best: Candidate, looker: _Looker) -> tuple[Option, ...]:
    """Try changes to the bench around the best setting: those that help first, the cheapest of them first."""
    tried, kind = changes(best.train.setup), best.train.kind
    growths = looker.nominal([(kind, change.setup) for change in tried])
    options = [Option(one.change, one.window) for one in judge_changes(tried, growths)]
    opening = sorted((one for one in options if one.window.open), key=lambda one: one.change.cost)
    stated: list[Option] = []
    for one in opening[:OPTIONS_STATED]:
        train = replace(best.train, setup=one.change.setup)
        duration_s = middle_s(one.window, one.window, train.setup)
        stated.append(replace(one, statement=looker.state(train.with_duration(duration_s))))
        if stated[-1].safe:
            break
    stated.sort(key=lambda one: (not one.safe, one.change.cost))
    shut = [one for one in options if not one.window.open]
    return (*stated, *opening[len(stated) :], *shut)
