"""Edges of a chart over everything that is not known exactly, fitted over the axis and all inputs at once.

Few welds are marched for a whole panel: each has inputs of its own drawing and stands in one of the
columns. What is fitted is the logarithm of each edge, against that of the nominal weld of its column, so
that what the axis does comes from these, and what the inputs do from all columns together. From the fit,
with its error, follow the chances at any duration of any column. The equations: manual, theory-chances.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.study.durations.criteria import Criterion, criteria_of
from nugget.study.durations.edges import SHORTEST_SHARE, Edge, Growth
from nugget.study.inputs.sobol import sobol
from nugget.study.inputs.uncertain import FARTHEST, Inputs
from nugget.study.statement.chances import Surface
from nugget.study.statement.response_surface import Response, degrees, features, fit

WELDS = 48
"""Welds of a panel."""
SEED = 1
LEAST = 24
"""With fewer welds that came to their end nothing is fitted."""
EARLY, LATE = 0.3, 0.5
"""Edges before this share of the nominal target, and beyond the longest pulse by more than this logarithm,
are as good as there: a pulse that short makes no joint, and nobody asks beyond the longest."""
ROUNDS = 3
"""So often edges beyond the longest pulse are taken from the fit and the fit is made again."""
POWER = {"limit": 1.0, "joint": 2.0}
"""Where no edge was found, the quantity is taken on in proportion to the duration (heat), or to its square
root (the diameter of a nugget)."""


@dataclass(frozen=True)
class Design:
    """The welds of a panel: independent deviations of shape (n, d), and the column of each."""

    deviations: FloatArray
    columns: tuple[int, ...]


def design_of(inputs: Inputs, columns: int, rows: int = WELDS) -> Design:
    """Draw the welds: a scrambled Sobol sequence in the inputs and the column together."""
    from scipy.special import ndtri

    cloud = sobol(len(inputs) + 1, rows, SEED)
    deviations = np.clip(ndtri(cloud[:, :-1]), -FARTHEST, FARTHEST)
    return Design(deviations, tuple(int(c) for c in np.minimum(cloud[:, -1] * columns, columns - 1)))


@dataclass(frozen=True)
class Seen:
    """A fitted edge as an excess at one column and duration: zero at the edge, above it for longer pulses."""

    response: Response
    along: float
    log_s: float

    @property
    def freedom(self) -> float:
        return self.response.freedom

    @property
    def missed(self) -> FloatArray:
        return -self.response.missed

    @property
    def alone(self) -> FloatArray:
        return self.response.alone

    @property
    def totals(self) -> FloatArray:
        """Shares of the inputs alone."""
        own = self.response.totals[:-1]
        return own / own.sum() if own.sum() > 0.0 else own

    def at(self, places: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Logarithm of the duration over the edge's, and its error, at `features` of the inputs."""
        log_s, error = self.response.at(np.column_stack([places, np.full(len(places), self.along)]))
        return self.log_s - log_s, error


@dataclass(frozen=True)
class EdgeSpread:
    """All edges of a panel as fitted responses.

    Attributes
    ----------
    inputs : tuple of Inputs
        Around the setup of each column.
    criteria : tuple of Criterion
    base : ndarray, shape (criteria, columns)
        Logarithm of each nominal edge [s]; NaN in a column whose nominal weld was not finished.
    responses : tuple of Response
        Of what is added to it.
    deviations : ndarray, shape (welds, d)
        Where the welds lie.
    edges : ndarray, shape (welds, criteria)
        Logarithm of each weld's edges over those of the nominal weld of its column.
    lost : float
        Share of the welds that were not finished.
    """

    inputs: tuple[Inputs, ...]
    criteria: tuple[Criterion, ...]
    base: FloatArray
    responses: tuple[Response, ...]
    deviations: FloatArray
    edges: FloatArray
    lost: float

    @property
    def welds(self) -> int:
        """How many were finished."""
        return len(self.edges)

    def beyond_edges(self, column: int, duration_s: float) -> FloatArray:
        """How far each weld would be beyond each edge in a column, shape (welds, criteria), in logarithms."""
        return math.log(duration_s) - self.base[:, column] - self.edges

    def known(self, column: int) -> bool:
        """Whether anything can be said in a column."""
        return bool(np.isfinite(self.base[:, column]).all())

    def surface(self, column: int, duration_s: float) -> Surface:
        """The criteria at one column and duration, as a statement takes them."""
        along = float(_along((column,), self.base.shape[1])[0])
        seen = tuple(
            Seen(one, along, math.log(duration_s) - float(base))
            for one, base in zip(self.responses, self.base[:, column], strict=True)
        )
        return Surface(self.inputs[column], self.criteria, seen)


