"""What a fitted spread of edges says of one column: chances and verdict by duration, bands, the window."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.limit import SEVERITIES
from nugget.setup import Setup
from nugget.setup.description import SHORTEST_PULSE_S
from nugget.study.charting.edge_spread import EdgeSpread
from nugget.study.durations.branches import count_s
from nugget.study.inputs.uncertain import Inputs
from nugget.study.statement.chances import GOOD, JOINT, Chance, Gaps, chance_of, gaps_of, grouped
from nugget.study.statement.reasons import Said, said_of, titles_of
from nugget.study.statement.words import verdict_of, wanted

CLOUD = 1024
"""Draws at which the edges are read."""
COUNT, SHORTEST_OF = 56, 60.0
"""Durations of a column, from this share of the longest one on."""
QUANTILES = (0.05, 0.5, 0.95)
IN_WINDOW = "in window"


@dataclass(frozen=True)
class Band:
    """Where an edge lies: durations [s] at which 5, 50 and 95 % of the welds have passed it.

    None beyond the longest. ``joint`` is all targets together, ``any limit`` the first limit.
    """

    key: str
    early_s: float | None
    middle_s: float | None
    late_s: float | None


@dataclass(frozen=True)
class Known:
    """What is known of one column.

    Attributes
    ----------
    durations_s : tuple of float
    chances : dict of str to tuple of Chance
        Of the joint, of joint and all limits, and of each severity, at every duration.
    verdicts : tuple of str
        At every duration.
    bands : tuple of Band
    from_s, until_s : float or None
        First and last duration in a row at which the statement is *in window*; None when none is.
    shortest_s : float
        What the switch can make at the least [s]; chances and verdicts below it are those of no real pulse.
    """

    durations_s: tuple[float, ...]
    chances: dict[str, tuple[Chance, ...]]
    verdicts: tuple[str, ...]
    bands: tuple[Band, ...]
    from_s: float | None
    until_s: float | None
    shortest_s: float = 0.0

    @property
    def open(self) -> bool:
        """Whether the statement is *in window* at any duration."""
        return self.from_s is not None

    @property
    def best(self) -> tuple[float, float]:
        """The duration [s] that the switch can make at which most welds are good, and the share of them."""
        made = zip(self.durations_s, self.chances[GOOD], strict=True)
        found = [(time_s, one.share) for time_s, one in made if time_s >= self.shortest_s]
        return max(found, key=lambda one: one[1], default=(self.shortest_s, 0.0))

    def nearest(self, worded: Callable[[float], str]) -> str:
        """How near the statement comes to *in window* where it never is; `worded` says a duration."""
        best_s, share = self.best
        none = "none, as surely as asked"
        return (
            f"{none}; at best {100.0 * share:.0f} % good, at {worded(best_s)}" if share >= 0.005 else "none"
        )

    def band(self, key: str) -> Band:
        """The band of an edge; of one that is never met where it has none."""
        return next((one for one in self.bands if one.key == key), Band(key, None, None, None))

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {
            "in_window": {"from_s": self.from_s, "until_s": self.until_s},
            "edges": [asdict(one) for one in self.bands],
            "durations_s": list(self.durations_s),
            "verdicts": list(self.verdicts),
            "chances": {
                key: [[one.share, one.low, one.high] for one in some] for key, some in self.chances.items()
            },
        }


def durations_of(setup: Setup, longest_s: float) -> tuple[float, ...]:
    """Durations at which a column is asked [s], the setup's own among them; half cycles where counted."""
    own_s, step_s = setup.train[-1].duration_s, count_s(setup)
    if step_s is not None:
        return tuple(step_s * n for n in range(1, round(longest_s / step_s) + 1))
    low_s = max(longest_s / SHORTEST_OF, SHORTEST_PULSE_S)
    found = {*np.geomspace(low_s, longest_s, COUNT).tolist(), *([own_s] if own_s < longest_s else [])}
    return tuple(sorted(found))


def known_of(spread: EdgeSpread, column: int, longest_s: float, shortest_s: float = 0.0) -> Known | None:
    """Return what is known of a column; None where its nominal weld was not finished.

    Parameters
    ----------
    spread : EdgeSpread
    column : int
    longest_s, shortest_s : float
        Longest duration searched, and the shortest that the switch can make [s].
    """
    if not spread.known(column):
        return None
    setup = spread.inputs[column].setup
    durations_s = durations_of(setup, longest_s)
    asked = _met(spread, column, durations_s)
    groups = [
        _chances(spread, columns, _gaps(spread, column, duration_s))
        for columns, duration_s in zip(asked, durations_s, strict=True)
    ]
    sure = wanted(setup)
    verdicts = tuple(verdict_of(found, sure) for found in groups)
    shares = np.array([[float(column.mean()) for column in columns] for columns in asked]).T
    bands = [_band(one.key, durations_s, row) for one, row in zip(spread.criteria, shares, strict=True)]
    bands.append(_band("joint", durations_s, [found[JOINT].share for found in groups]))
    bands.append(_band("any limit", durations_s, [_broken(spread, columns) for columns in asked]))
    inside = [v == IN_WINDOW and t >= shortest_s for v, t in zip(verdicts, durations_s, strict=True)]
    first, last = _longest_run(inside)
    return Known(
        durations_s,
        {key: tuple(found[key] for found in groups) for key in groups[0]},
        verdicts,
        tuple(bands),
        None if first is None else durations_s[first],
        None if last is None else durations_s[last],
        shortest_s,
    )


