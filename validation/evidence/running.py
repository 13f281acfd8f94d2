"""Run the pieces of a report one by one, print their tables, write the report."""

from __future__ import annotations

import argparse
import importlib
import os
import platform
import time
from pathlib import Path
from typing import TYPE_CHECKING

from validation.evidence.piece import Report

if TYPE_CHECKING:
    from validation.evidence.page import Done

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")


def run(report: Report, about: str | None, argv: list[str] | None) -> int:
    """Return 0 when every limit is met, 1 otherwise, 2 for bad input."""
    parser = argparse.ArgumentParser(prog=f"python -m {report.package}", description=about)
    parser.add_argument("--out", type=Path, required=True, help="folder for the report and its figures")
    parser.add_argument("--only", action="append", default=[], metavar="NAME", choices=report.modules)
    parser.add_argument(f"--{report.option}", dest="number", type=int, default=report.number)
    args = parser.parse_args(argv)

    from validation.evidence.page import write

    names = [name for name in report.modules if not args.only or name in args.only]
    done = [_run(f"{report.package}.{name}", args.number) for name in names]
    machine = (
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, one BLAS thread."
    )
    print(f"report: {write(args.out, report, done, machine)}")
    return 1 if any(d.error or d.failed for d in done) else 0


def _run(module: str, number: int) -> Done:
    from rich.console import Console
    from rich.table import Table

    from validation.evidence.page import HEAD, Done, row

    piece = importlib.import_module(module).PIECE
    start = time.perf_counter()
    try:
        done = Done(piece, piece.run(number))
    except Exception as failure:  # one broken piece must not hide the others
        done = Done(piece, None, f"{type(failure).__name__}: {failure}")
    table = Table(*HEAD, title=f"{piece.title} ({time.perf_counter() - start:.0f} s)", title_justify="left")
    colours = {"pass": "green", "FAIL": "red", "reported": "default"}
    for check in done.outcome.checks if done.outcome else ():
        cells = row(check)
        table.add_row(*cells[:4], f"[{colours[cells[4]]}]{cells[4]}[/]", cells[5])
    Console().print(table if done.outcome else f"[red]{piece.title}: {done.error}[/]")
    return done