def _along(columns: Sequence[int], count: int) -> FloatArray:
    """Where columns stand along the axis, as `features` of an input that is even in a range."""
    return np.asarray(3.0**0.5 * (2.0 * (np.array(columns) + 0.5) / count - 1.0), dtype=np.float64)


def spread_of(
    inputs: Sequence[Inputs],
    design: Design,
    nominal: Sequence[Growth],
    rows: Sequence[Growth],
    longest_s: float,
) -> EdgeSpread | None:
    """Fit the edges of a panel.

    Parameters
    ----------
    inputs : sequence of Inputs
        Of each column.
    design : Design
    nominal : sequence of Growth
        Of each column.
    rows : sequence of Growth
        Of the welds of `design`.
    longest_s : float
        Longest duration searched [s].

    Returns
    -------
    EdgeSpread or None
        None where too few welds came to their end.
    """
    asked_of = {edge.key for growth in nominal for edge in growth.edges}
    criteria = tuple(
        one for one in criteria_of(inputs[0].setup) if one.kind != "bond" and one.key in asked_of
    )
    keys = [one.key for one in criteria]
    ends = [_ends(growth, longest_s) for growth in nominal]
    base = np.array([_logs(growth, keys, end) for growth, end in zip(nominal, ends, strict=True)]).T

    pairs = zip(rows, design.columns, strict=True)
    found = np.array([_logs(one, keys, ends[c]) - base[:, c] for one, c in pairs])
    good = np.isfinite(base).all(axis=0)
    told = [k for k in range(len(rows)) if good[design.columns[k]] and np.isfinite(found[k]).all()]
    if len(told) < LEAST:
        return None
    places = [design.columns[k] for k in told]
    known = features(design.deviations[told], degrees(inputs[0]))
    known = np.column_stack([known, _along(places, len(nominal))])
    return EdgeSpread(
        tuple(inputs),
        criteria,
        base,
        tuple(_fitted(known, found[told, k], _beyond(rows, told, one)) for k, one in enumerate(criteria)),
        design.deviations[told],
        found[told],
        1.0 - len(told) / sum(bool(good[c]) for c in design.columns),
    )


def _beyond(rows: Sequence[Growth], told: Sequence[int], one: Criterion) -> npt.NDArray[np.bool_]:
    """Which welds keep a limit to the end: of them it is only known that the edge is later."""
    return np.array([one.kind == "limit" and rows[k].edge(one.key).duration_s is None for k in told])


def _fitted(known: FloatArray, values: FloatArray, beyond: npt.NDArray[np.bool_]) -> Response:
    """Fit an edge; where it is only known to be later, it is taken to be as late as the fit has it, if later.

    That repeats itself until it stands still (to a few per cent).
    """
    one = fit(known, values)
    if not beyond.any():
        return one
    for _ in range(ROUNDS):
        later = np.clip(one(known), values, values + 1.0)
        one = fit(known, np.where(beyond, later, values))
    predicted = np.where(beyond, later, values) - one.missed
    return replace(one, missed=values - predicted)


def _ends(nominal: Growth, longest_s: float) -> tuple[float, float]:
    """Logarithms between which edges of a column are told apart."""
    target_s = nominal.edge("minimum_diameter").duration_s or longest_s
    least = max(EARLY * min(target_s, longest_s), SHORTEST_SHARE * longest_s)
    return math.log(least), math.log(longest_s) + LATE


def _logs(growth: Growth, keys: Sequence[str], ends: tuple[float, float]) -> FloatArray:
    """Logarithm of every edge [s]; NaN where the march was not finished."""
    if growth.failed:
        return np.full(len(keys), np.nan)
    edges = {edge.key: edge for edge in growth.edges}
    return np.array([_log(edges[key], growth.searched_s, ends) for key in keys])


def _log(edge: Edge, searched_s: float, ends: tuple[float, float]) -> float:
    if edge.duration_s is not None:
        found_s = edge.duration_s
    elif edge.excess is None or edge.unknown:
        return math.nan
    else:
        left = max(1.0 + edge.excess, math.exp(-1.0))
        found_s = searched_s / left ** POWER[edge.kind]
    return min(max(math.log(max(found_s, 1e-12)), ends[0]), ends[1])
