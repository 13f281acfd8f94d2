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
from nugget.study.statement.chances import GOOD, JOINT, Gaps, Surface, chance_of, grouped
from nugget.study.statement.words import verdict_of

OUTCOMES, WELDS = 20, 40
"""Outcomes of a measurement that are looked at, and welds drawn for each."""
MOST_STEPS = 3
ENOUGH = 0.8
"""Chance of a decided verdict from which no further measurement is named."""
NARROWEST = 0.5
"""No deviation is narrowed further than this when welds are weighted: else none would be left."""
FAR = 16.0
"""All welds together weigh as much as so many near ones: few that lie near tell little by themselves."""
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
        Chance that the verdict is decided with this measurement and those before it; 0 where it narrows most
        and none is seen to decide.
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


def advise(surface: Surface, gaps: Gaps, sure: Mapping[str, float]) -> tuple[Advice, ...]:
    """Return the measurements to make, in this order; the last one says how likely all of them decide.

    What a measurement will find is not known: every outcome that the present spread allows is
    looked at. Around it the spread is narrowed, and the chances are taken as those of a statement are, from
    the responses and from the welds that lie there.
    """
    inputs = surface.inputs
    left = {one.measure for one in inputs.items if one.measure}
    steps: list[Advice] = []
    taken: tuple[str, ...] = ()
    while len(steps) < MOST_STEPS and left:
        found = {key: _decided(surface, gaps, sure, (*taken, key)) for key in sorted(left)}
        key = _choice(found)
        before = steps[-1].decides if steps else 0.0
        if found[key] < before + WORTH:
            break
        steps.append(_advice(surface, key, found[key]))
        if found[key] >= ENOUGH:
            break
        taken, left = (*taken, key), left - {key}
    return tuple(steps)


def narrows(surface: Surface, criterion: int) -> tuple[Advice, ...]:
    """The measurement that takes most off the spread of a criterion, where none is seen to decide a verdict.

    A chance that is foreseen counts with all the errors of the welds at hand; what is then measured, and
    simulated anew, may well decide.
    """
    items = surface.inputs.items
    taken: dict[str, float] = {}
    for one, total in zip(items, surface.responses[criterion].totals, strict=False):
        if one.measure:
            taken[one.measure] = taken.get(one.measure, 0.0) + float(total) * (1.0 - remaining(one))
    key = max(taken, key=lambda name: taken[name], default="")
    return (_advice(surface, key, 0.0),) if key and taken[key] > 0.0 else ()


def _advice(surface: Surface, key: str, decides: float) -> Advice:
    entry = measurements()[key]
    fields = tuple(one.path for one in surface.inputs.items if one.measure == key)
    return Advice(key, entry["title"], entry["use"], entry["minutes"], fields, decides)


def _choice(found: Mapping[str, float]) -> str:
    """The cheapest of those that decide often enough, else the one that decides most often."""
    cost = {key: float(measurements()[key]["minutes"]) for key in found}
    enough = [key for key, share in found.items() if share >= ENOUGH]
    if enough:
        return min(enough, key=lambda key: cost[key])
    return max(found, key=lambda key: (found[key], -cost[key]))


def _decided(surface: Surface, gaps: Gaps, sure: Mapping[str, float], keys: Sequence[str]) -> float:
    """Share of the outcomes of some measurements after which the verdict is no longer uncertain."""
    inputs = surface.inputs
    narrowed = np.array([remaining(one) if one.measure in keys else 1.0 for one in inputs.items])
    narrowed = np.append(narrowed, np.ones(len(inputs) - len(narrowed)))
    outcomes, welds = inputs.drawn(OUTCOMES, 3), inputs.drawn(WELDS, 4)
    centres = np.where(narrowed < 1.0, outcomes, 0.0)
    rows = (centres[:, None, :] + narrowed * welds[None, :, :]).reshape(-1, len(inputs))
    columns = np.array([one.reshape(OUTCOMES, WELDS) for one in surface.met(rows)])
    near = [_nearness(gaps.deviations, centre, narrowed) for centre in centres]
    return float(np.mean([_is_decided(surface, gaps, sure, columns[:, k], near[k]) for k in range(OUTCOMES)]))


def _nearness(deviations: FloatArray, centre: FloatArray, narrowed: FloatArray) -> FloatArray:
    """How much each weld stands for those around a centre, where some deviations are narrowed."""
    some = narrowed < 1.0
    width = np.maximum(narrowed[some], NARROWEST)
    z = deviations[:, some]
    logs = 0.5 * (z**2 - ((z - centre[some]) / width) ** 2).sum(axis=1)
    near = np.exp(logs - logs.max())
    known = near.sum() ** 2 / (near**2).sum()  # as many welds of equal weight would tell as much
    return np.asarray(known * near / near.sum() + FAR / len(near), dtype=np.float64)


def _is_decided(
    surface: Surface,
    gaps: Gaps,
    sure: Mapping[str, float],
    columns: Sequence[FloatArray] | FloatArray,
    weights: FloatArray,
) -> bool:
    """Whether as many welds, where these weights are large, would give a verdict."""
    found = {
        key: chance_of(
            key, "", "" if key == JOINT else key, column, gaps.grouped[key], gaps.lost, key != JOINT, weights
        )
        for key, column in grouped(surface.criteria, list(columns)).items()
        if key != GOOD
    }
    return verdict_of(found, sure) != "uncertain"


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
