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
import time
from collections.abc import Sequence
from typing import Any, NoReturn

from nugget import __version__
from nugget.cli.terminal import drop_stdout, shown, tell
from nugget.errors import LONGEST, InputError, NuggetError, plain, short

COMMANDS = {
    "pulse": "predict one weld: joint, heat inside the cell, verdict",
    "chart": "draw how long the pulse may be against strip thickness, or any other pair",
    "compare": "two or more setups or saved welds side by side: inputs and answers that differ",
    "card": "one page for the wall: what to set, what is safe, what a good weld looks like, when to stop",
    "calibrate": "fit source, leads and contact to your own trial welds",
    "scatter": "how the weld spreads when its inputs vary, from many welds",
    "suggest": "search pulse trains for a weld in the window, and plan the first trial welds",
    "setup": "print a commented setup file to start from",
    "inputs": "list the uncertain inputs: by how much each may be off, why, what would tell more",
    "handout": "copy the example tables of trial welds and scope traces here",
    "material": "list, show, write and check materials",
    "figures": "list every figure of a weld: unit, meaning, limits",
    "manual": "read the manual: tutorial, how-to pages, theory, reference",
}
"""What each command is for, in a line.

Each is a module ``NAME_command`` of `nugget.cli.commands` with ``fill(parser)``, which adds what the command
takes, and ``run(args) -> int``. A module is imported when its command is called, so ``nugget --help`` and
every other command cost nothing by it; whatever is heavy is imported in ``run``.
"""

ENDINGS = ("SIGINT", "SIGTERM", "SIGHUP")
"""Ctrl-C, a request to end, a closed terminal."""

PATIENCE_S = 3.0
"""So long an end may take before another Ctrl-C cuts it short."""

DONE, FAILED, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130


class _Parser(argparse.ArgumentParser):
    """Says what is wrong on one line, without the usage text; a command's learns what it takes when asked."""

    command: str | None = None

    def error(self, message: str) -> NoReturn:
        hint = f"; `{self.prog} --help` shows what it takes"
        self.exit(BAD_INPUT, short(plain(f"{self.prog}: {message}"), LONGEST - len(hint)) + hint + "\n")

    def fill(self) -> None:
        """Add what the command of this parser takes, if that has not been done."""
        if self.command is not None:
            importlib.import_module(f"nugget.cli.commands.{self.command}_command").fill(self)
            _add_traceback(self)
            self.command = None

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        self.fill()
        return super().parse_known_args(args, namespace)


def _add_traceback(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--traceback",
        action="store_true",
        default=argparse.SUPPRESS,
        help="show where in the program an error arose",
    )


def build_parser(whole: bool = True) -> argparse.ArgumentParser:
    """Return the parser of the whole command line.

    Parameters
    ----------
    whole : bool
        Whether all commands are filled now, as for a list of what they take; otherwise each
        is when it parses.
    """
    parser = _Parser(
        prog="nugget",
        description="Predict a resistance spot weld on a lithium cell before a cell is touched.",
        epilog="A predicted weld is not a safe weld: try on a coupon, then an empty can, then a fully"
        " discharged, undamaged scrap cell.",
    )
    parser.add_argument("--version", action="version", version=f"nugget {__version__}")
    _add_traceback(parser)
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=False)
    for name, purpose in COMMANDS.items():
        one = commands.add_parser(name, help=purpose)
        one.command = name
        if whole:
            one.fill()
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
    before, code = _handlers(), INTERRUPTED
    try:
        with shown():
            code = _main(argv)
        return code
    finally:
        if argv is not None or code != INTERRUPTED:
            for number, handler in before.items():
                signal.signal(number, handler)


def _main(argv: Sequence[str] | None) -> int:
    try:
        _end_as_by_keyboard()
        parser = build_parser(whole="_ARGCOMPLETE" in os.environ)
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
        from nugget.cli.log_told import log_told

        with log_told():
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
    if os.path.expanduser("~").startswith("~") and "MPLCONFIGDIR" not in os.environ:
        import atexit
        import shutil
        import tempfile

        os.environ["MPLCONFIGDIR"] = folder = tempfile.mkdtemp(prefix="nugget-fonts-")
        atexit.register(shutil.rmtree, folder, ignore_errors=True)


def _handlers() -> dict[int, Any]:
    """What answers Ctrl-C, a closed terminal and a request to end, where nobody else has seen to that."""
    if threading.current_thread() is not threading.main_thread():
        return {}
    numbers = [getattr(signal, name) for name in ENDINGS if hasattr(signal, name)]
    usual = (signal.SIG_DFL, signal.default_int_handler)
    return {number: signal.getsignal(number) for number in numbers if signal.getsignal(number) in usual}


def _end_as_by_keyboard() -> None:
    """Let a closed terminal and a request to end do what Ctrl-C does: end workers, say what is kept.

    What comes within `PATIENCE_S` of the first is dropped: the end is on its way, and must not be spoiled.
    """
    begun: list[float] = []

    def interrupt(number: int, frame: object) -> None:
        if not begun or time.monotonic() - begun[-1] > PATIENCE_S:
            begun.append(time.monotonic())
            raise KeyboardInterrupt

    for number in _handlers():
        signal.signal(number, interrupt)


def _say(text: str, code: int) -> int:
    tell(text)
    return code


if __name__ == "__main__":
    sys.exit(main())
