"""Can a fit find values that are known? Invented machines, noise as assumed, many seeded repeats.

``python -m validation.recovery`` prints coverage and width of the intervals. Data and fits come
from the same model on the same reduced grid: what is tested is the fit. Marches are shared by the
repeats of a machine, as nothing in a march depends on the noise.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.setup import Setup, default_setup
from nugget.study.calibration.bench import Bench, gather
from nugget.study.calibration.condition import Answer, Ask, answer
from nugget.study.calibration.fit import calibrate
from nugget.study.calibration.identifiable import nudged, slopes_of
from nugget.study.calibration.knobs import Knob, read_knob, setup_at
from nugget.study.calibration.marcher import Marcher, Points, kept
from nugget.study.calibration.observation import Judging, Observation, Traced, size_edges
from nugget.study.calibration.trial_table import read_trials
from nugget.study.tasks import Finished
from validation.case import Check, at_most

TORN_S = (1.0e-3, 1.5e-3, 2.0e-3, 3.0e-3, 4.0e-3, 6.0e-3)
"""Durations at which welds are torn open: stuck, peeled, or a button that is measured."""
TORN_EACH = 3
HELD_S = (2.0e-3, 3.0e-3)
"""Durations at which welds are pulled no further than the hand does: stuck or held."""
HELD_EACH = 2
TRACE_S = 6.0e-3


REPEATS, FEWEST, MOST = 100, 90, 99
WIDEST = 3.0
REFINEMENT = 0.6
SMALL = 0.04
"""Step of the differences behind the Fisher bound, as a share of a knob's range."""


@dataclass(frozen=True)
class Machine:
    """An invented machine: true values [SI] of what is fitted, and whether a scope was at hand."""

    title: str
    truths: dict[str, float]
    traced: bool


MACHINES = (
    Machine(
        "peels and a trace",
        {"contact.radius_factor": 0.92, "source.internal_resistance": 5.2e-3},
        True,
    ),
    Machine("peels alone", {"contact.radius_factor": 0.92}, False),
)


@dataclass(frozen=True)
class Recovery:
    """What the repeats found.

    Attributes
    ----------
    knobs : tuple of Knob
    truth : ndarray, shape (p,)
        Places of the true values.
    places, low, high : ndarray, shape (n, p)
        Fitted place and interval of each repeat that converged.
    least : ndarray, shape (p,)
        Least standard deviation by the Fisher information at the truth.
    lost : tuple of str
        Why the other repeats gave no fit.
    marches : int
    """

    knobs: tuple[Knob, ...]
    truth: FloatArray
    places: FloatArray
    low: FloatArray
    high: FloatArray
    least: FloatArray
    lost: tuple[str, ...]
    marches: int

    @property
    def inside(self) -> npt.NDArray[np.intp]:
        """In how many repeats each true value lay inside its own interval."""
        return np.asarray(((self.low <= self.truth) & (self.truth <= self.high)).sum(axis=0))

    @property
    def width_ratio(self) -> FloatArray:
        """Median width of each interval over that of the Fisher bound."""
        return np.asarray(np.median(self.high - self.low, axis=0) / (2.0 * 1.96 * self.least))


def recover(
    machine: Machine,
    repeats: int = REPEATS,
    store: Path | None = None,
    on_done: Callable[[int], None] | None = None,
) -> Recovery:
    """Fit invented trials of a machine with known values, again and again.

    Parameters
    ----------
    machine : Machine
    repeats : int
        Seeds 0 to ``repeats - 1``.
    store : Path, optional
        File that keeps finished marches between calls.
    on_done : callable, optional
        Called with the number of repeats done.
    """
    setup = default_setup(["cell.kind=coupon", f"numerics.refinement={REFINEMENT}"])
    knobs = tuple(read_knob(setup, path) for path in machine.truths)
    truth = np.array([knob.place(machine.truths[knob.path]) for knob in knobs])
    exact, finished = _Exact.of(setup, knobs, truth), kept(store, resume=True)
    found: list[list[list[float]]] = []
    lost: list[str] = []
    points: Points | None = None
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(repeats):
            random = np.random.default_rng(seed)
            bench = _bench(setup, exact, random, machine.traced, Path(folder))
            points = Points(knobs, bench.outputs) if points is None else points
            fit = calibrate(bench, knobs, None, finished, points=points, advice=False)
            if fit.state == "fitted" and len(fit.fitted) == len(knobs):
                found.append([[f.knob.place(v) for v in (f.value, f.low, f.high)] for f in fit.fitted])
            else:
                lost.append(f"seed {seed}: {fit.state}, {fit.why or 'a knob was held'}")
            if on_done is not None:
                on_done(seed + 1)
    least = _fisher(bench, knobs, truth, finished)
    table = np.array(found).reshape(-1, len(knobs), 3)
    places, low, high = np.moveaxis(table, 2, 0)
    return Recovery(knobs, truth, places, low, high, least, tuple(lost), len(finished))


def checks_of(title: str, found: Recovery, repeats: int) -> list[Check]:
    """Coverage and width of every fitted value, against limits that scale with the repeats."""
    checks = []
    fewest, most = FEWEST * repeats / REPEATS, MOST * repeats / REPEATS
    for knob, inside, ratio in zip(found.knobs, found.inside, found.width_ratio, strict=True):
        name = f"{title}, {knob.axis.title}"
        off = max(fewest - inside, inside - most, 0.0) / repeats
        note = f"{fewest:g} to {most:g} wanted; {len(found.lost)} without a fit, {found.marches} marches"
        checks.append(
            Check(f"{name}: intervals that hold the true value", float(inside), 0.95 * repeats, off, 0.0,
                  f"of {repeats}", note)
        )  # fmt: skip
        checks.append(at_most(f"{name}: median width over the Fisher bound", ratio, WIDEST))
    return checks


