"""The verdict in a word, from chances and from how sure it has to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from nugget.merit.limit import SEVERITIES
from nugget.setup import Setup
from nugget.study.statement.chances import GOOD, JOINT, Chance


class Interval(Protocol):
    """A chance and the ends of its interval."""

    @property
    def low(self) -> float: ...

    @property
    def high(self) -> float: ...


def wanted(setup: Setup) -> dict[str, float]:
    """How sure the setup asks to be of the joint, and that no limit of a severity is broken."""
    asked = setup.file.uncertainty
    return {JOINT: asked.joint, "harm": asked.harm, "damage": asked.damage, "hardware": asked.hardware}


def verdict_of(found: Mapping[str, Interval], sure: Mapping[str, float]) -> str:
    """One of `nugget.outcome.verdict.MEANING`: whatever holds with the chance that is asked for.

    Parameters
    ----------
    found : mapping of str to Chance
        ``enough`` and the severities.
    sure : mapping of str to float
        From `wanted`.
    """
    reached = found[JOINT].low >= sure[JOINT]
    missed = found[JOINT].high <= 1.0 - sure[JOINT]
    present = [key for key in SEVERITIES if key in found]
    kept = {key: found[key].high <= 1.0 - sure[key] for key in present}
    # That something bad happens needs no more certainty than that the joint is made.
    broken = {key: found[key].low >= sure[JOINT] for key in present}
    if missed:
        # A pulse that joins has to be longer, and no limit is kept more surely in a longer one.
        if any(found[key].low > 1.0 - sure[key] for key in present):
            return "no window"
        if kept.get("harm", True):  # what is open can harm no cell: whichever is likelier
            over = any(_middle(found[key]) > 1.0 - sure[key] for key in present)
            return "no window" if over else "too cold"
    elif all(kept.values()):
        return "in window" if reached else "uncertain"
    if broken.get("harm") or broken.get("damage"):
        return "too hot"
    only_hardware = all(kept[key] for key in present if key != "hardware")
    return "hardware limit" if broken.get("hardware") and only_hardware and reached else "uncertain"


def _middle(chance: Interval) -> float:
    return 0.5 * (chance.low + chance.high)


def undecided(found: Mapping[str, Interval], sure: Mapping[str, float]) -> list[str]:
    """Groups whose chance is on neither side of what is asked for, the gravest first."""
    open_ones = [key for key in SEVERITIES if key in found and not found[key].high <= 1.0 - sure[key]]
    joint = found[JOINT]
    if not (joint.low >= sure[JOINT] or joint.high <= 1.0 - sure[JOINT]):
        open_ones.insert(1 if open_ones[:1] == ["harm"] else 0, JOINT)
    return open_ones


def by_sampling(chances: Mapping[str, Chance], sure: Mapping[str, float]) -> bool:
    """Whether the error of the chances alone may keep a verdict open: more welds might give one.

    They do where the chances as estimated would decide, or where the better end of every interval says
    *in window*: the error of the responses makes rare harm look more frequent until there are enough welds.
    """
    if verdict_of(chances, sure) != "uncertain":
        return False
    some = {key: one for key, one in chances.items() if key != GOOD}
    ends = {key: one.high if key == JOINT else one.low for key, one in some.items()}
    best = {key: _Ends(end, end) for key, end in ends.items()}
    return decided_by(some, sure, 0.0) or verdict_of(best, sure) == "in window"


def decided_by(chances: Mapping[str, Chance], sure: Mapping[str, float], left: float) -> bool:
    """Whether there would be a verdict with the same chances and this share of their errors left."""
    shrunk = {
        key: _Ends(one.share + left * (one.low - one.share), one.share + left * (one.high - one.share))
        for key, one in chances.items()
        if key != GOOD
    }
    return verdict_of(shrunk, sure) != "uncertain"


@dataclass(frozen=True)
class _Ends:
    low: float
    high: float
