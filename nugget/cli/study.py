"""What the commands that march many welds share: options, places of files, interrupted calls."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nugget.study.run import Finished


def add_folder_options(parser: argparse.ArgumentParser, what: str) -> None:
    """Add the options that say what is written, `what` into the folder of ``--out``."""
    parser.add_argument("--out", type=Path, metavar="DIR", help=f"write {what} into DIR")
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.add_argument("--no-plots", action="store_true", help="draw no figure")


def add_marching_options(parser: argparse.ArgumentParser, cluster: bool = True) -> None:
    """Add the options that say where the welds are marched."""
    parser.add_argument(
        "--workers", type=int, metavar="N", help="processes here (default: one for each core)"
    )
    if cluster:
        parser.add_argument(
            "--cluster", metavar="ADDRESS", help="compute on a dask.distributed scheduler instead"
        )
    parser.add_argument(
        "--resume", action="store_true", help="go on from what an interrupted call has finished"
    )


def check_least(option: str, value: int | None, least: int) -> None:
    """Raise InputError when the number given for `option` is below `least`."""
    from nugget.errors import InputError

    if value is not None and value < least:
        raise InputError(option, value, f"at least {least}")


def stem(args: argparse.Namespace) -> str:
    """What files are called after: the setup file, the preset, or the default."""
    return Path(args.setup).stem if args.setup is not None else args.preset or "default"


def place(args: argparse.Namespace) -> tuple[Path, str]:
    """Folder and beginning of the names of what is written."""
    return (args.out, "") if args.out is not None else (Path(), f"nugget-{stem(args)}-")


@contextmanager
def keeping(args: argparse.Namespace, *stores: Finished[Any]) -> Iterator[None]:
    """Say what is kept when the body fails, and remove it when it does not."""
    if args.resume and not any(len(store) for store in stores):
        print(f"nugget: --resume: nothing is kept in {stores[0].path}, starting afresh", file=sys.stderr)
    try:
        yield
    except BaseException:
        for store in stores:
            if store.on_disk:
                count = f"{len(store)} finished {'march is' if len(store) == 1 else 'marches are'}"
                hint = "the same command with --resume goes on"
                print(f"nugget: {count} kept in {store.path}; {hint}", file=sys.stderr)
        raise
    for store in stores:
        store.discard()
