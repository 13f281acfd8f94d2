"""What the commands share: options, the setup they name, places of files, interrupted calls."""

from __future__ import annotations

import argparse
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nugget.cli.machine import add_machine_option, machine_layer
from nugget.cli.terminal import tell

if TYPE_CHECKING:
    from nugget.pages.render import Origin
    from nugget.setup import Setup
    from nugget.study.tasks import Finished

MARCHING = ("pulse", "chart", "calibrate", "scatter", "suggest")
"""Commands that march welds."""
PICTURES = (".png", ".svg", ".pdf")
"""Endings of the names of figures."""


def add_setup_options(parser: argparse.ArgumentParser) -> None:
    """Add the setup file and the options that change it, for every command that takes one."""
    parser.add_argument("setup", nargs="?", metavar="SETUP.toml", help="setup file (default: built-in)")
    parser.add_argument(
        "--materials",
        action="append",
        default=[],
        metavar="PATH",
        help="file or folder with your own materials; may be repeated",
    )
    parser.add_argument("--preset", metavar="NAME", help="start from a preset, see `nugget setup --list`")
    add_machine_option(parser)
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        dest="overrides",
        metavar="FIELD=VALUE",
        help="override a field, such as pulse.0.duration='12 ms'; may be repeated",
    )


def add_tolerance_option(parser: argparse.ArgumentParser) -> None:
    """Add the option that says how well inputs are known, for every command that makes a statement."""
    parser.add_argument(
        "--tolerance",
        action="append",
        default=[],
        metavar="FIELD=WIDTH",
        help="95 %% of welds lie within WIDTH: '20 %%', '0.5 mm', 'x1.25', '1e-12 to 1e-11 ohm m2' or 'none';"
        " over what `nugget inputs` lists; may be repeated",
    )


def chosen_setup(args: argparse.Namespace) -> Setup:
    """Return the setup that the options of `add_setup_options` and the argument ``setup`` name."""
    from nugget.errors import InputError
    from nugget.setup.read import Over, file_base, override_layer, preset_base, resolve

    if args.setup is not None and args.preset is not None:
        raise InputError("--preset", args.preset, "either a setup file or a preset, not both")
    base = preset_base(args.preset) if args.setup is None else file_base(args.setup)
    layers = [machine_layer(path) for path in args.machine]
    layers.append(override_layer(args.overrides))
    if args.materials:  # relative to where the command runs, not to the setup file
        places = [str(Path(path).absolute()) for path in args.materials]
        layers.append(Over({"materials": places}, lambda key: f"override {key}"))
    setup = resolve(base, layers)
    command = getattr(args, "command", None)
    if command in MARCHING:
        _say_what_is_unusual(setup, command)
    return setup


def _say_what_is_unusual(setup: Setup, command: str) -> None:
    """Say before anything is computed what may be a slip, and what will take long."""
    from nugget.setup.plausibility import remarks
    from nugget.weld.effort import LONG_S, march_seconds, minutes

    for remark in remarks(setup):
        tell(f"is this meant? {remark}")
    if command == "pulse":
        return  # its own first simulation says so
    seconds = march_seconds(setup)
    if seconds > LONG_S:
        tell(
            f"one simulation of this weld will take about {minutes(seconds)} on one core; a coarser"
            " numerics.refinement is faster"
        )


def origin_of(args: argparse.Namespace) -> Origin:
    """What the setup was read from, for a page that shows it."""
    from nugget.files import MOST_TOML_BYTES, decoded, read_bytes
    from nugget.pages.render import Origin

    text = ""
    if args.setup is not None:
        data = read_bytes(Path(args.setup), str(args.setup), "a readable setup file", MOST_TOML_BYTES)
        text = decoded(data, str(args.setup), "a UTF-8 text file")
    machines = tuple(f"--machine {path}" for path in args.machine)
    return Origin(args.setup or args.preset or "the built-in setup", text, (*machines, *args.overrides))


def add_folder_options(parser: argparse.ArgumentParser, what: str) -> None:
    """Add the options that say what is written, `what` into the folder of ``--out``."""
    parser.add_argument("--out", type=Path, metavar="DIR", help=f"write {what} into DIR")
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.add_argument("--no-plots", action="store_true", help="draw no figure")


def add_marching_options(parser: argparse.ArgumentParser, cluster: bool = True) -> None:
    """Add the options that say where the welds are marched."""
    parser.add_argument(
        "--workers",
        type=int,
        metavar="N",
        help="number of local worker processes (default: one for each core)",
    )
    if cluster:
        parser.add_argument(
            "--cluster", metavar="ADDRESS", help="compute on a dask.distributed scheduler instead"
        )
    parser.add_argument("--resume", action="store_true", help="continue an interrupted run")


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
    damaged = sum(store.damaged for store in stores)
    if damaged:
        lines = "1 line that is" if damaged == 1 else f"{damaged} lines that are"
        tell(f"--resume: {lines} torn or changed in {stores[0].path}: simulated again")
    if args.resume and not any(len(store) for store in stores):
        tell(f"--resume: nothing is kept in {stores[0].path}, starting afresh")
    try:
        yield
    except BaseException:
        for store in stores:
            if store.on_disk:
                count = f"{len(store)} finished {'simulation is' if len(store) == 1 else 'simulations are'}"
                hint = "the same command with --resume goes on"
                tell(f"{count} kept in {store.path}; {hint}")
        raise
    foreign = sum(store.unused for store in stores)
    if foreign:
        lines = "1 simulation is" if foreign == 1 else f"{foreign} simulations are"
        tell(f"--resume: {lines} left over in {stores[0].path}, of another setup or version: not used")
    for store in stores:
        store.discard()


def check_folder(folder: Path) -> None:
    """Raise InputError when `folder` can be neither written nor made, before any work is done."""
    from nugget.errors import InputError

    above = next((part for part in (folder, *folder.absolute().parents) if os.path.exists(part)), Path())
    try:
        with tempfile.TemporaryFile(dir=above):  # rights alone do not tell: full, read-only, not a disk
            pass
    except OSError as failure:
        given = "a file" if above.is_file() else failure.strerror or str(failure)
        raise InputError(str(folder), given, "a folder that can be written") from failure


def longest_of(args: argparse.Namespace) -> float | None:
    """The longest pulse [s] that ``--max-duration`` names, for every command that searches durations."""
    from nugget.errors import InputError
    from nugget.units import to_si

    if args.max_duration is None:
        return None
    try:
        return to_si(args.max_duration, "time")
    except ValueError as problem:
        raise InputError("--max-duration", args.max_duration, str(problem)) from problem
