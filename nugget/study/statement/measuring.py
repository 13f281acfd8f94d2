"""Which measurement would settle an open verdict, and how often it would: the cheapest first."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.inputs.spread import Spread, read_spread
from nugget.study.inputs.uncertain import Uncertain, measurements
from nugget.study.statement.chances import GOOD, Chance, Surface, grouped
from nugget.study.statement.words import verdict_of

OUTCOMES, WELDS = 24, 64
"""Outcomes of a measurement that are looked at, and welds drawn for each."""
MOST_STEPS = 3
ENOUGH = 0.8
"""Chance of a decided verdict from which no further measurement is named."""
WORTH = 0.05
"""What adds less than this to the chance is not named."""


@dataclass(frozen=True)
class Advice:
    """One measurement.

    Attributes
    ----------
    key, title, use : str
        From the data file.
    minutes : float
    fields : tuple of str
        Inputs that it narrows.
    decides : float
        Chance that the verdict is decided with this measurement and those before it.
    """

    key: str
    title: str
    use: str
    minutes: float
    fields: tuple[str, ...]
    decides: float

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


def advise(surface: Surface, chances: Mapping[str, Chance], sure: Mapping[str, float]) -> tuple[Advice, ...]:
    """Return the measurements to make, in this order; the last one says how likely all of them decide.

    What a measurement will find is not known: every outcome that the present spread allows is
    looked at on the fitted responses, the spread narrowed around it, and the verdict taken.
    """
    inputs = surface.inputs
    errors = {
        key: (one.high - one.low) / 2.0 / _unevenness(one.share)
        for key, one in chances.items()
        if key != GOOD
    }
    left = {one.measure for one in inputs.items if one.measure}
    steps: list[Advice] = []
    taken: tuple[str, ...] = ()
    while len(steps) < MOST_STEPS and left:
        found = {key: _decided(surface, errors, sure, (*taken, key)) for key in sorted(left)}
        key = _choice(found)
        before = steps[-1].decides if steps else 0.0
        if found[key] < before + WORTH:
            break
        entry = measurements()[key]
        fields = tuple(one.path for one in inputs.items if one.measure == key)
        steps.append(Advice(key, entry["title"], entry["use"], entry["minutes"], fields, found[key]))
        if found[key] >= ENOUGH:
            break
        taken, left = (*taken, key), left - {key}
    return tuple(steps)


def _choice(found: Mapping[str, float]) -> str:
    """The cheapest of those that decide often enough, else the one that decides most often."""
    cost = {key: float(measurements()[key]["minutes"]) for key in found}
    enough = [key for key, share in found.items() if share >= ENOUGH]
    if enough:
        return min(enough, key=lambda key: cost[key])
    return max(found, key=lambda key: (found[key], -cost[key]))


def _decided(
    surface: Surface, errors: Mapping[str, float], sure: Mapping[str, float], keys: Sequence[str]
) -> float:
    """Share of the outcomes of some measurements after which the verdict is no longer uncertain."""
    inputs = surface.inputs
    narrowed = np.array([remaining(one) if one.measure in keys else 1.0 for one in inputs.items])
    narrowed = np.append(narrowed, np.ones(len(inputs) - len(narrowed)))
    outcomes, welds = inputs.drawn(OUTCOMES, 3), inputs.drawn(WELDS, 4)
    centre = np.where(narrowed < 1.0, outcomes[:, None, :], 0.0)
    rows = (centre + narrowed * welds[None, :, :]).reshape(-1, len(inputs))
    columns = [one.reshape(OUTCOMES, WELDS).mean(axis=1) for one in surface.met(rows)]
    return float(np.mean([_is_decided(surface, errors, sure, row) for row in np.array(columns).T]))


def _is_decided(
    surface: Surface, errors: Mapping[str, float], sure: Mapping[str, float], row: FloatArray
) -> bool:
    """Whether chances of the criteria give a verdict; their errors shrink as they near nought and one."""
    groups = {key: float(v[0]) for key, v in grouped(surface.criteria, [np.array([x]) for x in row]).items()}
    found = {}
    for key, error in errors.items():
        if key in groups:
            share = groups[key]
            half = error * _unevenness(share)
            found[key] = _Ends(share - half, share + half)
    return verdict_of(found, sure) != "uncertain"


def _unevenness(share: float) -> float:
    """What the error of a chance goes with: none is known better than one in two thousand."""
    return math.sqrt(max(share * (1.0 - share), 5e-4))


@dataclass(frozen=True)
class _Ends:
    low: float
    high: float


def remaining(one: Uncertain) -> float:
    """Share of its spread that an input keeps once it is measured."""
    after = read_spread(one.field, measurements()[one.measure]["after"], one.own)
    return min(1.0, _relative(after, one.own) / _relative(one.spread, one.own))


def _relative(spread: Spread, own: float) -> float:
    """Half the width that holds 95 %, as a share of the value."""
    if spread.kind == "share":
        return spread.width
    if spread.kind == "factor":
        return math.log(spread.width)
    if spread.kind == "range":
        low, high = min(spread.low, own), max(spread.width, own)
        return math.log(high / low) / math.sqrt(3.0)
    return spread.width / own
