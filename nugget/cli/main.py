"""The command ``nugget``: reads the command line, runs one command, turns errors into one line.

Exit codes: 0 done, 1 the run failed, 2 bad input, 130 interrupted.
"""

from __future__ import annotations

import argparse
import importlib
import os
import signal
import sys
import threading
from collections.abc import Sequence
from pathlib import Path
from typing import NoReturn

from nugget import __version__
from nugget.cli.terminal import drop_stdout, shown, tell
from nugget.errors import LONGEST, InputError, NuggetError, plain, short

COMMANDS = (
    "pulse",
    "chart",
    "compare",
    "card",
    "calibrate",
    "scatter",
    "suggest",
    "setup",
    "inputs",
    "handout",
    "material",
    "figures",
    "manual",
)
"""Each a module ``NAME_command`` of `nugget.cli.commands` with ``add_parser(subparsers)`` and
``run(args) -> int``.

They are imported for every call, ``nugget --help`` included: whatever is heavy is imported in ``run``.
"""

ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP")
"""Ctrl-C, a request to end, a closed terminal."""

DONE, FAILED, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130


class _Parser(argparse.ArgumentParser):
    """Says what is wrong on one line, without the usage text."""

    def error(self, message: str) -> NoReturn:
        hint = f"; `{self.prog} --help` shows what it takes"
        self.exit(BAD_INPUT, short(plain(f"{self.prog}: {message}"), LONGEST - len(hint)) + hint + "\n")


def build_parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    parser = _Parser(
        prog="nugget",
        description="Predict a resistance spot weld on a lithium cell before a cell is touched.",
        epilog="A predicted weld is not a safe weld: try on a coupon, then an empty can, then a fully"
        " discharged, undamaged scrap cell.",
    )
    parser.add_argument("--version", action="version", version=f"nugget {__version__}")
    subparsers = parser.add_subparsers(dest="command", metavar="COMMAND", required=False)
    for name in COMMANDS:
        importlib.import_module(f"nugget.cli.commands.{name}_command").add_parser(subparsers)
    for one in (parser, *subparsers.choices.values()):
        one.add_argument(
            "--traceback",
            action="store_true",
            default=argparse.SUPPRESS,
            help="show where in the program an error arose",
        )
    return parser


def _completed(parser: argparse.ArgumentParser) -> None:
    """Answer a shell that asks how a line could go on, and end; costs nothing otherwise."""
    if "_ARGCOMPLETE" in os.environ:
        import argcomplete

        argcomplete.autocomplete(parser)


START = """Predict a resistance spot weld on a lithium cell before a cell is touched.

  nugget pulse                     one weld of the built-in setup: verdict, reason, next step
  nugget setup > mine.toml         a setup file to edit: your strip, cell, tips and source
  nugget pulse mine.toml --out results    your weld, with its record as a page
  nugget chart mine.toml           how long the pulse may be
  nugget --help                    all commands

A predicted weld is not a safe weld: try on a coupon, then an empty can, then a fully
discharged, undamaged scrap cell."""
"""What ``nugget`` alone says."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line `argv` (default: that of the process) and return the exit code."""
    os.environ["MPLBACKEND"] = "agg"  # figures go to files, whatever this terminal is set to
    _have_a_place_for_fonts()
    with shown():
        return _main(argv)


def _main(argv: Sequence[str] | None) -> int:
    try:
        _end_as_by_keyboard()
        parser = build_parser()
        _completed(parser)
        args = parser.parse_args(argv)
        if args.command is None:
            print(START)
            return DONE
    except SystemExit as ended:  # --help, --version, or a command line that makes no sense
        return ended.code if isinstance(ended.code, int) else BAD_INPUT
    except KeyboardInterrupt:
        return _say("interrupted", INTERRUPTED)
    try:
        code = int(args.run(args))
        sys.stdout.flush()
        return code
    except KeyboardInterrupt:
        if argv is None:  # the end is on its way; a second Ctrl-C would only spoil what it says
            for name in ENDINGS:
                if hasattr(signal, name):
                    signal.signal(getattr(signal, name), signal.SIG_IGN)
        return _say("interrupted", INTERRUPTED)
    except BrokenPipeError:  # the reader, such as `head`, has gone: nobody to tell
        drop_stdout()
        return FAILED
    except BaseException as error:  # a plugin may raise anything, and may ask to exit as if all were well
        if "traceback" in args:
            import traceback

            traceback.print_exc()
        if isinstance(error, InputError):
            return _say(str(error), BAD_INPUT)
        if isinstance(error, NuggetError):
            return _say(str(error), FAILED)
        if isinstance(error, OSError) and error.strerror:  # as when the disk behind stdout is full
            drop_stdout()
            return _say(f"{error.filename or 'the output'}: {error.strerror.lower()}", FAILED)
        return _say(f"unexpected {type(error).__name__}: {error} (--traceback shows where)", FAILED)


def _have_a_place_for_fonts() -> None:
    """Give matplotlib a folder for its lists of fonts where the user has no home: 3.10 fails without."""
    try:
        Path.home()
    except RuntimeError:
        if "MPLCONFIGDIR" not in os.environ:
            import atexit
            import shutil
            import tempfile

            os.environ["MPLCONFIGDIR"] = folder = tempfile.mkdtemp(prefix="nugget-fonts-")
            atexit.register(shutil.rmtree, folder, ignore_errors=True)


def _end_as_by_keyboard() -> None:
    """Let a closed terminal and a request to end do what Ctrl-C does: end workers, say what is kept."""
    if threading.current_thread() is threading.main_thread():
        for name in ENDINGS[1:]:
            number = getattr(signal, name, None)
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:
                signal.signal(number, _interrupt)


def _interrupt(number: int, frame: object) -> NoReturn:
    raise KeyboardInterrupt


def _say(text: str, code: int) -> int:
    tell(text)
    return code


if __name__ == "__main__":
    sys.exit(main())
