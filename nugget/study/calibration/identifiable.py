"""Which knobs the data can tell: sensitivities of the model and what they add up to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.knobs import Knob

NUDGE = 0.12
"""Step of the differences, as a share of a knob's range."""
TOLD = 0.1
"""A knob is told when its standard deviation is at most this share of its range: its 95 %
interval then covers at most 0.4 of it."""
MOST = 3


@dataclass(frozen=True)
class Blind:
    """A knob that the data cannot tell, and why."""

    knob: Knob
    reason: str


def nudged(places: FloatArray, step: float = NUDGE) -> FloatArray:
    """Places for central differences: the middle, then each knob up and down; shape (2 p + 1, p)."""
    found = [places]
    for k in range(len(places)):
        for sign in (1.0, -1.0):
            one = places.copy()
            one[k] = min(max(one[k] + sign * step, 0.0), 1.0)
            found.append(one)
    return np.array(found)


def slopes_of(places: FloatArray, outputs: Sequence[FloatArray | None]) -> FloatArray:
    """Derivatives (m, p) from outputs at `nudged` places; zero where the model gave no answer."""
    middle = outputs[0]
    assert middle is not None
    columns = []
    for k in range(places.shape[1]):
        sides = [
            (places[1 + 2 * k + side, k], outputs[1 + 2 * k + side])
            for side in (0, 1)
            if outputs[1 + 2 * k + side] is not None
        ]
        known = sides if len(sides) == 2 else [*sides, (places[0, k], middle)]
        (a, high), (b, low) = (known[0], known[-1]) if len(known) > 1 else ((1.0, middle), (0.0, middle))
        assert high is not None
        assert low is not None
        columns.append((high - low) / (a - b))
    return np.array(columns).T


def hopeful_information(bench: Bench, slopes: FloatArray) -> FloatArray:
    """Information that the rows would bring if every output stood at its threshold.

    Before a fit nobody knows where it stands.
    """
    total = np.zeros((slopes.shape[1], slopes.shape[1]))
    for one in bench.observations:
        total += one.hopeful(slopes)
    return total


def choose(information: FloatArray, most: int = MOST) -> list[int]:
    """Return the knobs to fit: one after the other, as long as all of them can be told."""
    chosen: list[int] = []
    while len(chosen) < most:
        scores = {}
        for k in range(len(information)):
            if k in chosen:
                continue
            sigma = sigmas(information, [*chosen, k])
            if sigma is not None and max(sigma) <= TOLD:
                scores[k] = sigma[-1]
        if not scores:
            break
        chosen.append(min(scores, key=lambda k: scores[k]))
    return sorted(chosen)


def sigmas(information: FloatArray, knobs: list[int]) -> list[float] | None:
    """Standard deviations of `knobs` when they are fitted together; None when they cannot be."""
    if not knobs:
        return []
    block = information[np.ix_(knobs, knobs)]
    size = np.sqrt(np.diag(block))
    if np.any(size <= 0.0) or np.linalg.cond(block / np.outer(size, size)) > 1e6:
        return None
    return [float(v) for v in np.sqrt(np.diag(np.linalg.inv(block)))]


def blind(knobs: Sequence[Knob], information: FloatArray, chosen: list[int]) -> list[Blind]:
    """Say for every knob that is not fitted why not."""
    found = []
    for k, knob in enumerate(knobs):
        if k in chosen:
            continue
        alone = sigmas(information, [k])
        if alone is None or alone[0] > TOLD:
            reason = "too small an effect on the observations"
        else:
            partner = _partner(information, k, chosen)
            if partner is None:
                reason = "correlated with the fitted inputs"
            else:
                reason = f"not distinguishable from {knobs[partner].axis.title}"
        found.append(Blind(knob, reason))
    return found


def _partner(information: FloatArray, knob: int, chosen: list[int]) -> int | None:
    """The fitted knob that does nearly the same."""
    best, at = 0.0, None
    for other in chosen:
        scale = np.sqrt(information[knob, knob] * information[other, other])
        alike = abs(information[knob, other]) / scale if scale > 0.0 else 0.0
        if alike > best:
            best, at = alike, other
    return at if best > 0.7 else None
