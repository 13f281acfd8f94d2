"""``python -m validation --out DIR``: run the cases, print a table, write the report."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")


def main(argv: list[str] | None = None) -> int:
    """Return 0 when every check passed or failed for a stated reason, 1 otherwise, 2 for bad input."""
    parser = argparse.ArgumentParser(prog="python -m validation", description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder for report.md and its figures")
    parser.add_argument(
        "--only", action="append", default=[], metavar="KEY", help="a case, or a group by its number"
    )
    size = parser.add_mutually_exclusive_group()
    size.add_argument("--full", action="store_true", help="run every case (the default)")
    size.add_argument("--quick", action="store_true", help="run the quick cases only")
    args = parser.parse_args(argv)

    from validation.discover import all_cases

    cases = all_cases()
    wanted = [c for c in cases if not args.only or any(k == c.key or k == c.key[0] for k in args.only)]
    if not wanted:
        print(f"--only: no such case; there are {', '.join(c.key for c in cases)}", file=sys.stderr)
        return 2
    if args.quick:
        wanted = [c for c in wanted if c.quick]
    from validation.overview import write_cases

    finished = _run(wanted)
    path = write_cases(args.out, finished, [c for c in cases if c not in wanted])
    _print(finished)
    print(f"report: {path}")
    return 1 if any(f.unexpected for f in finished) else 0


def _run(cases: list) -> list:  # type: ignore[type-arg]
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    from validation.report import run

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    finished = []
    console = Console(stderr=True)
    with Progress(*columns, console=console, disable=not console.is_terminal) as progress:
        task = progress.add_task("", total=len(cases))
        for case in cases:
            progress.update(task, description=case.key)
            finished.append(run(case, case.run))
            progress.advance(task)
    return finished


def _print(finished: list) -> None:  # type: ignore[type-arg]
    from rich.console import Console
    from rich.table import Table

    from validation.report import nearest

    table = Table("case", "what", "result", "checks", "closest to its tolerance", "s")
    colours = {"pass": "green", "fails as expected": "yellow"}
    for f in finished:
        near = f.error or ("" if f.worst is None else f"{f.worst.name}: {nearest(f.worst)}")
        state = f"[{colours.get(f.state, 'red')}]{f.state}[/]"
        table.add_row(f.subject.key, f.subject.title, state, f.counts, near, f"{f.seconds:.1f}")
    Console().print(table)


if __name__ == "__main__":
    sys.exit(main())