def said_at(spread: EdgeSpread, column: int, duration_s: float) -> Said | None:
    """The statement at one column and duration, in words; None where the nominal weld was not finished."""
    if not spread.known(column):
        return None
    surface = spread.surface(column, duration_s)
    (columns,) = _met(spread, column, (duration_s,))
    gaps = _gaps(spread, column, duration_s)
    found = _chances(spread, columns, gaps)
    setup = spread.inputs[column].setup
    called = titles_of(setup)
    each = [
        chance_of(
            one.key,
            called[one.key],
            one.limit.severity,
            values if one.kind == "limit" else 1.0 - values,
            gap if one.kind == "limit" else -gap,
            spread.lost,
            True,
        )
        for one, values, gap in zip(spread.criteria, columns, gaps.single, strict=True)
        if one.limit is not None
    ]
    return said_of(surface, [*found.values(), *each], gaps)


def _met(spread: EdgeSpread, column: int, durations_s: Sequence[float]) -> list[list[FloatArray]]:
    """Chance that each criterion is met in each drawn weld, by duration and criterion, each of shape (n,)."""
    inputs = spread.inputs[column]
    cloud = inputs.drawn(CLOUD, 2)
    surface = spread.surface(column, 1.0)
    seen = surface.read(cloud)
    logs = (np.log(_closed_s(inputs, cloud, duration_s)) for duration_s in durations_s)
    return [[surface.chance(k, spots, log_s) for k, spots in enumerate(seen)] for log_s in logs]


def _closed_s(inputs: Inputs, cloud: FloatArray, duration_s: float) -> FloatArray:
    """How long the switch is really closed in each drawn weld: a relay is not told exactly."""
    path = f"pulse.{len(inputs.setup.train) - 1}.duration"
    at = next((k for k, one in enumerate(inputs.items) if one.path == path), None)
    if at is None:
        return np.full(len(cloud), duration_s, dtype=np.float64)
    spread, joint = inputs.items[at].spread, cloud[:, : len(inputs.items)] @ inputs.root[at]
    found = [max(spread.value(duration_s, float(z)), SHORTEST_PULSE_S) for z in joint]
    return np.array(found, dtype=np.float64)


def _gaps(spread: EdgeSpread, column: int, duration_s: float) -> Gaps:
    """What the simulated welds, put into this column, are above what fits without them say."""
    surface = spread.surface(column, duration_s)
    return gaps_of(surface, spread.deviations, list(spread.beyond_edges(column, duration_s).T), spread.lost)


def _chances(spread: EdgeSpread, columns: Sequence[FloatArray], gaps: Gaps) -> dict[str, Chance]:
    """The joint, joint and all limits, and each severity, corrected as a statement's are."""
    names = {
        JOINT: "minimum diameter reached",
        GOOD: "minimum diameter reached within every limit",
        **SEVERITIES,
    }
    found = {}
    for key, column in grouped(spread.criteria, columns).items():
        bad = key not in (JOINT, GOOD)
        gap = gaps.grouped[key]
        found[key] = chance_of(key, names[key], key if bad else "", column, gap, spread.lost, bad)
    return found


def _broken(spread: EdgeSpread, columns: Sequence[FloatArray]) -> float:
    """Share of the welds in which any limit is broken."""
    kept = [1.0 - v for one, v in zip(spread.criteria, columns, strict=True) if one.kind == "limit"]
    return float(1.0 - np.prod(kept, axis=0).mean()) if kept else 0.0


def _band(key: str, durations_s: Sequence[float], shares: Sequence[float] | FloatArray) -> Band:
    """Where the share of the welds that have passed an edge comes to each quantile."""
    rising = np.maximum.accumulate(np.asarray(shares, dtype=np.float64))
    log_s = np.log(durations_s)
    found: list[float | None] = []
    for wanted_share in QUANTILES:
        at = int(np.searchsorted(rising, wanted_share))
        if at == len(rising):
            found.append(None)
        elif at == 0:
            found.append(float(durations_s[0]))
        else:
            low, high = rising[at - 1], rising[at]
            part = (wanted_share - low) / (high - low)
            found.append(float(np.exp(log_s[at - 1] + part * (log_s[at] - log_s[at - 1]))))
    return Band(key, *found)


def _longest_run(inside: Sequence[bool]) -> tuple[int | None, int | None]:
    """First and last of the longest row of true values; None where there is none."""
    best: tuple[int, int] | None = None
    start = None
    for k, one in enumerate([*inside, False]):
        if one and start is None:
            start = k
        elif not one and start is not None:
            if best is None or k - start > best[1] - best[0] + 1:
                best = start, k - 1
            start = None
    return best if best is not None else (None, None)
