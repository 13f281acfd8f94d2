"""``--machine FILE``: what `calibrate` or `suggest` found for a machine, laid over the setup."""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from nugget.errors import InputError


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


@contextmanager
def machine_overrides(paths: Sequence[Path]) -> Iterator[list[str]]:
    """Yield the overrides that the files stand for, to be added to.

    What is wrong with them is said in the name of their file.

    Raises
    ------
    InputError
        When one is not TOML, or holds what no setup takes.
    """
    leaves = [(key, value, path) for path in paths for key, value in _leaves(_tree(path), "")]
    overrides = [f"{key}={value}" for key, value, _ in leaves]
    try:
        yield overrides
    except InputError as error:
        key = error.where.removeprefix("override ")
        later = {text.partition("=")[0].strip() for text in overrides[len(leaves) :]}
        mine = [path for one, _, path in leaves if one not in later and _leads(key, one)]
        if key == error.where or not mine:
            raise
        raise InputError(f"{mine[-1].name}: {key}", error.given, error.expected) from error


def _leads(key: str, one: str) -> bool:
    """Whether an error at `key` is about what stands at `one`: there, above or below it."""
    return f"{one}.".startswith(f"{key}.") or f"{key}.".startswith(f"{one}.")


def _tree(path: Path) -> dict[str, Any]:
    expected = "a TOML file as `nugget calibrate` writes it"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as failure:
        raise InputError(str(path), failure.strerror or str(failure), expected) from failure
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        raise InputError(path.name, str(failure), expected) from failure


def _leaves(tree: dict[str, Any], prefix: str) -> Iterator[tuple[str, str]]:
    from nugget.setup.toml import to_toml

    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _leaves(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", to_toml(value)
