"""``nugget setup``: print a commented setup file, or list the presets."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]


def add_parser(subparsers: Subparsers) -> None:
    """Add the ``setup`` command."""
    parser = subparsers.add_parser(
        "setup",
        help="print a commented setup file to start from",
        description="Print the commented setup file of a preset: save it, change it, and run it.",
        epilog="example: nugget setup > mine.toml",
    )
    parser.add_argument("name", nargs="?", default="default", help="a preset (default: %(default)s)")
    parser.add_argument("--list", action="store_true", help="list the presets instead")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print what was asked for; return the exit code."""
    from nugget.setup import presets, starter_text  # pydantic: only when the command runs

    if args.list:
        width = max(len(one.name) for one in presets())
        for one in presets():
            print(f"{one.name:<{width}}  {one.title}\n{'':<{width}}  {one.sentence}")
    else:
        print(starter_text(args.name), end="")
    return 0
