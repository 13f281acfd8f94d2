"""``--machine FILE``: what `nugget calibrate` found for a machine, laid over the setup."""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from nugget.errors import InputError


def add_machine_option(parser: argparse.ArgumentParser) -> None:
    """Add the option to a command that takes a setup."""
    parser.add_argument(
        "--machine",
        type=Path,
        metavar="FILE.toml",
        help="lay this file over the setup, as `nugget calibrate` writes it; --set goes over both",
    )


@contextmanager
def machine_overrides(path: Path | None) -> Iterator[list[str]]:
    """Yield the overrides that the file at `path` stands for, to be added to.

    What is wrong with them is said in the name of the file.

    Raises
    ------
    InputError
        When it is not TOML, or holds what no setup takes.
    """
    if path is None:
        yield []
        return
    found = dict(_leaves(_tree(path), ""))
    overrides = [f"{key}={value}" for key, value in found.items()]
    try:
        yield overrides
    except InputError as error:
        key = error.where.removeprefix("override ")
        later = {text.partition("=")[0].strip() for text in overrides[len(found) :]}
        mine = [one for one in found if one not in later]
        if key == error.where or not any(f"{one}.".startswith(f"{key}.") for one in mine):
            raise
        raise InputError(f"{path.name}: {key}", error.given, error.expected) from error


def _tree(path: Path) -> dict[str, Any]:
    expected = "a TOML file as `nugget calibrate` writes it"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as failure:
        raise InputError(str(path), failure.strerror or str(failure), expected) from failure
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        raise InputError(path.name, str(failure), expected) from failure


def _leaves(tree: dict[str, Any], prefix: str) -> Iterator[tuple[str, str]]:
    from nugget.setup.starter import to_toml

    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _leaves(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", to_toml(value)
