"""Look for the setting with the widest margin: fields the user lets go, trains, durations."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import replace

from nugget.errors import InputError
from nugget.setup import Setup
from nugget.study.charting.duration_chart import usual_longest
from nugget.study.charting.hardware_changes import Tried, changes, judge_changes
from nugget.study.durations.edges import Growth
from nugget.study.durations.window import Window, agreed, crossing, window_of
from nugget.study.inputs.uncertain import Inputs
from nugget.study.statement.samples import Sample
from nugget.study.statement.statement import FINE, state
from nugget.study.suggestion.candidate import Candidate, Free, Suggestion, margin_of
from nugget.study.suggestion.trains import OTHER_COOL_TIMES_S, Kind, Train, grow_train, trains, with_cool_time
from nugget.study.tasks import Finished, key_of, run_all

BAND = 1.25
LEVELS = {1: 5, 2: 3, 3: 3}
"""Values of each free field in the first look, by how many there are."""
MOST_FREE = 3
FINALISTS = 2
"""Settings that are looked at with every train."""
NOMINAL = (1.0,)
HALVINGS = 3
"""Steps in which the band is narrowed where no setting is safe."""
SCATTERED = 3
"""Candidates whose welds are scattered."""


class _Looker:
    """Grows trains, keeping count."""

    def __init__(
        self,
        band: float,
        longest_s: float,
        executor: Executor | None,
        finished: Finished[Growth] | None,
        on_done: Callable[[int, int], None] | None,
    ) -> None:
        self.factors = (1.0 / band, 1.0, band) if band > 1.0 else (1.0,)
        self.longest_s, self.executor, self.finished, self.on_done = longest_s, executor, finished, on_done
        self.asked = self.done = 0

    def grow(
        self, some: Sequence[tuple[Kind, Setup]], factors: tuple[float, ...]
    ) -> list[tuple[Growth, ...]]:
        """Growths of each train at contact radii times `factors`."""
        tasks = [
            [(kind, setup.with_radius(factor), self.longest_s) for factor in factors] for kind, setup in some
        ]
        keys = [[key_of(*task) for task in row] for row in tasks]
        flat = dict(zip(itertools.chain(*keys), itertools.chain(*tasks), strict=True))
        self.asked += len(flat)
        results = run_all(grow_train, flat, self.executor, self.finished, self.count)
        return [tuple(results[key] for key in row) for row in keys]

    def stated(self, key: str, _: int) -> None:
        """Report a march of a statement."""
        self.count(key)

    def count(self, _: str = "") -> None:
        """Report one more finished task."""
        self.done += 1
        if self.on_done is not None:
            self.on_done(self.done, self.asked)


def suggest(
    setup: Setup,
    free: Sequence[Free] = (),
    inputs: Inputs | None = None,
    samples: int = 32,
    band: float = BAND,
    longest_s: float | None = None,
    executor: Executor | None = None,
    finished: Finished[Growth] | None = None,
    welds: Finished[Sample] | None = None,
    on_done: Callable[[int, int], None] | None = None,
) -> Suggestion:
    """Search trains, durations and free fields for the widest margin to all limits.

    Parameters
    ----------
    setup : Setup
    free : sequence of Free
        What the search may change, at most `MOST_FREE`.
    inputs : Inputs, optional
        What is not known exactly, of the statements by which the best candidates are compared; none:
        by their windows alone.
    samples : int
        Welds for each of them.
    band : float
        Contact radii from 1 / `band` to `band` have to agree; 1: nominal contact alone.
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
    looker = _Looker(band, longest_s, executor, finished, on_done)
    settings = _settings(setup, free, looker)
    found = _candidates(
        [(values, train) for values, changed in settings for train in trains(changed)], looker
    )
    double = next((one for one in found if one.train.kind != "single"), None)
    if double is not None:
        spaced = [with_cool_time(double.train, off_s) for off_s in OTHER_COOL_TIMES_S]
        found += _candidates([(double.values, train) for train in spaced if train is not None], looker)
        found.sort(key=lambda one: -one.margin)
    if found[0].window.open and inputs is not None:
        found = _scattered(found, inputs, samples, looker, welds)
    best = found[0]
    why = crossing(best.growths[len(best.growths) // 2])
    hardware = () if best.window.open else _hardware(best, looker)
    known = None if best.window.open or not best.nominal.open else _narrowed(best, band, looker)
    return Suggestion(setup, tuple(free), band, longest_s, tuple(found), why, hardware, known)


Values = tuple[tuple[str, float], ...]


def _candidates(some: Sequence[tuple[Values, Train]], looker: _Looker) -> list[Candidate]:
    """Look at trains at every contact radius; the widest margin first."""
    growths = looker.grow([(train.kind, train.setup) for _, train in some], looker.factors)
    found = [
        Candidate(train, values, grown, agreed(grown))
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
    """Margins of single pulses at nominal contact; what no setup can have is left out."""
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
        tried, looker.grow([("single", s) for _, s in tried], NOMINAL), strict=True
    ):
        seen[values] = margin_of(window_of(grown[0]), grown), changed


def _scattered(
    found: list[Candidate],
    inputs: Inputs,
    samples: int,
    looker: _Looker,
    welds: Finished[Sample] | None,
) -> list[Candidate]:
    """Scatter the best candidates; the one with the best chance comes first."""
    best = [one for one in found if one.window.open][:SCATTERED]
    looker.asked += (samples + FINE) * len(best)
    done = []
    for one in best:
        statement = state(
            one.setup,
            inputs.around(one.setup),
            (samples,),
            executor=looker.executor,
            finished=welds,
            on_done=looker.stated,
        )
        done.append(replace(one, statement=statement))
    done.sort(key=lambda one: (-(one.good.share if one.good is not None else 0.0), -one.margin))
    return [*done, *(one for one in found if one not in best)]


def _hardware(best: Candidate, looker: _Looker) -> tuple[tuple[Tried, Window], ...]:
    """Try changes of hardware around the best setting."""
    tried = changes(best.train.setup)
    kind = best.train.kind
    growths = [row[0] for row in looker.grow([(kind, change.setup) for change in tried], NOMINAL)]
    judged = judge_changes(tried, growths)
    opening = [trial for trial in judged if trial.window.open]
    everywhere = looker.grow([(kind, trial.change.setup) for trial in opening], looker.factors)
    shared = {trial.change.what: agreed(row) for trial, row in zip(opening, everywhere, strict=True)}
    both = [(trial, shared.get(trial.change.what, trial.window)) for trial in judged]
    return tuple(sorted(both, key=lambda pair: (not pair[1].open, not pair[0].window.open)))


def _narrowed(best: Candidate, band: float, looker: _Looker) -> tuple[float, Window] | None:
    """The widest band of contact radii over which a candidate is safe, and its window there."""
    train, found = best.train, None
    low, high = 1.0, band
    for _ in range(HALVINGS):
        middle = float(f"{(low * high) ** 0.5:.3g}")
        window = agreed(looker.grow([(train.kind, train.setup)], (1.0 / middle, 1.0, middle))[0])
        if window.open:
            low, found = middle, (middle, window)
        else:
            high = middle
    return found
