"""Window edges of one setup: the durations at which something starts to hold.

The first guess comes from the growth curve of the longest pulse, the answer from branches: runs
of exactly the duration in question, so that melt that still advances after cut-off and an
interior that peaks later are in it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.merit import amounts
from nugget.outcome.figures import figures_of
from nugget.outcome.registry.damage_figures import CERTAIN
from nugget.setup import Setup
from nugget.setup.description import SHORTEST_PULSE_S
from nugget.study.durations.branches import BURN_THROUGH, LongPulse, count_s
from nugget.study.durations.criteria import Criterion, criteria_of

TOLERANCES_K, NEAR, NARROW = (1.5, 4.5), (2e-3, 1e-2), (0.015, 0.045)
"""An excess this small is an edge, as a share of the quantity that governs it, and so is the middle of a
bracket this narrow, as a share of the duration: at the standard tolerance and below, and at that of studies,
where it saves a fifth of the stages and moves edges by 1.2 % (root mean square), a sixth of what a chart's
responses are off by."""
MOST_RUNS = 12
TEMPTING = -0.03
"""A criterion that the growth curve misses by no more than this gets a branch of its own: what
happens after cut-off may still meet it."""
SHORTEST_SHARE = 1e-3
"""Searches start at this share of the longest pulse."""


@dataclass(frozen=True)
class Edge:
    """One edge.

    Attributes
    ----------
    key, title, kind, unit : str
        As in `nugget.study.durations.criteria.Criterion`.
    duration_s : float or None
        Shortest pulse that meets the criterion; for a limit the longest that keeps it. None:
        no pulse up to the longest one searched does; 0: every pulse does.
    low_s, high_s : float or None
        Durations between which the edge was pinned down; equal when it was met head-on.
    value, threshold : float or None
        The figure at the edge (None where every pulse is beyond it); without an edge, that of
        the longest pulse.
    unknown : str
        Why the edge could not be found; empty when it is known, or known to be absent.
    excess : float or None
        Where there is no edge, how far the longest pulse is from one, relative to the threshold: below
        zero. None where there is one, or where nothing can be said.
    """

    key: str
    title: str
    kind: str
    unit: str
    duration_s: float | None
    low_s: float | None
    high_s: float | None
    value: float | None
    threshold: float
    unknown: str = ""
    excess: float | None = None


@dataclass(frozen=True)
class Growth:
    """What one setup says about every duration of its last pulse.

    Attributes
    ----------
    edges : tuple of Edge
    searched_s : float
        Longest duration that the edges speak for.
    ended : str
        Why that is less than was asked for; empty when it is not.
    time_s, fused_m, bonded_m, current_A : tuple of float
        Growth curve: diameters and current as the longest pulse passes each duration.
    longest_solves, solves : int
        Stage solves of the longest pulse and of everything together.
    seconds : float
    shortest_s : float
        Shortest pulse that the switch makes.
    """

    edges: tuple[Edge, ...]
    searched_s: float
    ended: str
    time_s: tuple[float, ...]
    fused_m: tuple[float, ...]
    bonded_m: tuple[float, ...]
    current_A: tuple[float, ...]
    longest_solves: int
    solves: int
    seconds: float
    shortest_s: float = 0.0

    @property
    def failed(self) -> bool:
        """Whether the march stopped by itself, so that nothing is known of longer pulses."""
        return self.ended not in ("", BURN_THROUGH)

    def edge(self, key: str) -> Edge:
        """The edge of a criterion."""
        return next(edge for edge in self.edges if edge.key == key)


def grow(task: tuple[Setup, float]) -> Growth:
    """Find all edges of a setup up to a longest duration [s]; one argument, for executors.

    Keeps to one thread, wherever it runs: the columns of a chart are what runs side by side.
    """
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1):
        return _grow(*task)


def _grow(setup: Setup, longest_s: float) -> Growth:
    began = time.perf_counter()
    long = LongPulse(setup, longest_s)
    # Joint edges first: the interior's search then starts from what they have learnt.
    look = _edge if long.searched_s > 0.0 else _at_once
    found = {c.key: look(long, c) for c in sorted(criteria_of(long.setup), key=lambda c: c.deep)}
    history = long.history()
    after = history["time_s"] >= long.start_s
    return Growth(
        edges=tuple(found[c.key] for c in criteria_of(long.setup)),
        searched_s=max(long.searched_s, 0.0),
        ended=long.ended,
        time_s=_listed(history["time_s"][after] - long.start_s),
        fused_m=_listed(history["nugget_diameter_m"][after]),
        bonded_m=_listed(history["bonded_diameter_m"][after]),
        current_A=_listed(history["current_A"][after]),
        longest_solves=long.single_solves,
        solves=long.model.stage_count,
        seconds=time.perf_counter() - began,
        shortest_s=setup.circuit.switch.shortest_s,
    )


def _listed(column: FloatArray) -> tuple[float, ...]:
    return tuple(float(v) for v in column)


def _countable(setup: Setup, duration_s: float) -> float:
    """The shortest duration that can be set and is no shorter than this one [s]."""
    step_s = count_s(setup)
    return duration_s if step_s is None else step_s * math.ceil(duration_s / step_s - 1e-6)


def worded(setup: Setup, duration_s: float | None) -> str:
    """A duration of the last pulse as it is set: in half cycles where it is counted in them."""
    step_s = count_s(setup)
    if step_s is None or duration_s is None:
        return amounts.time(duration_s)
    waves = round(duration_s / step_s, 2)
    return f"{waves:g} half cycle{'' if waves == 1.0 else 's'}"


@dataclass
class _Bracket:
    """Durations between which an edge lies, with the excess at both ends (None: not run)."""

    low_s: float
    low: float | None
    high_s: float
    high: float | None


def _edge(long: LongPulse, one: Criterion) -> Edge:
    """Find one edge."""

    def ask(duration_s: float) -> float:
        run = long.run(duration_s, one.deep)
        return one.excess(run.figures, run.history)

    shortest_s = _shortest(long)
    try:
        start = _deep_start(long, one, ask) if one.deep else _joint_start(long, one, ask)
        if start is None:
            return _absent(long, one)
        bracket, guess_s = start
        if bracket.high_s <= shortest_s:
            return _placed(long, one, 0.0 if one.kind == "limit" else bracket.high_s, 0.0, bracket.high_s)
        step_s = count_s(long.setup)
        if step_s is not None:
            low_s, high_s = _count(ask, bracket, guess_s, step_s)
        else:
            low_s, high_s = _close(ask, bracket, guess_s, shortest_s, _closeness(long.setup))
    except SolverError as failure:
        return _absent(long, one, str(failure))
    if step_s is not None:
        return _placed(long, one, low_s if one.kind == "limit" else high_s, low_s, high_s)
    if low_s == 0.0:  # below the shortest pulse that can be set: taken on the safe side
        return _placed(long, one, 0.0 if one.kind == "limit" else high_s, low_s, high_s)
    return _placed(long, one, math.sqrt(low_s * high_s), low_s, high_s)


def _at_once(long: LongPulse, one: Criterion) -> Edge:
    """The edge where the train came to its end before its last pulse began: at zero, or not known."""
    if not one.deep and float(one.along(long.history()).max()) >= 0.0:
        return _placed(long, one, 0.0, 0.0, 0.0)
    return _absent(long, one)


def _placed(long: LongPulse, one: Criterion, duration_s: float, low_s: float, high_s: float) -> Edge:
    runs = [run for run in long.runs.values() if run.deep or not one.deep]
    nearest = min(runs, key=lambda run: abs(run.duration_s - duration_s), default=None)
    known = nearest is not None and duration_s > 0.0
    value = one.value(nearest.figures) if known and nearest is not None else None
    return Edge(one.key, one.title, one.kind, one.unit, duration_s, low_s, high_s, value, one.threshold)


def _absent(long: LongPulse, one: Criterion, unknown: str = "") -> Edge:
    longest = long.runs.get(long.searched_s)
    figures = longest.figures if longest is not None else figures_of(long.recorder, False)
    told = not one.deep or longest is not None
    history = longest.history if longest is not None else long.history()
    value = one.value(figures) if told else None
    excess = min(one.excess(figures, history), 0.0) if told else None
    how = one.key, one.title, one.kind, one.unit
    return Edge(*how, None, None, None, value, one.threshold, unknown, excess)


def _shortest(long: LongPulse) -> float:
    pulse = long.setup.train[-1]
    return max(pulse.upslope_s + pulse.downslope_s, SHORTEST_SHARE * long.longest_s, SHORTEST_PULSE_S)


def _joint_start(
    long: LongPulse, one: Criterion, ask: Callable[[float], float]
) -> tuple[_Bracket, float] | None:
    """Bracket and guess from the growth curve: what a pulse has met, all longer ones have met."""
    history = long.history()
    # The moment at which a pulse and the long part, as a duration: the downslope comes after.
    t = history["time_s"] - long.start_s + long.setup.train[-1].downslope_s
    largest = np.maximum.accumulate(one.along(history))
    met = np.flatnonzero(largest >= 0.0)
    top_s = long.searched_s
    if met.size and t[met[0]] <= top_s * (1.0 + 1e-9):
        k = int(met[0])
        high_s = min(float(t[k]), top_s)
        if k == 0 or t[k] <= 0.0:
            return _Bracket(0.0, None, 0.0, None), 0.0
        a, b = float(largest[k - 1]), float(largest[k])
        guess_s = float(t[k - 1] + (t[k] - t[k - 1]) * (-a / (b - a)))
        return _Bracket(max(float(t[k - 1]), 0.0), None, high_s, None), guess_s
    at = int(np.argmax(one.along(history)))
    tried_s = min(_countable(long.setup, float(t[at])), top_s)
    if largest[-1] < TEMPTING or tried_s <= 0.0 or ask(tried_s) < 0.0:
        return None
    return _Bracket(0.0, None, tried_s, None), tried_s


def _deep_start(
    long: LongPulse, one: Criterion, ask: Callable[[float], float]
) -> tuple[_Bracket, float] | None:
    """Bracket from all pulses whose cool-down is known; the guess is proportional to energy."""
    top_s = long.searched_s
    if ask(top_s) < 0.0:
        return None
    known = sorted((r.duration_s, one.excess(r.figures, r.history)) for r in long.runs.values() if r.deep)
    high_s, high = next((t, e) for t, e in known if e >= 0.0)
    low_s, low = next(((t, e) for t, e in reversed(known) if e < 0.0 and t < high_s), (0.0, -1.0))
    history = long.history()
    t, energy = history["time_s"] - long.start_s, history["weld_J"]
    ends = np.interp([low_s, high_s], t, energy)
    wanted = ends[0] + (ends[1] - ends[0]) * -low / (high - low)
    guess_s = float(np.interp(wanted, energy, t))
    return _Bracket(low_s, low if low_s > 0.0 else None, high_s, high), guess_s


def _closeness(setup: Setup) -> tuple[float, float]:
    """How small an excess, and how narrow a bracket, is an edge."""
    near, narrow = (float(np.interp(setup.numerics.tolerance_K, TOLERANCES_K, x)) for x in (NEAR, NARROW))
    return near, narrow


def _close(
    ask: Callable[[float], float],
    bracket: _Bracket,
    guess_s: float,
    shortest_s: float,
    closeness: tuple[float, float],
) -> tuple[float, float]:
    """Close the bracket; return its ends, equal when an edge was met head-on.

    The lower end of a bracket from the growth curve is only a guess: a run there may show that
    what happens after cut-off is enough. The search then goes further down.
    """
    b, (near, narrow) = bracket, closeness
    for _ in range(MOST_RUNS):
        guess_s = max(guess_s, shortest_s)
        excess = ask(guess_s)
        if abs(excess) <= near:
            return guess_s, guess_s
        if excess >= 0.0:
            if guess_s <= shortest_s * (1.0 + 1e-9):
                return 0.0, guess_s
            b.high_s, b.high = guess_s, excess
            if b.low_s >= guess_s:
                b.low_s, b.low = 0.0, None
        else:
            b.low_s, b.low = guess_s, excess
        if b.low is not None and b.high_s - b.low_s <= narrow * b.high_s:
            break
        guess_s = _next(b, shortest_s, narrow)
    return b.low_s, b.high_s


def _next(b: _Bracket, shortest_s: float, narrow: float) -> float:
    """Next duration to run inside a bracket."""
    width = b.high_s - b.low_s
    if b.low is None:
        # Close in on an upper end that is certain, in strides that grow with what is left.
        if b.low_s <= shortest_s:
            return max(0.7 * b.high_s, shortest_s)
        return b.low_s if width <= 4.0 * narrow * b.high_s else b.high_s - 0.25 * width
    if b.high is None:
        return b.low_s + 0.5 * width
    if b.high >= CERTAIN or b.low <= -CERTAIN:
        return b.low_s + 0.5 * width
    share = -b.low / (b.high - b.low)
    return b.low_s + width * min(0.9, max(0.1, share))


def _count(
    ask: Callable[[float], float], bracket: _Bracket, guess_s: float, step_s: float
) -> tuple[float, float]:
    """Close a bracket in whole steps; return the last that misses and the first that meets."""
    low, high = 0, max(1, math.ceil(bracket.high_s / step_s - 1e-6))
    at = math.ceil(guess_s / step_s - 1e-6)
    while high - low > 1:
        at = min(max(at, low + 1), high - 1)
        if ask(at * step_s) >= 0.0:
            high, at = at, at - 1  # the guess was good: its neighbour settles it
        else:
            low, at = at, (at + high) // 2
    return low * step_s, high * step_s
