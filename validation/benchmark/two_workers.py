"""One and two worker processes for a chart and for a scatter."""

from __future__ import annotations

from validation.case import Check, Outcome, at_least, reported
from validation.charts import twelve_columns
from validation.evidence.piece import Piece
from validation.statement_cost import timed

LEAST = 1.7
SAMPLES = 24


def run(repeats: int) -> Outcome:
    """Once each: a chart of twelve columns is a mean of its own."""
    checks: list[Check] = []
    chart = [twelve_columns(count) for count in (1, 2)]
    checks.append(at_least("twelve columns of a chart, one worker over two", chart[0] / chart[1], LEAST))
    spread = [timed("scatter", (SAMPLES,), 0, count) for count in (1, 2)]
    checks.append(reported(f"{SAMPLES} welds of a scatter, one worker over two", spread[0] / spread[1]))
    for name, times in (("chart", chart), ("scatter", spread)):
        checks += [reported(f"{name}, {n} worker(s)", t, "s") for n, t in enumerate(times, 1)]
    return Outcome(tuple(checks))


PIECE = Piece(
    name="two_workers",
    title="One and two workers",
    what="Twelve strip thicknesses of the default chart and a scatter, in worker processes with one thread "
    "each, start of the processes included.",
    run=run,
)
