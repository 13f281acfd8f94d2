"""``--machine FILE``: what `calibrate` or `suggest` found for a machine, laid over the setup."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.files import read_toml

if TYPE_CHECKING:
    from nugget.setup.read import Over


def add_machine_option(parser: argparse.ArgumentParser) -> None:
    """Add the option to a command that takes a setup."""
    parser.add_argument(
        "--machine",
        type=Path,
        action="append",
        default=[],
        metavar="FILE.toml",
        help="apply this file, as `nugget calibrate` and `nugget suggest` write them, on top of the setup;"
        " may be repeated; --set takes precedence",
    )


def machine_layer(path: Path) -> Over:
    """Return the file as a layer over a setup; what is wrong in it is said in its name.

    Raises
    ------
    InputError
        When it is no plain file, or no TOML.
    """
    from nugget.setup.read import Over

    expected = "a TOML file as `nugget calibrate` writes it"
    tree = read_toml(path, path.name or str(path), expected, expected)
    return Over(tree, lambda key: f"{path.name}: {key}")
