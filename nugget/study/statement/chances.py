"""Chances from fitted responses, corrected by counted welds, each with its own error.

The equations: manual, theory-chances.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.durations.criteria import Criterion
from nugget.study.inputs.uncertain import Inputs
from nugget.study.statement.response_surface import degrees, features, fit
from nugget.study.statement.samples import Sample

CLIPPED = 1.0
"""Excesses are cut off here: how far beyond twice a limit a weld is does not matter."""
NORMAL_95 = 1.96
CLOUD = 4096
"""Draws at which the responses are read."""
JOINT, GOOD, UNFINISHED = "enough", "good", "unfinished"


@dataclass(frozen=True)
class Chance:
    """A probability with its 95 % interval.

    Attributes
    ----------
    key : str
        ``enough``: the joint reaches its minimum; ``good``: that and every limit kept; ``unfinished``: not
        followed past the interior's peak; a severity: any of its limits is broken; else the id
        of a limit: it is broken.
    title : str
    severity : str
        Of a limit; empty for the others.
    share, low, high : float
    """

    key: str
    title: str
    severity: str
    share: float
    low: float
    high: float

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {name: getattr(self, name) for name in self.__dataclass_fields__}


class Fitted(Protocol):
    """What a surface asks of a response; see `nugget.study.statement.response_surface.Response`."""

    @property
    def freedom(self) -> float: ...

    @property
    def missed(self) -> FloatArray: ...

    @property
    def alone(self) -> FloatArray: ...

    @property
    def totals(self) -> FloatArray: ...

    def at(self, places: FloatArray) -> tuple[FloatArray, FloatArray]: ...


Spots = list[tuple[FloatArray, FloatArray]]
"""Values and their errors, for one spot or for both spots of a pair."""


@dataclass(frozen=True)
class Surface:
    """All criteria of a setup as fitted responses.

    Attributes
    ----------
    inputs : Inputs
    criteria : tuple of Criterion
    responses : tuple of Fitted
    """

    inputs: Inputs
    criteria: tuple[Criterion, ...]
    responses: tuple[Fitted, ...]

    def met(self, deviations: FloatArray) -> list[FloatArray]:
        """Chance that each criterion is met (its limit is broken) at each row, each of shape (n,)."""
        return [self.chance(k, spots) for k, spots in enumerate(self.read(deviations))]

    def read(self, deviations: FloatArray) -> list[Spots]:
        """Excess and its error of each criterion at each row: once, or at either spot of a pair."""
        places = features(deviations, degrees(self.inputs))
        spots = [places]
        if self.inputs.either_spot:
            other = places.copy()
            other[:, -1] *= -1.0
            spots.append(other)
        return [[one.at(spot) for spot in spots] for one in self.responses]

    def chance(self, number: int, spots: Spots, later: FloatArray | float = 0.0) -> FloatArray:
        """Chance that a criterion is met, each excess raised by `later`, at the spot that is worse off.

        Both spots of a pair have to be good.
        """
        worse = np.minimum if self.criteria[number].kind == "joint" else np.maximum
        freedom = self.responses[number].freedom
        found = [_above(values + later, errors, freedom) for values, errors in spots]
        return np.asarray(worse.reduce(found), dtype=np.float64)

    def met_unseen(self, number: int, values: FloatArray) -> FloatArray:
        """The same at the simulated welds themselves, each by the others' word for it."""
        one = self.responses[number]
        return _above(values - one.missed, one.alone, one.freedom)


def met(excess: FloatArray) -> FloatArray:
    """1 where a simulated weld meets a criterion, else 0."""
    return np.asarray(excess >= 0.0, dtype=np.float64)


def _above(values: FloatArray, errors: FloatArray, freedom: float) -> FloatArray:
    """Chance that what is known to be about `values` lies above zero."""
    from scipy.special import stdtr

    return np.asarray(stdtr(freedom, values / errors))


def grouped(criteria: Sequence[Criterion], columns: Sequence[FloatArray]) -> dict[str, FloatArray]:
    """Chances of the joint and of each severity, from those of the criteria, each of shape (n,)."""
    found: dict[str, FloatArray] = {JOINT: np.ones_like(columns[0])}
    kept: dict[str, FloatArray] = {}
    for one, column in zip(criteria, columns, strict=True):
        if one.kind == "joint":
            found[JOINT] = found[JOINT] * column
        else:
            severity = severity_of(one)
            kept[severity] = kept.get(severity, np.ones_like(column)) * (1.0 - column)
    found[GOOD] = found[JOINT] * np.prod([*kept.values(), np.ones_like(columns[0])], axis=0)
    return found | {severity: 1.0 - column for severity, column in kept.items()}


