"""``python -m validation.evidence --out DIR [--only NAME]``: measure, print a table, write the report."""

from __future__ import annotations

import sys

from validation.evidence.piece import Report
from validation.evidence.running import run_pieces

REPORT = Report(
    package="validation.evidence",
    modules=(
        "cost",
        "residuals",
        "alternating",
        "spacing",
        "planes",
        "whole_cell",
        "interior_builds",
        "holm",
        "smooth",
        "reacts",
        "practice",
        "plated",
        "strip_melt",
        "trade",
        "schedules",
    ),
    name="evidence",
    title="Evidence: speed, accuracy and plausibility",
    opening="The limits were set before the model was written. A predicted weld is not a safe weld: "
    "try on a coupon and an empty can first.",
    option="workers",
    number=2,
)


def main(argv: list[str] | None = None) -> int:
    """Return 0 when every limit is met, 1 otherwise, 2 for bad input."""
    return run_pieces(REPORT, __doc__, argv)


if __name__ == "__main__":
    sys.exit(main())
