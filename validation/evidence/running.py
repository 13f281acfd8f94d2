"""Run the pieces of a report one by one, print their tables, write the report."""

from __future__ import annotations

import argparse
import datetime
import functools
import importlib
import os
import platform
from pathlib import Path

from validation.evidence.piece import Report

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")


def run_pieces(report: Report, about: str | None, argv: list[str] | None) -> int:
    """Return 0 when every limit is met, 1 otherwise, 2 for bad input."""
    parser = argparse.ArgumentParser(prog=f"python -m {report.package}", description=about)
    parser.add_argument("--out", type=Path, required=True, help="folder for the report and its figures")
    parser.add_argument("--only", action="append", default=[], metavar="NAME", choices=report.modules)
    parser.add_argument(f"--{report.option}", dest="number", type=int, default=report.number)
    if report.history is not None:
        parser.add_argument("--keep", action="store_true", help="append the rows to those of earlier runs")
    args = parser.parse_args(argv)

    from validation.benchmark.history import compared, keep
    from validation.report import run, section, show, write

    finished = []
    for name in [name for name in report.modules if not args.only or name in args.only]:
        piece = importlib.import_module(f"{report.package}.{name}").PIECE
        finished.append(run(piece, functools.partial(piece.run, args.number)))
        show(finished[-1])
    if report.history is not None:
        rows = [(one.subject.key, check) for one in finished for check in one.checks]
        print(*compared(report.history, rows), sep="\n")
        if args.keep:
            keep(report.history, rows, datetime.date.today())
    judged = [check for done in finished for check in done.judged]
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    head = f"{len(judged)} limits, {sum(c.passed for c in judged)} met. {machine}, one BLAS thread."
    opening = [f"# {report.title}", "", head, "", report.opening]
    path = write(args.out, report.name, opening, (section(args.out, done, 2) for done in finished))
    print(f"report: {path}")
    return 1 if any(done.unexpected for done in finished) else 0
