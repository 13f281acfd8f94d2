"""``--machine FILE``: what `calibrate` or `suggest` found for a machine, laid over the setup."""

from __future__ import annotations

import argparse
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nugget.errors import InputError

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
        help="lay this file over the setup, as `nugget calibrate` and `nugget suggest` write them; may be"
        " repeated, and --set goes over all",
    )


def machine_layer(path: Path) -> Over:
    """Return the file as a layer over a setup; what is wrong in it is said in its name.

    Raises
    ------
    InputError
        When it is not TOML.
    """
    from nugget.setup.read import Over

    return Over(_tree(path), lambda key: f"{path.name}: {key}")


def _tree(path: Path) -> dict[str, Any]:
    expected = "a TOML file as `nugget calibrate` writes it"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as failure:
        raise InputError(str(path), failure.strerror or str(failure), expected) from failure
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        raise InputError(path.name, str(failure), expected) from failure
