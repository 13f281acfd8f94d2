"""What a validation case is: a claim with its source, and checks whose tolerance is fixed beforehand."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Check:
    """One number against its reference.

    Attributes
    ----------
    name : str
    value, reference : float
        In `unit`.
    error, tolerance : float
        Both relative unless `note` says otherwise; `passed` is ``error <= tolerance``.
    unit, note : str
    counts : bool
        False: reported for information, never a failure.
    kind : {"error", "at most", "at least", "must hold"}
        Whether `error` is judged against `tolerance`, `value` has to stay below `tolerance` or to reach
        `reference`, or a statement has to be true.
    """

    name: str
    value: float
    reference: float
    error: float
    tolerance: float
    unit: str = ""
    note: str = ""
    counts: bool = True
    kind: str = "error"

    @property
    def passed(self) -> bool:
        """Whether the error is within the tolerance; not a number never is."""
        return self.error <= self.tolerance

    @property
    def failed(self) -> bool:
        return self.counts and not self.passed


@dataclass(frozen=True)
class Drawing:
    """A figure of the report; `draw` returns a matplotlib Figure and is called by the report only."""

    name: str
    caption: str
    draw: Callable[[], Any]


@dataclass(frozen=True)
class Outcome:
    """What one case found: checks, figures and further text (Markdown) for the report."""

    checks: tuple[Check, ...]
    drawings: tuple[Drawing, ...] = ()
    text: str = ""


@dataclass(frozen=True)
class Case:
    """One validation case.

    Attributes
    ----------
    key : str
        Short unique name; begins with the number of the group (1 to 7).
    title, claim, source, tolerance : str
        `tolerance` states each tolerance and its reason.
    run : callable
        Does the work and returns an `Outcome`.
    quick : bool
        Whether it runs by default under pytest (all quick ones together within two minutes).
    may_fail : dict of str to str
        Published schedules and literature trends only: why a check, named by the beginning of
        its name, is expected to fail. It is still reported as failing.
    """

    key: str
    title: str
    claim: str
    source: str
    tolerance: str
    run: Callable[[], Outcome]
    quick: bool = True
    may_fail: tuple[tuple[str, str], ...] = ()

    @property
    def heading(self) -> str:
        return f"{self.key}: {self.title}"

    @property
    def words(self) -> str:
        """What stands above its table (Markdown)."""
        return f"Claim: {self.claim}\n\nSource: {self.source}\n\nTolerance: {self.tolerance}"

    def reason(self, check: Check) -> str:
        """Why this check is expected to fail; empty when it is not."""
        return next((why for name, why in self.may_fail if check.name.startswith(name)), "")


def relative(
    name: str, value: float, reference: float, tolerance: float, unit: str = "", note: str = ""
) -> Check:
    """Compare by relative error."""
    return Check(name, float(value), float(reference), abs(value / reference - 1.0), tolerance, unit, note)


def scaled(
    name: str, value: float, reference: float, scale: float, tolerance: float, unit: str = "", note: str = ""
) -> Check:
    """Compare by the difference as a share of `scale`."""
    return Check(name, float(value), float(reference), abs(value - reference) / scale, tolerance, unit, note)


def at_most(name: str, value: float, bound: float, unit: str = "", note: str = "") -> Check:
    """The value itself is an error or a residual that must stay below `bound`."""
    return Check(name, float(value), 0.0, abs(float(value)), bound, unit, note, kind="at most")


def at_least(name: str, value: float, bound: float, unit: str = "", note: str = "") -> Check:
    """The value must reach `bound`; the error is what is missing, as a share of the bound."""
    missing = max(0.0, bound - float(value)) / abs(bound) if math.isfinite(value) else math.nan
    return Check(
        name, float(value), bound, missing, 0.0, unit, note or f"at least {bound:g}", kind="at least"
    )


def holds(name: str, true: bool, note: str = "") -> Check:
    """A statement that is true or not."""
    return Check(name, float(true), 1.0, 0.0 if true else 1.0, 0.0, "", note, kind="must hold")


def reported(name: str, value: float, unit: str = "", note: str = "") -> Check:
    """A number that is reported and not judged."""
    return Check(name, float(value), math.nan, 0.0, math.inf, unit, note, counts=False)


def informative(name: str, value: float, reference: float, unit: str = "", note: str = "") -> Check:
    """A relative deviation that is reported and not judged."""
    error = abs(value / reference - 1.0) if reference else abs(value)
    return Check(name, float(value), float(reference), error, math.inf, unit, note, counts=False)
