"""``python -m validation.benchmark --out DIR [--only NAME] [--repeats N] [--keep]``: ratios of speed.

Run it on a machine that does nothing else. Everything takes about an hour. Rows that were measured before
are printed beside their last value; ``--keep`` appends this run to `history.csv`.
"""

from __future__ import annotations

import sys

from validation.benchmark.history import HISTORY
from validation.evidence.piece import Report
from validation.evidence.running import run_pieces

REPORT = Report(
    package="validation.benchmark",
    modules=("floor", "fipy_ratio", "accuracy", "grid_size", "two_workers", "start_up", "studies"),
    name="benchmark",
    title="Benchmark: what a march costs",
    opening="Times are medians of one run on one machine; what is judged are ratios within that run.",
    option="repeats",
    number=5,
    history=HISTORY,
)


def main(argv: list[str] | None = None) -> int:
    """Return 0 when every limit is met, 1 otherwise, 2 for bad input."""
    return run_pieces(REPORT, __doc__, argv)


if __name__ == "__main__":
    sys.exit(main())
