"""``python -m validation.scatter_cost``: what a scatter costs on two cores, in marches of one weld.

The limit: N welds take at most N times one march divided by 1.7. One march is timed in this process
before and after, alone; starting the workers counts. It means something on a quiet machine only.
"""

from __future__ import annotations

import argparse
import os
import sys
import time

from threadpoolctl import threadpool_limits

from nugget.cli.workers import with_workers
from nugget.outcome.weld import march_weld
from nugget.setup import Setup, default_setup
from nugget.study.scattering.tolerance import usual_tolerances
from nugget.study.scattering.welds import Scatter, scatter
from validation.benchmark.timing import medians

LIMIT = 1.7
MARCHES = 25


def one_march(setup: Setup) -> float:
    """Median time of a few marches [s]."""
    return medians(lambda: march_weld(setup), MARCHES)[0]


def timed(setup: Setup, samples: int, workers: int) -> tuple[Scatter, float]:
    """A scatter and how long it took [s], workers' start included."""
    start = time.perf_counter()
    tolerances = usual_tolerances(setup)
    done = with_workers(lambda executor: scatter(setup, tolerances, samples, 1, executor), samples, workers)
    return done, time.perf_counter() - start


def main(argv: list[str] | None = None) -> int:
    """Measure and print; return 0 when the limit holds."""
    parser = argparse.ArgumentParser(prog="python -m validation.scatter_cost", description=__doc__)
    parser.add_argument("--samples", type=int, default=500)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args(argv)
    setup, load = default_setup(), os.getloadavg()[0]
    with threadpool_limits(limits=1):
        march_weld(setup)  # loads libraries and tables
        before = one_march(setup)
        found, wall_s = timed(setup, args.samples, args.workers)
        after = one_march(setup)
    ratio = args.samples * 0.5 * (before + after) / wall_s
    inside = sum(one.seconds for one in found.samples) / len(found.samples)
    print(f"one march alone: {before:.2f} s before, {after:.2f} s after; load of the machine {load:.1f}")
    print(f"{args.samples} welds, {args.workers} workers: {wall_s:.1f} s; a march among them {inside:.2f} s")
    print(f"ratio {ratio:.2f}, at least {LIMIT:g} wanted; 500 welds: {500 * wall_s / args.samples:.0f} s")
    return int(ratio < LIMIT)


if __name__ == "__main__":
    sys.exit(main())
