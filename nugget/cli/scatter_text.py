"""What ``nugget scatter`` prints: chances, spread, and which input matters most."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli.inputs_text import input_lines
from nugget.cli.text_tables import HANGING, WIDTH, table
from nugget.merit import amounts
from nugget.merit.figure import FIGURES
from nugget.outcome.record import CAUTIONS
from nugget.outcome.verdict import MEANING
from nugget.study.scattering.statistics import influences, quantiles
from nugget.study.statement.statement import Statement

SHOWN = 4
"""Inputs that are named for each figure."""


def print_scatter(scatter: Statement) -> None:
    """Print a scatter to stdout."""
    print(scatter.setup.title)
    print(f"VERDICT: {scatter.verdict.upper()}, {MEANING[scatter.verdict]}")
    count = f"{len(scatter.samples)} welds"
    lines = [scatter.reason, count, "", *_chances(scatter), "", *_spread(scatter), "", *_influences(scatter)]
    lines += ["", *input_lines(scatter.inputs)]
    if scatter.failed:
        lines += ["", f"{len(scatter.failed)} more welds were not finished: {scatter.failed[0]}"]
    for line in [*lines, "", *CAUTIONS]:
        hanging = max(len(line) - len(line.lstrip()), HANGING)
        print(textwrap.fill(line, WIDTH, subsequent_indent=" " * hanging) if line else "")


def _chances(scatter: Statement) -> Iterator[str]:
    rows = [["Probability, 95 % interval", "", ""]]
    for one in scatter.chances:
        interval = f"{100.0 * one.low:.1f} to {100.0 * one.high:.1f} %"
        rows.append([f"  {one.title}", f"{100.0 * one.share:.1f} %", interval])
    yield from table(rows)


def _spread(scatter: Statement) -> Iterator[str]:
    rows = [["Spread", "5th percentile", "median", "95th percentile"]]
    for name, values in quantiles(scatter).items():
        one = FIGURES[name]
        rows.append([f"  {one.title.lower()}", *(amounts.figure(one, value) for value in values)])
    yield from table(rows)


def _influences(scatter: Statement) -> Iterator[str]:
    yield "Sensitivity (Spearman rank correlation, +1 to −1)"
    for one in influences(scatter):
        pairs = zip(one.inputs, one.correlation, strict=True)
        named = [f"{name} {r:+.2f}" for name, r in pairs if abs(r) > one.noise]
        yield f"  {one.title}: {', '.join(named[:SHOWN]) or 'none significant at 95 %'}"
