"""``nugget setup``: print a commented setup file, list the presets, or rename the keys of an old file."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``setup`` is and takes."""
    parser.description = "Print the commented setup file of a preset: save it, change it, and run it."
    parser.epilog = "examples: nugget setup > mine.toml; nugget setup --convert old.toml > mine.toml"
    parser.add_argument("name", nargs="?", default="default", help="a preset (default: %(default)s)")
    parser.add_argument("--list", action="store_true", help="list the presets instead")
    parser.add_argument("--convert", metavar="FILE", help="print this setup file with old keys renamed")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print what was asked for; return the exit code."""
    from nugget.setup import presets, starter_text  # pydantic: only when the command runs

    if args.convert is not None:
        _convert(args.convert)
    elif args.list:
        width = max(len(one.name) for one in presets())
        for one in presets():
            print(f"{one.name:<{width}}  {one.title}\n{'':<{width}}  {one.sentence}")
    else:
        print(starter_text(args.name), end="")
    return 0


def _convert(name: str) -> None:
    from nugget.files import MOST_TOML_BYTES, decoded, parse_toml, read_bytes
    from nugget.setup.renamed import converted

    path = Path(name)
    data = read_bytes(path, path.name, "a readable setup file", MOST_TOML_BYTES)
    text = decoded(data, path.name, "a UTF-8 text file")
    parse_toml(text, path.name, "TOML, as `nugget setup` prints it")  # refused in one line
    text, kept = converted(text)
    if not kept:
        print("written anew, without its comments: tables stand within lines", file=sys.stderr)
    print(text, end="")
