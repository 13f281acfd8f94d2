"""What a search compares: free fields, candidates with their windows, and what it found."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.errors import InputError
from nugget.setup import Setup, find_field
from nugget.setup.description import SHORTEST_PULSE_S
from nugget.study.charting.hardware_changes import Change
from nugget.study.durations.branches import count_s
from nugget.study.durations.edges import Growth
from nugget.study.durations.window import Window, window_of
from nugget.study.inputs.variation import Axis
from nugget.study.statement.chances import GOOD, Chance
from nugget.study.statement.statement import Statement
from nugget.study.suggestion.trains import Train

SAFE = "in window"
"""The only verdict with which a setting is suggested for a cell."""


@dataclass(frozen=True)
class Free:
    """A field that the search may change, between two values [SI]."""

    axis: Axis
    low: float
    high: float

    def values(self, count: int) -> list[float]:
        """Values to try: evenly spread, the setup's own among them."""
        found = [float(f"{v:.4g}") for v in np.linspace(self.low, self.high, count)]
        own = self.axis.own
        if own is not None and self.low <= own <= self.high:
            found[int(np.argmin([abs(v - own) for v in found]))] = own
        return sorted(set(found))


@dataclass(frozen=True)
class Candidate:
    """One setting and train, with the window of durations that it leaves.

    Attributes
    ----------
    train : Train
    values : tuple of (str, float)
        Fields that were changed [SI].
    growths : tuple of Growth
        As set up, then at some benches drawn from what is not known exactly.
    window : Window
        That all of these share.
    duration_s : float
        Of its searched pulse, where it is to be welded [s].
    statement : Statement or None
        About the weld of that duration; None where it was not made.
    """

    train: Train
    values: tuple[tuple[str, float], ...]
    growths: tuple[Growth, ...]
    window: Window
    duration_s: float
    statement: Statement | None = None

    @property
    def nominal(self) -> Window:
        """The window as set up."""
        return window_of(self.growths[0])

    @property
    def margin(self) -> float:
        """How wide the shared window is: the logarithm of last over first duration.

        Negative where the limit comes first; where the target is never reached, below that by how
        much of it is missing.
        """
        return margin_of(self.window, self.growths)

    @property
    def setup(self) -> Setup:
        """The setup with the recommended train."""
        return self.train.with_duration(self.duration_s)

    @property
    def safe(self) -> bool:
        """Whether its statement is that of a weld in the window."""
        return self.statement is not None and self.statement.verdict == SAFE

    @property
    def good(self) -> Chance | None:
        """Chance of a joint of the minimum diameter with every limit kept."""
        return None if self.statement is None else self.statement.chance(GOOD)


@dataclass(frozen=True)
class Option:
    """A change to the bench that leaves a window as set up.

    Attributes
    ----------
    change : Change
    window : Window
        As set up.
    statement : Statement or None
        About a weld in the middle of it; None where it was not made.
    """

    change: Change
    window: Window
    statement: Statement | None = None

    @property
    def safe(self) -> bool:
        """Whether its statement is that of a weld in the window."""
        return self.statement is not None and self.statement.verdict == SAFE


@dataclass(frozen=True)
class Suggestion:
    """What the search found.

    Attributes
    ----------
    setup : Setup
        The user's own.
    free : tuple of Free
    tolerances : tuple of str
        How well inputs are known, over what the setup says.
    longest_s : float
    candidates : tuple of Candidate
        The best first.
    crossing : str
        Why the best has no window as set up; empty when there is one.
    options : tuple of Option
        Changes to the bench that were tried where no setting is safe: those that help first, of these
        the cheapest first.
    """

    setup: Setup
    free: tuple[Free, ...]
    tolerances: tuple[str, ...]
    longest_s: float
    candidates: tuple[Candidate, ...]
    crossing: str
    options: tuple[Option, ...]

    @property
    def best(self) -> Candidate:
        return self.candidates[0]

    @property
    def tried(self) -> Candidate:
        """What trials should be made with: the best where it is safe, else the best single pulse."""
        single = (one for one in self.candidates if one.train.kind == "single")
        return self.best if self.safe else next(single, self.best)

    @property
    def safe(self) -> bool:
        """Whether the best is in the window, by the same statement as of a weld that is set up so."""
        return self.best.safe


def middle_s(window: Window, nominal: Window, setup: Setup) -> float:
    """The middle of a shared window, or of the one as set up, by ratio [s], as it can be set."""
    window = window if window.open else nominal
    start_s = window.from_s if window.from_s is not None else window.until_s
    return settable_s(math.sqrt(max(start_s, 1e-9) * max(window.until_s, 1e-9)), setup)


def settable_s(duration_s: float, setup: Setup) -> float:
    """A duration as the switch can make it: whole half cycles, or three digits [s]."""
    step_s = count_s(setup)
    if step_s is not None:
        return max(1, round(duration_s / step_s)) * step_s
    digits_s = float(f"{duration_s:.3g}")
    return max(digits_s, SHORTEST_PULSE_S, 1.001 * setup.circuit.switch.shortest_s)


def candidate_of(
    train: Train, values: tuple[tuple[str, float], ...], growths: Sequence[Growth], window: Window
) -> Candidate:
    """A candidate whose duration is the middle of its window."""
    chosen_s = middle_s(window, window_of(growths[0]), train.setup)
    return Candidate(train, values, tuple(growths), window, chosen_s)


def margin_of(window: Window, growths: Sequence[Growth]) -> float:
    """Margin of a window, see `Candidate.margin`."""
    if window.from_s is not None and window.until_s > 0.0:
        return math.log(window.until_s / max(window.from_s, 1e-9))
    reached = min(max(g.fused_m, default=0.0) / g.edge("minimum_diameter").threshold for g in growths)
    return -10.0 + min(reached, 1.0)


def read_free(setup: Setup, text: str) -> Free:
    """Read ``FIELD=LOW:HIGH``, such as ``source.open_circuit_voltage=8 V:14 V``.

    Raises
    ------
    InputError
    """
    name, equals, span = text.partition("=")
    field = find_field(setup, name.strip(), "allow")
    where, parts = f"allow {field.path}", [part.strip() for part in span.split(":")]
    if field.path.startswith("pulse."):
        raise InputError(where, text, "another field: durations and trains are searched anyway")
    if not equals or len(parts) != 2:
        raise InputError(where, text, "FIELD=LOW:HIGH, such as 'electrode.force=15 N:50 N'")
    try:
        low, high = (field.read(part) for part in parts)
    except ValueError as problem:
        raise InputError(where, span, str(problem)) from problem
    if not (math.isfinite(low) and math.isfinite(high) and low < high):
        raise InputError(where, span, "a lower value first, then a higher one")
    return Free(Axis(field, (), setup.get(field.path)), low, high)
