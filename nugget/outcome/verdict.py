"""Limits against one run, and the state of it in a word.

The equations: manual, theory-verdict.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from nugget.merit.figure import FIGURES
from nugget.merit.limit import SEVERITIES, Limit, by_id
from nugget.setup import Setup

MEANING = {
    "in window": "the joint reaches its minimum diameter within every limit, as surely as the setup asks",
    "too cold": "the joint stays below its minimum diameter, and the cell comes to no harm",
    "too hot": "the joint reaches its minimum diameter, but a limit of harm or damage is exceeded",
    "hardware limit": "the joint reaches its minimum diameter, but a limit of the hardware is exceeded",
    "no window": "a limit is exceeded, or more likely to be than allowed, where the joint is still too small",
    "uncertain": "the answer depends on something that is not known well enough",
}
"""What each verdict says."""


@dataclass(frozen=True)
class LimitResult:
    """One limit against one run.

    Attributes
    ----------
    limit : Limit
    value : float or None
        The figure; None where it does not apply.
    title : str
        The figure's title; with the limit's id where several limits share a figure.
    """

    limit: Limit
    value: float | None
    title: str

    @property
    def broken(self) -> bool:
        """Whether the run breaks the limit."""
        return self.limit.breaks(self.value)

    @property
    def margin(self) -> float | None:
        """Distance to the limit in its own unit; negative when broken."""
        return self.limit.margin(self.value)

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        limit = self.limit
        return {
            "id": limit.id,
            "figure": limit.figure,
            "title": self.title,
            "sense": limit.sense,
            "value": self.value,
            "limit": limit.bound,
            "unit": limit.what.si_unit,
            "margin": self.margin,
            "broken": self.broken,
            "severity": limit.severity,
            "confidence": limit.confidence,
            "source": limit.source,
        }


def broken_limits(setup: Setup, figures: dict[str, Any]) -> tuple[Limit, ...]:
    """Every limit of the setup that a run breaks, the gravest first.

    Raises
    ------
    InputError
        When two limits share an id, or a figure was not read.
    """
    broken = [one for one in by_id(setup.limits).values() if one.breaks(one.value_in(figures))]
    return tuple(sorted(broken, key=lambda one: list(SEVERITIES).index(one.severity)))


def state_of(setup: Setup, figures: dict[str, Any]) -> str:
    """Verdict of a single run, one of `MEANING` but ``uncertain``.

    A limit that a longer pulse would keep, such as a joint of at least some size, is missed by
    cold; any other broken limit counts, whether the joint is large enough or not.
    """
    broken = broken_limits(setup, figures)
    beyond = [limit for limit in broken if not limit.reaches]
    enough = figures["nugget_diameter_m"] >= setup.joint.minimum_diameter_m and len(beyond) == len(broken)
    if not beyond:
        return "in window" if enough else "too cold"
    if not enough:
        return "no window"
    return "hardware limit" if all(limit.severity == "hardware" for limit in beyond) else "too hot"


def followed(setup: Setup) -> tuple[str, ...]:
    """Figures that a scatter follows: the headlines and all that is limited."""
    limited = {limit.figure for limit in setup.limits}
    return tuple(key for key, one in FIGURES.items() if one.weight == "headline" or key in limited)
