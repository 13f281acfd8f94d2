"""``python -m validation.benchmark --out DIR [--only NAME] [--repeats N]``: ratios of speed, in one run.

Run it on a machine that does nothing else. Everything takes about half an hour.
"""

from __future__ import annotations

import sys

from validation.evidence.piece import Report
from validation.evidence.running import run_pieces

REPORT = Report(
    package="validation.benchmark",
    modules=("floor", "fipy_ratio", "accuracy", "grid_size", "two_workers", "start_up"),
    name="benchmark",
    title="Benchmark: what a march costs",
    opening="Times are medians of one run on one machine; what is judged are ratios within that run.",
    option="repeats",
    number=5,
)


def main(argv: list[str] | None = None) -> int:
    """Return 0 when every limit is met, 1 otherwise, 2 for bad input."""
    return run_pieces(REPORT, __doc__, argv)


if __name__ == "__main__":
    sys.exit(main())
