"""``nugget compare``: two or more setups or saved welds side by side."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.options import check_folder, check_least

if TYPE_CHECKING:
    from nugget.outcome.weld import Weld
    from nugget.setup import Setup
    from nugget.study.comparison import Comparison, Line

SAVED = ".npz"


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``compare`` is and takes."""
    parser.description = (
        "Judge every setup, take every saved weld as it is, and show in one table what differs in"
        " the inputs and in the answers."
    )
    parser.epilog = "example: nugget compare mine.toml other.toml results/weld.npz --out compared.html"
    parser.add_argument(
        "given",
        nargs="+",
        metavar="SETUP.toml|PRESET|WELD.npz",
        help="setup files, presets or welds that `nugget pulse --out` saved; two or more",
    )
    parser.add_argument("--out", type=Path, metavar="FILE.html", help="write a page with table and picture")
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one for each core)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Judge, print and write; return the exit code."""
    from nugget.cli.outputs import Outputs
    from nugget.cli.workers import progress, with_workers
    from nugget.errors import InputError
    from nugget.setup import Setup
    from nugget.study.comparison import compare
    from nugget.study.statement.statement import WELDS

    if len(args.given) < 2:
        raise InputError("compare", args.given[0], "two or more, to be compared")
    check_least("--workers", args.workers, 1)
    if args.out is not None:
        if args.out.suffix.lower() != ".html":
            raise InputError("--out", str(args.out), "a name that ends in .html")
        check_folder(args.out.parent)
    given = {name: _read(name) for name in dict.fromkeys(args.given)}
    if len(given) < len(args.given):
        raise InputError("compare", args.given[0], "each of them once")
    total = sum(WELDS[0] for one in given.values() if isinstance(one, Setup))
    with progress("Running", total) as done:
        tasks = max(total, 1)
        comparison = with_workers(lambda executor: compare(given, executor, done), tasks, args.workers)
    _print(comparison)
    if args.out is not None:
        from nugget.pages.comparison_page import comparison_page

        outputs = Outputs(Path())
        outputs.text(str(args.out), comparison_page(comparison))
        outputs.say()
    return 0


def _read(name: str) -> Setup | Weld:
    """A saved weld, a setup file or a preset, by its name."""
    from nugget.outcome.loading import load_weld
    from nugget.setup import load_setup, preset, preset_names

    if name.lower().endswith(SAVED):
        return load_weld(name)
    return preset(name) if name in preset_names() and not Path(name).exists() else load_setup(name)


def _print(comparison: Comparison) -> None:
    """The table, each group under its heading, then the first caution."""
    from nugget.outcome.record import CAUTIONS

    names = [one.name for one in comparison.entries]
    for title, lines in (
        ("Inputs that differ", comparison.inputs),
        ("Answers, * where they differ", comparison.answers),
        ("Limits, * where they differ", comparison.limits),
    ):
        print(title)
        if not lines:
            print("  none")
            continue
        _table(names, lines, marked=title.startswith(("Answers", "Limits")))
        print()
    print(CAUTIONS[0])


def _table(names: list[str], lines: tuple[Line, ...], marked: bool) -> None:
    import shutil

    from rich.console import Console
    from rich.table import Table

    wide = min(120, max(80, shutil.get_terminal_size((100, 24)).columns))
    console = Console(width=wide, markup=False, highlight=False, emoji=False)
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="underline")
    longest = max(len(word) for line in lines for word in line.title.split())
    table.add_column("", min_width=longest + len("* "))
    for name in names:
        table.add_column(name, overflow="fold")
    for line in lines:
        table.add_row(f"{'* ' if marked and line.differs else '  '}{line.title}", *line.values)
    with console.capture() as captured:
        console.print(table)
    for text in captured.get().splitlines():
        print(text.rstrip())
