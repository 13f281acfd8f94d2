"""Spread of the figures of many welds, and which input each of them follows most."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.figure import FIGURES
from nugget.outcome.verdict import followed
from nugget.study.statement.statement import Statement

QUANTILES = (0.05, 0.5, 0.95)


def column(statement: Statement, name: str) -> FloatArray | None:
    """A figure of every weld; None where it does not apply."""
    values = [one.figures.get(name) for one in statement.samples]
    return None if any(v is None for v in values) else np.array(values, dtype=np.float64)


def quantiles(statement: Statement) -> dict[str, tuple[float, ...]]:
    """Return the `QUANTILES` of every figure that applies to all welds."""
    shown = [*_numbers(statement), *(key for key, one in FIGURES.items() if one.weight == "spread")]
    columns = {name: column(statement, name) for name in dict.fromkeys(shown)}
    return {
        name: tuple(float(q) for q in np.quantile(values, QUANTILES))
        for name, values in columns.items()
        if values is not None
    }


def _numbers(statement: Statement) -> list[str]:
    """Figures that are followed and have a spread, which a truth value has not."""
    return [key for key in followed(statement.setup) if FIGURES[key].is_number]


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


def influences(statement: Statement) -> tuple[Influence, ...]:
    """Return what each figure that varies at all depends on."""
    from scipy.stats import spearmanr

    found = []
    names = np.array(statement.inputs.titles)
    for figure in _numbers(statement):
        values = column(statement, figure)
        if values is None or np.ptp(values) <= 1e-9 * np.abs(values).max():
            continue
        together = np.array([spearmanr(one, values).statistic for one in statement.deviations.T])
        order = np.argsort(-np.abs(together), kind="stable")
        noise = 1.96 / max(len(values) - 3, 1) ** 0.5
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