@dataclass(frozen=True)
class _Exact:
    """What the true machine does without noise."""

    torn_m: tuple[float, ...]
    held_m: tuple[float, ...]
    time_s: FloatArray
    current_A: FloatArray
    voltage_V: FloatArray

    @staticmethod
    def of(setup: Setup, knobs: Sequence[Knob], truth: FloatArray) -> _Exact:
        time_s = np.linspace(0.0, TRACE_S, 601)
        durations = tuple(sorted({*TORN_S, *HELD_S}))
        ask = Ask(setup_at(setup, knobs, truth), durations, (), tuple(float(t) for t in time_s))
        said = answer(ask)
        size = dict(zip(durations, said.size_m, strict=True))
        current, voltage = np.array(said.current_A), np.array(said.voltage_V)
        return _Exact(
            tuple(size[t] for t in TORN_S), tuple(size[t] for t in HELD_S), time_s, current, voltage
        )


def _bench(setup: Setup, exact: _Exact, random: np.random.Generator, traced: bool, folder: Path) -> Bench:
    """One invented set of trials, through the same files as a user's."""
    judging = Judging(lapse=0.0)
    holds, button = size_edges(setup, judging)
    spread = judging.spread_share * button
    lines = ["duration,result,button"]
    for duration_s, size in zip(TORN_S, exact.torn_m, strict=True):
        for seen in size + spread * random.normal(size=TORN_EACH):
            word = "stuck" if seen < holds else "peeled" if seen < button else "button"
            measured = f"{seen * 1e3:.5f} mm" if word == "button" else ""
            lines.append(f"{duration_s * 1e3:g} ms,{word},{measured}")
    for duration_s, size in zip(HELD_S, exact.held_m, strict=True):
        for seen in size + spread * random.normal(size=HELD_EACH):
            lines.append(f"{duration_s * 1e3:g} ms,{'stuck' if seen < holds else 'held'},")
    (folder / "trials.csv").write_text("\n".join(lines), encoding="utf-8")
    scopes = [folder / "scope.csv"] if traced else []
    for path in scopes:
        columns = np.array([exact.time_s * 1e3, exact.current_A, exact.voltage_V])
        table = "\n".join(",".join(f"{v:.6g}" for v in row) for row in columns.T)
        path.write_text(f"time_ms,current_A,voltage_V\n{table}\n", encoding="utf-8")
    bench = gather(read_trials(folder / "trials.csv", setup), setup, folder, scopes, judging)
    seen_too = [_noisy(one, random) if isinstance(one, Traced) else one for one in bench.observations]
    return replace(bench, observations=tuple(seen_too))


def _noisy(trace: Traced, random: np.random.Generator) -> Traced:
    """The same samples with the noise and the gain that the fit assumes.

    Added after the trace was thinned: which samples are kept would depend on it, and with them what
    has to be marched.
    """
    gain = 1.0 + trace.gain_share * random.normal()
    noise = trace.noise * random.normal(size=len(trace.values))
    return replace(trace, values=tuple(float(v) for v in gain * np.array(trace.values) + noise))


def _fisher(bench: Bench, knobs: Sequence[Knob], truth: FloatArray, finished: Finished[Answer]) -> FloatArray:
    """Least standard deviations at the truth, by marching around it; every weld as it was planned."""
    planned = []
    torn = TORN_EACH * len(TORN_S)
    sizes = 0
    for one in bench.observations:
        size = isinstance(one, Observation) and one.output in bench.cases[0].outputs(0)
        if size:
            sizes += 1
            if sizes <= torn:
                edges = size_edges(bench.cases[0].condition.setup, bench.judging)
                one = replace(one, edges=edges, seen=2, value=edges[1])
        planned.append(one)
    places = nudged(truth, SMALL)
    outputs = Marcher(bench, finished=finished).outputs(knobs, places)
    assert outputs[0] is not None
    information = replace(bench, observations=tuple(planned)).information(
        outputs[0], slopes_of(places, outputs)
    )
    return np.asarray(np.sqrt(np.diag(np.linalg.inv(information))))


def main(argv: list[str] | None = None) -> int:
    """Print coverage and widths; return 0 when all are within their limits."""
    parser = argparse.ArgumentParser(prog="python -m validation.recovery", description=main.__doc__)
    parser.add_argument("--repeats", type=int, default=REPEATS)
    parser.add_argument("--store", type=Path, help="file that keeps finished marches between calls")
    args = parser.parse_args(argv)
    failed = False
    for machine in MACHINES:
        start = time.perf_counter()
        found = recover(
            machine, args.repeats, args.store, lambda done: print(".", end="", file=sys.stderr, flush=True)
        )
        print(f"\n{machine.title}: {time.perf_counter() - start:.0f} s, {found.marches} marches")
        for line in found.lost:
            print(f"  {line}")
        for check in checks_of(machine.title, found, args.repeats):
            failed |= check.failed
            word = "FAIL" if check.failed else "pass"
            print(f"  {word}  {check.name}: {check.value:.3g} {check.unit}; {check.note}")
    return int(failed)


if __name__ == "__main__":
    sys.exit(main())
