"""``nugget figures``: every figure of merit with its unit and meaning, and the limits on it."""

from __future__ import annotations

import argparse


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``figures`` is and takes."""
    parser.description = (
        "List what a weld is described and judged by: the key under which --json, tables and"
        " Python hold it, its unit, what it counts, its meaning and the limits on it."
    )
    parser.epilog = "example: nugget figures --markdown > figures.md"
    parser.add_argument("--markdown", action="store_true", help="print a Markdown table for a manual")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the table; return the exit code."""
    from nugget.cli.figure_table import markdown_table, text_table
    from nugget.cli.terminal import tell
    from nugget.merit.figure import FIGURES

    for line in markdown_table() if args.markdown else text_table():
        print(line)
    for problem in FIGURES.problems:
        tell(str(problem))
    return 1 if FIGURES.problems else 0
