"""``python -m validation.reliability --out DIR [--only NAME]``: try to break it, count, write the report."""

from __future__ import annotations

import sys

from validation.evidence.piece import Report
from validation.evidence.running import run_pieces

REPORT = Report(
    package="validation.reliability",
    modules=("hostile_inputs", "hostile_plugins", "endings", "setups", "repeats"),
    name="reliability",
    title="Reliability: tried, held, failed",
    opening="Each row counts trials of one kind. All are bounded in time; another number of random setups"
    " takes `--setups`. Needs a checkout: the trials are those of the tests.",
    option="setups",
    number=200,
)


def main(argv: list[str] | None = None) -> int:
    """Return 0 when everything held, 1 otherwise, 2 for bad input."""
    return run_pieces(REPORT, __doc__, argv)


if __name__ == "__main__":
    sys.exit(main())
