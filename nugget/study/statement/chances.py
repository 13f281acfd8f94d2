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
from nugget.study.statement.response_surface import Basis, basis, degrees, fit
from nugget.study.statement.samples import Sample

CLIPPED = 1.0
"""Excesses are cut off here: how far beyond twice a limit a weld is does not matter."""
NORMAL_95 = 1.96
CLOUD = 4096
"""Draws at which the responses are read."""
JOINT, GOOD, UNFINISHED = "enough", "good", "unfinished"
MOST_FREEDOM = 30.0
SHARPEST = 1e-6
"""Excess [share of the threshold] that always tells on which side of it a weld is."""


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
    def error(self) -> float: ...

    @property
    def freedom(self) -> float: ...

    @property
    def missed(self) -> FloatArray: ...

    @property
    def totals(self) -> FloatArray: ...

    def at(self, known: Basis, count: int) -> FloatArray: ...


@dataclass(frozen=True)
class Surface:
    """All criteria of a setup as fitted responses.

    Attributes
    ----------
    inputs : Inputs
    criteria : tuple of Criterion
    responses : tuple of Fitted
    shifts, doubts : tuple of float
        What fine marches add to each excess, and how much these differ among each other.
    shift_errors : tuple of float
        Half of the 95 % interval of each shift, which is the mean of few marches.
    """

    inputs: Inputs
    criteria: tuple[Criterion, ...]
    responses: tuple[Fitted, ...]
    shifts: tuple[float, ...]
    doubts: tuple[float, ...]
    shift_errors: tuple[float, ...]

    def excess(self, deviations: FloatArray) -> list[FloatArray]:
        """How far each criterion is met (its limit is broken) at each row, each of shape (n,).

        Where a weld may be either spot of a pair: at the spot that is worse off, as both have to be good.
        """
        known, count = basis(deviations, degrees(self.inputs)), len(deviations)
        if not self.inputs.either_spot:
            return [one.at(known, count) for one in self.responses]
        sign = deviations.shape[1] - 1, 1
        spots = [known | {sign: np.full(count, side)} for side in (-1.0, 1.0)]
        found = []
        for one, criterion in zip(self.responses, self.criteria, strict=True):
            worse = np.minimum if criterion.kind == "joint" else np.maximum
            found.append(np.asarray(worse(*(one.at(spot, count) for spot in spots))))
        return found

    def met(self, deviations: FloatArray) -> list[FloatArray]:
        """Chance that each criterion is met at each row, each of shape (n,), as `excess` is."""
        return [self.share(k, excess) for k, excess in enumerate(self.excess(deviations))]

    def worse(self, number: int, excess: FloatArray) -> FloatArray:
        """`share` where the shift is off to the bad side, by its error."""
        bad = -1.0 if self.criteria[number].kind == "joint" else 1.0
        return self.share(number, excess + bad * self.shift_errors[number])

    def met_unseen(self, number: int, values: FloatArray) -> FloatArray:
        """The same at the marched welds themselves, by folds that did not know them."""
        return self.share(number, values - self.responses[number].missed)

    def counted(self, number: int, values: FloatArray) -> FloatArray:
        """Whether each marched weld meets a criterion, as far as the grid lets that be told."""
        from scipy.special import ndtr

        return np.asarray(ndtr((values + self.shifts[number]) / max(self.doubts[number], SHARPEST)))

    def share(self, number: int, excess: FloatArray) -> FloatArray:
        """Chance that a criterion is met where its response is `excess`: by the error of the response."""
        from scipy.special import stdtr

        one = self.responses[number]
        error = math.hypot(one.error, self.doubts[number])
        return np.asarray(stdtr(min(one.freedom, MOST_FREEDOM), (excess + self.shifts[number]) / error))


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


def swings(
    criteria: Sequence[Criterion], columns: Sequence[FloatArray], worse: Sequence[FloatArray]
) -> dict[str, float]:
    """How far the chances of `grouped` move by the errors of all shifts, which do not know of each other."""
    before = {key: float(one.mean()) for key, one in grouped(criteria, columns).items()}
    moved = dict.fromkeys(before, 0.0)
    for k, column in enumerate(worse):
        for key, one in grouped(criteria, [*columns[:k], column, *columns[k + 1 :]]).items():
            moved[key] = math.hypot(moved[key], float(one.mean()) - before[key])
    return moved


