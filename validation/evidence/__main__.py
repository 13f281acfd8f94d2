"""``python -m validation.evidence --out DIR [--only NAME]``: measure, print a table, write the report."""

from __future__ import annotations

import argparse
import importlib
import os
import platform
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from validation.evidence.sheet import Done

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")

MODULES = ("cost", "residuals", "spacing", "planes", "holm", "smooth", "reacts", "practice")


def main(argv: list[str] | None = None) -> int:
    """Return 0 when every bar is met, 1 otherwise, 2 for bad input."""
    parser = argparse.ArgumentParser(prog="python -m validation.evidence", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder for evidence.md and its figures")
    parser.add_argument("--only", action="append", default=[], metavar="NAME", choices=MODULES)
    parser.add_argument("--workers", type=int, default=2, help="processes for the pieces with many runs")
    args = parser.parse_args(argv)

    from validation.evidence.sheet import write

    done = [_run(name, args.workers) for name in MODULES if not args.only or name in args.only]
    machine = (
        f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, one BLAS thread."
    )
    path = write(args.out, done, machine)
    print(f"report: {path}")
    return 1 if any(d.error or d.failed for d in done) else 0


def _run(name: str, workers: int) -> Done:
    from rich.console import Console
    from rich.table import Table

    from validation.evidence.sheet import HEAD, Done, row

    piece = importlib.import_module(f"validation.evidence.{name}").PIECE
    start = time.perf_counter()
    try:
        done = Done(piece, piece.run(workers))
    except Exception as failure:  # one broken piece must not hide the others
        done = Done(piece, None, f"{type(failure).__name__}: {failure}")
    table = Table(*HEAD, title=f"{piece.title} ({time.perf_counter() - start:.0f} s)", title_justify="left")
    colours = {"pass": "green", "FAIL": "red", "reported": "default"}
    for check in done.outcome.checks if done.outcome else ():
        cells = row(check)
        table.add_row(*cells[:4], f"[{colours[cells[4]]}]{cells[4]}[/]", cells[5])
    Console().print(table if done.outcome else f"[red]{piece.title}: {done.error}[/]")
    return done


if __name__ == "__main__":
    sys.exit(main())