def severity_of(criterion: Criterion) -> str:
    """How grave it is that a limit is broken; ``enough`` for what a pulse must reach."""
    if criterion.kind == "joint" or criterion.limit is None:
        return JOINT
    return criterion.limit.severity


def clipped(samples: Sequence[Sample], key: str) -> FloatArray:
    """Excess of one criterion in each weld."""
    return np.clip([one.excess[key] for one in samples], -CLIPPED, CLIPPED)


def surface_of(
    inputs: Inputs,
    criteria: Sequence[Criterion],
    deviations: FloatArray,
    samples: Sequence[Sample],
) -> Surface:
    """Fit every criterion."""
    places = features(deviations, degrees(inputs))
    return Surface(inputs, tuple(criteria), tuple(fit(places, clipped(samples, one.key)) for one in criteria))


@dataclass(frozen=True)
class Gaps:
    """What the simulated welds are above what responses that had not seen them say.

    Attributes
    ----------
    deviations : ndarray, shape (n, d)
        Where the welds lie.
    single : tuple of ndarray, shape (n,)
        By criterion: whether it is met, less the chance of that.
    grouped : dict of str to ndarray, shape (n,)
        The same of the joint and of each severity.
    lost : float
        Share of the welds that were not finished.
    """

    deviations: FloatArray
    single: tuple[FloatArray, ...]
    grouped: dict[str, FloatArray]
    lost: float


def gaps_of(surface: Surface, deviations: FloatArray, values: Sequence[FloatArray], lost: float) -> Gaps:
    """From the excess of each criterion in each weld."""
    unseen = [surface.met_unseen(k, column) for k, column in enumerate(values)]
    counted = [met(column) for column in values]
    guessed, seen = (grouped(surface.criteria, found) for found in (unseen, counted))
    single = tuple(one - other for one, other in zip(counted, unseen, strict=True))
    return Gaps(deviations, single, {key: seen[key] - guessed[key] for key in seen}, lost)


def chances_of(
    surface: Surface, samples: Sequence[Sample], gaps: Gaps, titles: Mapping[str, str]
) -> tuple[Chance, ...]:
    """The chances of a statement: of the groups first, then of each limit."""
    criteria, lost = surface.criteria, gaps.lost
    columns = surface.met(surface.inputs.drawn(CLOUD, 2))
    whole = grouped(criteria, columns)
    found = []
    for key, column in whole.items():
        safe = key not in (JOINT, GOOD)
        found.append(
            chance_of(
                key,
                titles[key],
                key if safe else "",
                column,
                gaps.grouped[key],
                lost,
                safe,
            )
        )
    for k, one in enumerate(criteria):
        if one.limit is None:
            continue
        safe = one.kind != "joint"
        gap, severity = gaps.single[k], one.limit.severity
        column, gap = (columns[k], gap) if safe else (1.0 - columns[k], -gap)
        found.append(chance_of(one.key, titles[one.key], severity, column, gap, lost, True))
    open_ended = float(np.mean([not one.peak_reached for one in samples])) * (1.0 - lost) + lost
    if open_ended > 0.0:
        found.append(Chance(UNFINISHED, titles[UNFINISHED], "harm", open_ended, 0.0, 1.0))
    return tuple(found)


def chance_of(
    key: str,
    title: str,
    severity: str,
    column: FloatArray,
    gap: FloatArray,
    lost: float,
    bad: bool,
    weights: FloatArray | None = None,
) -> Chance:
    """Return a chance and its interval.

    What the counted welds are above what the responses say of them takes the responses' own bias
    away; its scatter is the error. Where what is bad comes out rarer than the responses say, that is
    not believed of harm. A weld that was not finished counts as bad. `weights` of the welds stand for as
    many others that lie where these are large.
    """
    count = len(gap)
    share = float(column.mean())
    correction = float(np.average(gap, weights=weights))
    scatter = float(np.average((gap - correction) ** 2, weights=weights))
    if severity == "harm" and bad:
        correction = max(correction, 0.0)
    expected = float(np.mean(column * (1.0 - column)))
    error = math.sqrt(max(scatter, expected) / count)
    share = min(max(share + correction, 0.0), 1.0)
    half = NORMAL_95 * error
    low, high = max(share - half, 0.0), min(share + half, 1.0)
    if bad:
        share, high = share * (1.0 - lost) + lost, high * (1.0 - lost) + lost
    else:
        share, low = share * (1.0 - lost), low * (1.0 - lost)
    return Chance(key, title, severity, share, low, high)
