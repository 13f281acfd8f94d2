"""Pulse trains to choose from, and what every duration of each does."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np

from nugget.errors import InputError, SolverError
from nugget.setup import Setup
from nugget.setup.description import SHORTEST_PULSE_S, Pulse
from nugget.study.durations.branches import LongPulse, count_s
from nugget.study.durations.criteria import Criterion, criteria_of
from nugget.study.durations.edges import Edge, Growth, grow

Kind = Literal["single", "preheat", "equal"]

PREHEAT_SHARES = (0.15, 0.3)
"""Length of the preheat pulse over that of the setup's own pulse."""
COOL_TIME_S = 10e-3
"""Off time within a train: the surface cools, the contact stays as wide as it has become."""
OTHER_COOL_TIMES_S = (3e-3, 30e-3)
"""Tried with the best train of two pulses."""
EQUAL_STEPS = 7
REFINED = 2
SHORTEST_SHARE = 0.08


@dataclass(frozen=True)
class Train:
    """One kind of pulse train.

    Attributes
    ----------
    name : str
        In words.
    kind : {"single", "preheat", "equal"}
        One pulse; a short pulse that seats the tip, a gap, the main pulse; two equal pulses.
    setup : Setup
        With this train; the last pulse (of ``equal`` both) is the one that is searched.
    cool_time_s : float
        Off time between the pulses; 0 for a single one.
    """

    name: str
    kind: Kind
    setup: Setup
    cool_time_s: float

    def with_duration(self, duration_s: float) -> Setup:
        """Return the setup with its searched pulse, or both equal ones, lasting `duration_s`."""
        return self.setup.with_({"pulse": _pulses(self, duration_s)})


def trains(setup: Setup) -> list[Train]:
    """Return the trains to compare; those that the setup cannot take are left out."""
    own_s, step_s = setup.train[-1].duration_s, count_s(setup)
    preheats_s = [share * own_s if step_s is None else step_s for share in PREHEAT_SHARES]
    plans: list[tuple[Kind, float, float]] = [("single", 0.0, 0.0)]
    plans += [("preheat", first_s, COOL_TIME_S) for first_s in dict.fromkeys(preheats_s)]
    plans.append(("equal", own_s, COOL_TIME_S))
    found = [_train(setup, *one) for one in plans]
    return [one for one in found if one is not None]


def with_cool_time(train: Train, cool_time_s: float) -> Train | None:
    """Return a train of two pulses with another gap; None where the setup cannot take it."""
    return _train(train.setup, train.kind, train.setup.train[0].duration_s, cool_time_s)


def _train(setup: Setup, kind: Kind, first_s: float, cool_time_s: float) -> Train | None:
    """The train whose first pulse lasts `first_s`; None where the setup cannot take it."""
    first_s = float(f"{first_s:.2g}") if count_s(setup) is None else first_s
    names = {
        "single": "one pulse",
        "preheat": f"preheat pulse of {first_s * 1e3:.2g} ms, {cool_time_s * 1e3:g} ms cool time, main pulse",
        "equal": f"two equal pulses, {cool_time_s * 1e3:g} ms cool time between them",
    }
    pulses = [_pulse(setup, first_s, cool_time_s)] if kind != "single" else []
    last = _pulse(setup, setup.train[-1].duration_s, 0.0)
    try:
        return Train(names[kind], kind, setup.with_({"pulse": [*pulses, last]}), cool_time_s)
    except InputError:
        return None


def _pulse(setup: Setup, duration_s: float, cool_time_s: float) -> Pulse:
    """A pulse like the setup's last one."""
    own = setup.train[-1]
    short = duration_s < own.upslope_s + own.downslope_s
    slopes = (0.0, 0.0) if short else (own.upslope_s, own.downslope_s)
    return Pulse(duration_s, own.output_fraction, *slopes, cool_time_s)


def _pulses(train: Train, duration_s: float) -> list[Pulse]:
    main = _pulse(train.setup, duration_s, 0.0)
    if train.kind == "single":
        return [main]
    first_s = duration_s if train.kind == "equal" else train.setup.train[0].duration_s
    return [_pulse(train.setup, first_s, train.cool_time_s), main]