def mean_error(values: FloatArray) -> float:
    """Half of the 95 % interval of the mean of a few values; 0 where a single one tells nothing of it."""
    from scipy.special import stdtrit

    count = len(values)
    if count < 2:
        return 0.0
    return float(stdtrit(count - 1, 0.975) * values.std(ddof=1) / math.sqrt(count))


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
    fine: Mapping[int, Sample],
) -> Surface:
    """Fit every criterion; `fine` holds marches on the user's own grid by the row they repeat."""
    kinds = degrees(inputs)
    responses, shifts, doubts, errors = [], [], [], []
    for one in criteria:
        values = clipped(samples, one.key)
        responses.append(fit(deviations, values, kinds))
        more = np.array([clipped([better], one.key)[0] - values[row] for row, better in fine.items()])
        shifts.append(float(more.mean()) if len(more) else 0.0)
        doubts.append(float(more.std(ddof=1)) if len(more) > 1 else 0.0)
        errors.append(mean_error(more))
    return Surface(inputs, tuple(criteria), tuple(responses), tuple(shifts), tuple(doubts), tuple(errors))


def chances_of(
    surface: Surface, samples: Sequence[Sample], failed: int, titles: Mapping[str, str]
) -> tuple[Chance, ...]:
    """The chances of a statement: of the groups first, then of each limit."""
    criteria = surface.criteria
    cloud = surface.inputs.drawn(CLOUD, 2)
    excess = surface.excess(cloud)
    columns = [surface.share(k, one) for k, one in enumerate(excess)]
    worse = [surface.worse(k, one) for k, one in enumerate(excess)]
    swing = swings(criteria, columns, worse)
    values = [clipped(samples, one.key) for one in criteria]
    unseen = [surface.met_unseen(k, column) for k, column in enumerate(values)]
    counted = [surface.counted(k, column) for k, column in enumerate(values)]
    whole, guessed, seen = (grouped(criteria, found) for found in (columns, unseen, counted))
    lost = failed / (failed + len(samples))
    found = []
    for key, column in whole.items():
        safe = key not in (JOINT, GOOD)
        found.append(
            chance_of(
                key,
                titles[key],
                key if safe else "",
                column,
                seen[key] - guessed[key],
                lost,
                safe,
                swing[key],
            )
        )
    for k, one in enumerate(criteria):
        if one.limit is None:
            continue
        safe = one.kind != "joint"
        gap, severity = counted[k] - unseen[k], one.limit.severity
        swung = float(abs((worse[k] - columns[k]).mean()))
        column, gap = (columns[k], gap) if safe else (1.0 - columns[k], -gap)
        found.append(chance_of(one.key, titles[one.key], severity, column, gap, lost, True, swung))
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
    swing: float,
) -> Chance:
    """Return a chance and its interval.

    What the counted welds are above what the responses say of them takes the responses' own bias
    away; its scatter is the error, beside the `swing` that the error of the shift by fine marches
    makes. Where what is bad comes out rarer than the responses say, that is not believed of harm. A
    weld that was not finished counts as bad.
    """
    count = len(gap)
    share = float(column.mean())
    correction = float(gap.mean())
    if severity == "harm" and bad:
        correction = max(correction, 0.0)
    expected = float(np.mean(column * (1.0 - column)))
    error = math.sqrt(max(float(gap.var()), expected) / count)
    share = min(max(share + correction, 0.0), 1.0)
    half = math.hypot(NORMAL_95 * error, swing)
    low, high = max(share - half, 0.0), min(share + half, 1.0)
    if bad:
        share, high = share * (1.0 - lost) + lost, high * (1.0 - lost) + lost
    else:
        share, low = share * (1.0 - lost), low * (1.0 - lost)
    return Chance(key, title, severity, share, low, high)
