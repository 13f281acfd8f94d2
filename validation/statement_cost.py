"""``python -m validation.statement_cost``: what a statement costs on two cores.

The weld of `nugget pulse` and the many of `nugget scatter`, each with its time, workers' start
included, and the widest interval among its chances. It means something on a quiet machine only.
How right statements are: `validation.statement_against_plain`.
"""

from __future__ import annotations

import argparse
import os
import sys
import time

from nugget.cli.workers import with_workers
from nugget.setup import default_setup
from nugget.study.statement.statement import WELDS, Statement, state

SCATTER_S = 60.0
"""What a scatter may take, workers' start included."""


def main(argv: list[str] | None = None) -> int:
    """Measure and print; return 0 when the limit holds."""
    parser = argparse.ArgumentParser(prog="python -m validation.statement_cost", description=__doc__)
    parser.add_argument("--samples", type=int, default=256)
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args(argv)
    print(f"load of the machine {os.getloadavg()[0]:.1f}")
    seconds = [
        timed("pulse", WELDS[:1], args.workers),
        timed("scatter", (args.samples,), args.workers),
    ]
    return int(seconds[-1] > SCATTER_S)


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