def grow_train(task: tuple[Kind, Setup, float]) -> Growth:
    """Find all edges of a train up to a longest duration [s]; one argument, for executors."""
    kind, setup, longest_s = task
    if kind != "equal":
        return grow((setup, longest_s))
    from threadpoolctl import threadpool_limits

    with threadpool_limits(limits=1):
        return _grow_equal(setup, longest_s)


class _Pairs:
    """Runs of two equal pulses, which share nothing with each other."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.criteria = criteria_of(setup)
        self.excess: dict[float, dict[str, float]] = {}
        self.figures: dict[float, dict[str, Any]] = {}
        self.solves = 0

    def run(self, duration_s: float) -> None:
        """March one pair; a pair that burns through before its end breaks what it has broken by then."""
        first, last = self.setup.train
        pulses = replace(first, duration_s=duration_s), replace(last, duration_s=duration_s)
        long = LongPulse(self.setup.with_({"pulse": pulses}), duration_s)
        if long.searched_s <= 0.0:
            raise SolverError(0.0, long.ended)
        run = long.run(long.searched_s, True)
        self.excess[duration_s] = {c.key: c.excess(run.figures, run.history) for c in self.criteria}
        self.figures[duration_s] = run.figures
        self.solves += long.model.stage_count

    def edge(self, one: Criterion, step_s: float | None) -> Edge:
        """The edge of one criterion, between two pairs that were marched."""
        times = sorted(self.excess)
        levels = [self.excess[t][one.key] for t in times]
        met = [k for k, level in enumerate(levels) if level >= 0.0]
        found = (one.key, one.title, one.kind, one.unit)
        if not met:
            value = one.value(self.figures[times[-1]])
            return Edge(*found, None, None, None, value, one.threshold)
        k = met[0]
        value = one.value(self.figures[times[k]])
        if k == 0:  # somewhere below the shortest pair: each taken on the safe side
            at_s = 0.0 if one.kind == "limit" else times[0]
            return Edge(*found, at_s, 0.0, times[0], value, one.threshold)
        low_s, high_s = times[k - 1], times[k]
        if step_s is not None:
            at_s = low_s if one.kind == "limit" else high_s
        else:
            share = min(max(-levels[k - 1] / (levels[k] - levels[k - 1]), 0.1), 0.9)
            at_s = low_s * (high_s / low_s) ** share
        return Edge(*found, at_s, low_s, high_s, value, one.threshold)


def _grow_equal(setup: Setup, longest_s: float) -> Growth:
    began, step_s = time.perf_counter(), count_s(setup)
    pairs = _Pairs(setup)
    durations = np.geomspace(max(SHORTEST_SHARE * longest_s, SHORTEST_PULSE_S), longest_s, EQUAL_STEPS)
    if step_s is not None:
        durations = np.unique(np.maximum(1, np.round(durations / step_s))) * step_s
    ended = ""
    for duration_s in durations:
        try:
            pairs.run(float(duration_s))
        except SolverError as failure:
            ended = str(failure)
            break
    if not pairs.excess:
        raise SolverError(0.0, ended)
    for _ in range(REFINED if step_s is None else 0):
        edges = [pairs.edge(c, None) for c in pairs.criteria if c.kind != "bond"]
        known = [edge.duration_s for edge in edges if edge.duration_s and edge.kind == "limit"]
        starts = [edge.duration_s for edge in edges if edge.kind == "joint"]
        target_s = None if None in starts else max(s for s in starts if s is not None)
        for wanted in {target_s, min(known, default=None)}:
            if wanted and wanted not in pairs.excess:
                pairs.run(wanted)
    times = sorted(pairs.excess)
    return Growth(
        edges=tuple(pairs.edge(c, step_s) for c in pairs.criteria),
        searched_s=times[-1],
        ended=ended,
        time_s=tuple(times),
        fused_m=tuple(float(pairs.figures[t]["nugget_diameter_m"]) for t in times),
        bonded_m=tuple(float(pairs.figures[t]["bonded_diameter_m"]) for t in times),
        current_A=tuple(float(pairs.figures[t]["peak_current_A"]) for t in times),
        longest_solves=pairs.solves,
        solves=pairs.solves,
        seconds=time.perf_counter() - began,
        shortest_s=setup.circuit.switch.shortest_s,
    )
