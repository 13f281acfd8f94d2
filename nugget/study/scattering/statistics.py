"""Chances with their intervals, spread of the figures, and which input matters most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nugget.merit.figure import FIGURES
from nugget.merit.limit import by_id, titles
from nugget.outcome.verdict import followed
from nugget.study.scattering.welds import Scatter

QUANTILES = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Chance:
    """A probability with its 95 % interval (Wilson), from counted welds.

    The welds are drawn evenly rather than at random, so the interval is on the safe side.
    """

    key: str
    title: str
    count: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """The counted share."""
        return self.count / self.of


def chance(key: str, title: str, count: int, of: int) -> Chance:
    """Return the probability behind ``count`` out of ``of`` welds."""
    from scipy.stats import binomtest

    found = binomtest(count, of).proportion_ci(method="wilson")
    return Chance(key, title, count, of, float(found.low), float(found.high))


def chances(scatter: Scatter) -> tuple[Chance, ...]:
    """Return the chances of a good weld, of a joint that suffices, and of breaking each limit."""
    welds, of = scatter.samples, len(scatter.samples)
    found = [
        chance("good", "joint suffices and every limit holds", sum(one.good for one in welds), of),
        chance("enough", "joint suffices", sum(one.enough for one in welds), of),
    ]
    called = titles(scatter.setup.limits)
    for id in by_id(scatter.setup.limits):
        if all(one.limits[id] is None for one in welds):
            continue
        count = sum(id in one.broken for one in welds)
        found.append(chance(id, f"breaks: {called[id].lower()}", count, of))
    unfinished = sum(not one.peak_reached for one in welds)
    if unfinished:
        found.append(chance("unfinished", "run ended before the interior's peak", unfinished, of))
    return tuple(found)


def quantiles(scatter: Scatter) -> dict[str, tuple[float, ...]]:
    """Return the `QUANTILES` of every figure that applies to all welds."""
    shown = [*_numbers(scatter), *(key for key, one in FIGURES.items() if one.weight == "spread")]
    columns = {name: scatter.column(name) for name in dict.fromkeys(shown)}
    return {
        name: tuple(float(q) for q in np.quantile(column, QUANTILES))
        for name, column in columns.items()
        if column is not None
    }


def _numbers(scatter: Scatter) -> list[str]:
    """Figures that are followed and have a spread, which a truth value has not."""
    return [key for key in followed(scatter.setup) if FIGURES[key].is_number]


@dataclass(frozen=True)
class Influence:
    """How a figure follows the inputs: Spearman's rank correlation with each.

    Attributes
    ----------
    figure, title : str
    inputs : tuple of str
        Titles, the most important first.
    correlation : tuple of float
    noise : float
        Correlations smaller than this may be chance (95 %).
    """

    figure: str
    title: str
    inputs: tuple[str, ...]
    correlation: tuple[float, ...]
    noise: float


def influences(scatter: Scatter) -> tuple[Influence, ...]:
    """Return what each figure that varies at all depends on."""
    from scipy.stats import spearmanr

    found = []
    names = np.array([one.axis.title for one in scatter.tolerances])
    for figure in _numbers(scatter):
        column = scatter.column(figure)
        if column is None or np.ptp(column) <= 1e-9 * np.abs(column).max():
            continue
        together = np.array([spearmanr(one, column).statistic for one in scatter.deviations.T])
        order = np.argsort(-np.abs(together), kind="stable")
        noise = 1.96 / max(len(column) - 3, 1) ** 0.5
        found.append(
            Influence(
                figure,
                FIGURES[figure].title.lower(),
                tuple(str(name) for name in names[order]),
                tuple(float(r) for r in together[order]),
                noise,
            )
        )
    return tuple(found)
