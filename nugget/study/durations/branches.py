"""Shorter pulses as branches off one long march.

Until the current stops, a short pulse and a long one are the same weld. So the long pulse is
marched once with all its moments kept, and a shorter one starts from the last moment before the
two part: before its downslope, its cut-off or its last firing. Nothing of it is approximated.
The last pulse of a train is the one that is cut.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import islice
from typing import Any

from nugget.errors import SolverError
from nugget.outcome.figures import figures_of
from nugget.outcome.recorder import Recorder
from nugget.outcome.registry.damage_figures import BURN_THROUGH_SHARE
from nugget.setup import Setup
from nugget.study.durations.criteria import History, margins
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState

BURN_THROUGH = "burn-through"
"""Why a march was not taken any further."""
FALLEN = 0.98
LONGEST_WATCH_S = 5e-3
"""A joint is done when it grows no more and what is molten has fallen to this share of its
largest, or after this long: it peaks within tenths of a millisecond after the current stops."""
GUARDED = {"can_penetration", "expulsion", "burn_through"}
"""Figures of which nothing new is learnt once the wall has burnt through."""
WATCHED = ("can_penetration", "strip_penetration")


def with_duration(setup: Setup, duration_s: float) -> Setup:
    """Return `setup` with the last pulse lasting `duration_s`."""
    changes = {f"pulse.{len(setup.train) - 1}.duration": duration_s}
    if setup.circuit.switch.kind == "relay":  # also what it cannot make: `window_of` leaves that out
        changes |= {"switch.closing_bounce": 0.0, "switch.opening_delay": 0.0}
    return setup.with_(changes)


def count_s(setup: Setup) -> float | None:
    """Step [s] in which the last pulse can last: a half cycle where it is counted in them."""
    frequency = getattr(setup.circuit.source, "frequency_Hz", None)
    if frequency is None:
        return None
    counted = setup.circuit.source.turns_off_at_zero or setup.file.pulse[-1].half_cycles is not None
    return 0.5 / float(frequency) if counted else None


@dataclass(frozen=True)
class Run:
    """One pulse: its figures and its whole history.

    `deep` tells whether the cool-down was followed until the interior had passed its peak.
    """

    duration_s: float
    figures: dict[str, Any]
    history: History
    deep: bool


def _settable(setup: Setup, duration_s: float) -> float:
    """The longest duration that can be set and is no longer than this one [s]; zero where none is."""
    step_s = count_s(setup)
    return duration_s if step_s is None else step_s * max(0, math.floor(duration_s / step_s + 1e-6))


class LongPulse:
    """The longest pulse, every moment kept, and the branches that leave it.

    Parameters
    ----------
    setup : Setup
    longest_s : float
        Duration of the last pulse [s].

    Attributes
    ----------
    start_s : float
        When the last pulse begins [s].
    searched_s : float
        Durations up to this one can be branched.
    ended : str
        Why `searched_s` is below `longest_s`; empty when it is not.
    single_solves : int
        Stage solves that the longest pulse took, with cool-down when it came to one.
    runs : dict of float to Run
        Every pulse that was asked for, by duration.
    """

    def __init__(self, setup: Setup, longest_s: float) -> None:
        self.setup = with_duration(setup, longest_s)
        self.longest_s, self.ended = longest_s, ""
        self.start_s = self.setup.train_s - longest_s
        self.model = WeldModel(self.setup)
        self.recorder = Recorder(March(self.setup, self.model))
        self.states: list[WeldState] = []
        self.runs: dict[float, Run] = {}
        self._grow()
        self.single_solves = self.model.stage_count
        last = self.states[-1].time_s - self.start_s
        self.searched_s = longest_s if not self.ended else min(_settable(self.setup, last), longest_s)

    def _grow(self) -> None:
        """March the longest pulse until the interior has peaked or the wall has burnt through."""
        guards = {limit.figure for limit in self.setup.limits} & GUARDED
        try:
            for state in self.recorder.march:
                self._record(self.recorder, state)
                if state.time_s <= self.setup.train_s * (1.0 + 1e-9):
                    self.states.append(state)
                    if guards and self._burnt():
                        self.ended = BURN_THROUGH
                        return
                if self.recorder.done():
                    self.runs[self.longest_s] = self._run(self.recorder, self.longest_s, True)
                    return
        except SolverError as failure:
            self.ended = str(failure)

    def _burnt(self) -> bool:
        row = self.recorder.rows[-1]
        return row["can_penetration"] >= BURN_THROUGH_SHARE or row["wall_vapour_J"] > 0.0

    @staticmethod
    def _record(recorder: Recorder, state: WeldState) -> None:
        recorder.add(state)
        recorder.rows[-1] |= margins(recorder, state)

    @staticmethod
    def _run(recorder: Recorder, duration_s: float, deep: bool) -> Run:
        return Run(duration_s, figures_of(recorder, deep), recorder.history(), deep)

    def history(self) -> History:
        """History of the long pulse until the current stops."""
        count = len(self.states)
        return {name: column[:count] for name, column in self.recorder.history().items()}

    def run(self, duration_s: float, deep: bool) -> Run:
        """Return the pulse of `duration_s`, at most `searched_s`, branched off unless it is known."""
        known = self.runs.get(duration_s)
        if known is None or (deep and not known.deep):
            known = self.runs[duration_s] = self._branch(duration_s, deep)
        return known

    def _branch(self, duration_s: float, deep: bool) -> Run:
        setup = with_duration(self.setup, duration_s)
        parts_s = self.start_s + duration_s - setup.train[-1].downslope_s
        before = [k for k, state in enumerate(self.states) if state.time_s < parts_s * (1.0 - 1e-9)]
        count = len(before)
        march = March(setup, self.model, self.states[count - 1])
        recorder = Recorder(march)
        recorder.rows = self.recorder.rows[:count]
        recorder.zones = self.recorder.zones[:count]
        recorder.last = march.begin
        recorder.peak_detector.follow(self.recorder.peak_detector, count)
        for state in islice(march, 1, None):  # the first is known already
            self._record(recorder, state)
            if recorder.done() if deep else self._joint_is_done(recorder, state):
                break
        return self._run(recorder, duration_s, deep)

    @staticmethod
    def _joint_is_done(recorder: Recorder, state: WeldState) -> bool:
        since = state.time_s - recorder.setup.train_s
        if since <= 0.0 or state.electric is not None:
            return False
        rows = recorder.rows
        fallen = rows[-1]["nugget_diameter_m"] <= rows[-2]["nugget_diameter_m"] and all(
            rows[-1][name] <= FALLEN * max(row[name] for row in rows) or rows[-1][name] >= BURN_THROUGH_SHARE
            for name in WATCHED
        )
        return fallen or since > LONGEST_WATCH_S
