"""What a statement says in words: the verdict, why, on which inputs it depends, what would settle it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.merit.limit import SEVERITIES, titles
from nugget.setup import Setup
from nugget.study.statement.chances import GOOD, JOINT, UNFINISHED, Chance, Gaps, Surface, severity_of
from nugget.study.statement.measuring import Advice, advise, narrows
from nugget.study.statement.words import by_sampling, undecided, verdict_of, wanted

NAMED = 0.1
"""Inputs with at least this share in what decides are named."""


@dataclass(frozen=True)
class Said:
    """A verdict and its reasons.

    Attributes
    ----------
    verdict, reason : str
    decides : tuple of (str, float)
        Inputs by their share in the criterion on which the verdict depends; empty when it is decided.
    advice : tuple of Advice
        What to measure, in this order; empty when it is decided.
    more_welds : bool
        Whether the error of the chances alone may keep the verdict open.
    """

    verdict: str
    reason: str
    decides: tuple[tuple[str, float], ...] = ()
    advice: tuple[Advice, ...] = ()
    more_welds: bool = False

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {
            "verdict": self.verdict,
            "reason": self.reason,
            "decides": [{"input": name, "share": share} for name, share in self.decides],
            "measure": [one.record() for one in self.advice],
        }


def said_of(surface: Surface, chances: Sequence[Chance], gaps: Gaps) -> Said:
    """Return what follows from the chances of a setup, which come from the welds of `gaps`."""
    setup = surface.inputs.setup
    groups, sure = groups_of(chances), wanted(setup)
    verdict = verdict_of(groups, sure)
    said = f"minimum diameter reached in {percent(groups[JOINT])}"
    said += "".join(f"; {percent(groups[key])} {SEVERITIES[key]}" for key in SEVERITIES if key in groups)
    if verdict != "uncertain":
        return Said(verdict, said)
    key = _decisive(surface, chances, undecided(groups, sure))
    decides = tuple((name, share) for name, share in influence(surface, key) if share >= NAMED)[:3]
    title = titles_of(setup).get(key, "minimum diameter reached").lower()
    said += f"; it depends on '{title}'" + (f", and that on {_named(decides)}" if decides else "")
    more_welds = by_sampling(groups, sure)
    if more_welds:
        said += f"; more welds than {len(gaps.deviations)} may decide it"
    number = next(k for k, one in enumerate(surface.criteria) if one.key == key)
    advice = advise(surface, gaps, sure) or narrows(surface, number)
    return Said(verdict, said, decides, advice, more_welds)


def influence(surface: Surface, key: str) -> tuple[tuple[str, float], ...]:
    """Inputs by their share in the spread of a criterion, the largest first."""
    number = next(k for k, one in enumerate(surface.criteria) if one.key == key)
    totals = surface.responses[number].totals
    order = np.argsort(-totals, kind="stable")
    return tuple((surface.inputs.titles[k], float(totals[k])) for k in order if totals[k] > 0.0)


def titles_of(setup: Setup) -> dict[str, str]:
    """What each chance is a chance of."""
    return {
        JOINT: "minimum diameter reached",
        GOOD: "minimum diameter reached within every limit",
        UNFINISHED: "run ended before the interior's peak",
        **SEVERITIES,
        **titles(setup.limits),
    }


def groups_of(chances: Sequence[Chance]) -> dict[str, Chance]:
    """What a verdict is taken from; welds that were not followed to their end may come to harm."""
    found = {one.key: one for one in chances if one.key in (JOINT, *SEVERITIES)}
    unfinished = next((one for one in chances if one.key == UNFINISHED), None)
    if unfinished is not None:
        harm = found.get("harm", Chance("harm", "", "harm", 0.0, 0.0, 0.0))
        high = min(1.0, harm.high + unfinished.share)
        found["harm"] = Chance("harm", harm.title, "harm", harm.share, harm.low, high)
    return found


def _decisive(surface: Surface, chances: Sequence[Chance], open_groups: Sequence[str]) -> str:
    """The criterion that keeps a verdict open most."""
    group = open_groups[0] if open_groups else JOINT
    shares = {one.key: one.share for one in chances}
    keys = [one.key for one in surface.criteria if severity_of(one) == group]
    return max(keys, key=lambda key: 0.0 if key == "minimum_diameter" else shares.get(key, 0.0))


def _named(decides: Sequence[tuple[str, float]]) -> str:
    return ", ".join(f"{name} ({100.0 * share:.0f} %)" for name, share in decides)


def percent(one: Chance) -> str:
    """A chance with its error, in words."""
    share, half = 100.0 * one.share, 50.0 * (one.high - one.low)
    if one.high < 0.005:
        return "under 1 %"
    return f"{share:.0f} % (±{max(half, 1.0):.0f})"
