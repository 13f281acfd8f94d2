"""The most informative next trial: by how much it would narrow what is still uncertain.

The equations: manual, theory-chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.study.calibration.bench import (
    COLD,
    CURRENT,
    GRID_SIZE,
    GRID_WALL,
    PROBED,
    VOLTAGE,
    Bench,
    Case,
)
from nugget.study.calibration.observation import Observation, Traced, size_edges
from nugget.study.inputs.uncertain import Inputs

SHOWN = 4
WORTH = 0.02
"""Advice that would narrow nothing by this share is not given."""


@dataclass(frozen=True)
class Advice:
    """One trial that was not made.

    Attributes
    ----------
    kind : {"peel", "trace", "cold"}
    condition : str
    duration_s : float
    expected_m : float
        Joint that the fitted model expects (see `nugget.study.calibration.condition.size_of`).
    narrows : str
        Title of the input that gains most.
    factor : float
        What is left of its standard deviation.
    """

    kind: str
    condition: str
    duration_s: float
    expected_m: float
    narrows: str
    factor: float


def advise(
    bench: Bench, inputs: Inputs, outputs: FloatArray, slopes: FloatArray, covariance: FloatArray
) -> tuple[Advice, ...]:
    """Rank one more peel at each duration of each condition, a scope trace of each, a cold resistance.

    Parameters
    ----------
    bench : Bench
    inputs : Inputs
    outputs, slopes : ndarray, shape (m,) and (m, p)
        At the fit.
    covariance : ndarray, shape (p, p)
        Of the inputs' independent deviations, after it.
    """
    known: FloatArray = np.asarray(np.linalg.inv(covariance), dtype=np.float64)
    titles = [one.title for one in inputs.items]
    found: list[tuple[float, Advice]] = []
    for case in bench.cases:
        best: tuple[float, Advice] | None = None
        if not case.marched:
            continue
        for duration_s, new, expected_m in _peels(bench, case, outputs, slopes):
            one = _advice("peel", case, duration_s, expected_m, titles, known, new)
            if best is None or one[0] > best[0]:
                best = one
        found += [best] if best is not None else []
        if not case.scopes:
            new, last_s = _trace(bench, case, outputs, slopes)
            expected_m = float(outputs[list(case.outputs(GRID_SIZE))].max())
            found.append(_advice("trace", case, last_s, expected_m, titles, known, new))
        if not any(trial.resistance_ohm is not None for trial in case.trials):
            found.append(_advice("cold", case, 0.0, 0.0, titles, known, _cold(bench, case, outputs, slopes)))
    ranked = sorted(found, key=lambda pair: -pair[0])
    return tuple(advice for _, advice in ranked if advice.factor < 1.0 - WORTH)[:SHOWN]


def _advice(
    kind: str,
    case: Case,
    duration_s: float,
    expected_m: float,
    titles: Sequence[str],
    known: FloatArray,
    new: FloatArray,
) -> tuple[float, Advice]:
    """The gain, by the volume of what is uncertain, and the advice."""
    gain = float(np.linalg.slogdet(known + new)[1] - np.linalg.slogdet(known)[1])
    left = np.sqrt(np.diag(np.linalg.inv(known + new)) / np.diag(np.linalg.inv(known)))
    k = int(np.argmin(left))
    name = case.condition.name
    return gain, Advice(kind, name, duration_s, expected_m, titles[k], float(left[k]))


def _peels(
    bench: Bench, case: Case, outputs: FloatArray, slopes: FloatArray
) -> list[tuple[float, FloatArray, float]]:
    """Duration, information and expected size of a weld torn open at each point of the growth curve."""
    judging, found = bench.judging, []
    edges = size_edges(case.condition.setup, judging)
    spread = judging.spread_share * edges[1]
    peel = Observation(0, edges, 2, edges[1], spread, 1, judging.outlier_share, "")
    wall = Observation(0, (judging.open_share,), 0, None, judging.open_spread, 1, judging.outlier_share, "")
    grid_s = case.ask(case.condition.setup).grid_s
    for duration_s, size, share in zip(grid_s, case.outputs(GRID_SIZE), case.outputs(GRID_WALL), strict=True):
        new = np.zeros((slopes.shape[1], slopes.shape[1]))
        for one, output in ((peel, size), (wall, share)):
            new += replace(one, output=output).information(outputs, slopes)
        found.append((float(duration_s), new, float(outputs[size])))
    return found


def _cold(bench: Bench, case: Case, outputs: FloatArray, slopes: FloatArray) -> FloatArray:
    """Information of a four-wire resistance from tip to tip."""
    judging, at = bench.judging, case.outputs(COLD)[0]
    value = float(outputs[at])
    one = Observation(at, (), 0, value, judging.cold_share * value, 1, judging.outlier_share, "")
    return one.information(outputs, slopes)


def _trace(bench: Bench, case: Case, outputs: FloatArray, slopes: FloatArray) -> tuple[FloatArray, float]:
    """Information of a scope trace of current and tip voltage, and how long it lasts."""
    new = np.zeros((slopes.shape[1], slopes.shape[1]))
    for run in (CURRENT, VOLTAGE):
        at = case.outputs(run)[-PROBED:]
        values = tuple(float(v) for v in outputs[list(at)])
        imagined = Traced(at, values, bench.judging.gain_share, bench.judging.noise_share, "")
        new += imagined.information(outputs, slopes)
    return new, max(case.durations_s)
