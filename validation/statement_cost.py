"""``python -m validation.statement_cost``: what a statement costs on two cores, and how right it is.

The weld of `nugget pulse` and the many of `nugget scatter`, each with its time, workers' start
included, and the widest interval among its chances. It means something on a quiet machine only.
``--plain N`` counts N welds of another drawing, on the grid that a statement's many have, and holds
statements of 32 of them against all: how often an interval holds the counted share, how far the
chances are off, and how often one of harm is stated too low.
"""

from __future__ import annotations

import argparse
import os
import sys
import time

import numpy as np

from nugget.arrays import FloatArray
from nugget.cli.workers import with_workers
from nugget.setup import Setup, default_setup
from nugget.study.durations.criteria import criteria_of
from nugget.study.inputs.uncertain import Inputs, inputs_of
from nugget.study.statement.chances import (
    GOOD,
    JOINT,
    UNFINISHED,
    Chance,
    Spots,
    Surface,
    chances_of,
    clipped,
    gaps_of,
    surface_of,
)
from nugget.study.statement.reasons import titles_of
from nugget.study.statement.response_surface import degrees, features
from nugget.study.statement.samples import Sample, sample
from nugget.study.statement.statement import WELDS, Statement, keyed, looser, state
from nugget.study.tasks import run_all

SCATTER_S = 60.0
"""What a scatter may take, workers' start included."""
PLAIN_SEED = 77
TOO_FAR = 0.05
"""By no more may an interval of harm end below the counted share, or one of the joint begin above."""


def main(argv: list[str] | None = None) -> int:
    """Measure and print; return 0 when the limit holds."""
    parser = argparse.ArgumentParser(prog="python -m validation.statement_cost", description=__doc__)
    parser.add_argument("--samples", type=int, default=256)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--plain", type=int, metavar="N", help="count N welds instead")
    parser.add_argument("--set", action="append", default=[], dest="overrides", metavar="FIELD=VALUE")
    args = parser.parse_args(argv)
    if args.plain is not None:
        return against_plain(args.plain, args.workers, args.overrides)
    print(f"load of the machine {os.getloadavg()[0]:.1f}")
    seconds = [
        timed("pulse", WELDS[:1], args.workers),
        timed("scatter", (args.samples,), args.workers),
    ]
    return int(seconds[-1] > SCATTER_S)


def against_plain(count: int, workers: int, overrides: list[str]) -> int:
    """Print how statements of few welds compare with many counted ones.

    Returns 1 when harm is stated too low, or the joint too high, in any of them.
    """
    setup = default_setup(overrides)
    inputs = inputs_of(setup)
    drawn = inputs.drawn(count, PLAIN_SEED)
    tasks = dict(keyed(looser(inputs.setup_at(row)) for row in drawn))
    welds = list(
        with_workers(lambda executor: run_all(sample, tasks, executor), len(tasks), workers).values()
    )
    sets = [range(k, k + WELDS[0]) for k in range(0, count - WELDS[0] + 1, WELDS[0])]
    found = [_of_one_spot(inputs, drawn[list(some)], [welds[k] for k in some]) for some in sets]
    wrong = 0
    for key in found[0]:
        counted = _counted(setup, welds, key)
        shares = np.array([one[key].share for one in found])
        ends = np.array([(one[key].low, one[key].high) for one in found])
        held = float(np.mean((ends[:, 0] <= counted) & (counted <= ends[:, 1])))
        joint = key == JOINT
        off = int((ends[:, 0] > counted + TOO_FAR if joint else ends[:, 1] < counted - TOO_FAR).sum())
        wrong += off * (joint or found[0][key].severity == "harm")
        print(
            f"{key:24s} counted {100.0 * counted:5.1f} %, stated {100.0 * shares.mean():5.1f} (scatter"
            f" {100.0 * shares.std():.1f}, half interval {50.0 * np.ptp(ends, axis=1).mean():.1f}); held in"
            f" {100.0 * held:.0f} % of {len(sets)} sets, on the unsafe side by over 5 points in {off}"
        )
    return int(wrong > 0)


def _of_one_spot(inputs: Inputs, drawn: FloatArray, welds: list[Sample]) -> dict[str, Chance]:
    """Chances of a weld that is the spot it is, as counted welds are, not the worse of its pair."""
    ended = [k for k, one in enumerate(welds) if not one.failed]
    samples = [welds[k] for k in ended]
    criteria = [one for one in criteria_of(inputs.setup) if one.key in samples[0].excess]
    surface = OneSpot(**vars(surface_of(inputs, criteria, drawn[ended], samples)))
    lost = 1.0 - len(samples) / len(welds)
    gaps = gaps_of(surface, drawn[ended], [clipped(samples, one.key) for one in criteria], lost)
    found = chances_of(surface, samples, gaps, titles_of(inputs.setup))
    return {one.key: one for one in found if one.key != UNFINISHED}


class OneSpot(Surface):
    """A surface that takes the spot of each row as it is drawn."""

    def read(self, deviations: FloatArray) -> list[Spots]:
        """Excess and its error of each criterion at each row."""
        places = features(deviations, degrees(self.inputs))
        return [[one.at(places)] for one in self.responses]


def _counted(setup: Setup, welds: list[Sample], key: str) -> float:
    """Share of the welds with what a chance is a chance of; one that stopped counts as bad."""
    severity = {limit.id: limit.severity for limit in setup.limits}

    def has(one: Sample) -> bool:
        if one.failed:
            return key not in (JOINT, GOOD)
        if key in (JOINT, GOOD):
            return one.enough and not (key == GOOD and one.broken)
        return key in one.broken or key in {severity[id] for id in one.broken}

    return float(np.mean([has(one) for one in welds]))


def timed(name: str, welds: tuple[int, ...], workers: int) -> float:
    """Make a statement, print its time [s] and its widest interval, and return the time."""
    setup, start = default_setup(), time.perf_counter()

    def job(executor: object) -> Statement:
        return state(setup, welds=welds, executor=executor)  # type: ignore[arg-type]

    found = with_workers(job, welds[0], workers)
    wall_s = time.perf_counter() - start
    widest = max(found.chances, key=lambda one: one.high - one.low)
    half = 50.0 * (widest.high - widest.low)
    print(f"{name}: {welds[0]} welds in {wall_s:.1f} s: {found.verdict}")
    print(f"  the least certain: {widest.title}, {100.0 * widest.share:.1f} % (+-{half:.1f})")
    return wall_s


if __name__ == "__main__":
    sys.exit(main())
