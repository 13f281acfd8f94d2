"""``nugget handout``: copy the example tables that come with nugget to where the command runs."""

from __future__ import annotations

import argparse
from importlib.resources import files
from pathlib import Path

GIVEN = (".py", ".csv")
"""What is handed out: example scripts and the invented trials."""


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``handout`` is and takes."""
    parser.description = (
        "Copy an invented table of trial welds and the scope trace that belongs to it into the"
        " current folder, to try `nugget calibrate` and `nugget chart --trials` with. A file that is there"
        " already is never replaced."
    )
    parser.epilog = "example: nugget handout && nugget calibrate trials_logger.csv"
    parser.add_argument("--out", type=Path, default=Path(), metavar="DIR", help="copy into DIR instead")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Copy all of them, or none where another file has the name of one; return the exit code."""
    from nugget.cli.options import check_folder
    from nugget.errors import InputError
    from nugget.outcome.writing import write_bytes

    check_folder(args.out)
    shipped = files("nugget").joinpath("examples").iterdir()
    content = {
        file.name: file.read_bytes()
        for file in shipped
        if file.name.endswith(GIVEN) and "__" not in file.name
    }
    for name, data in content.items():
        place = args.out / name
        if place.exists() and not (place.is_file() and place.read_bytes() == data):
            raise InputError(str(place), "another file of that name", "a free name: move it, or give --out")
    for name, data in content.items():
        write_bytes(args.out / name, data)
    print("Copied: " + ", ".join(str(args.out / name) for name in sorted(content)))
    print("Invented: no such welds were made.")
    return 0
