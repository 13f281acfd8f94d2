"""Whole processes of the command line, and what they import."""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from pathlib import Path

from validation.benchmark.timing import medians
from validation.case import Check, Outcome, at_most, holds, reported
from validation.evidence.cost import command, environment
from validation.evidence.piece import Piece

HEAVY = ("fipy", "matplotlib", "pint", "pydantic", "scipy", "numpy", "rich")
CALLS: dict[str, tuple[list[str], tuple[str, ...]]] = {
    "nugget --help": (["--help"], HEAVY),
    "nugget pulse --no-plots": (["pulse", "--no-plots"], ("fipy", "matplotlib")),
    "nugget pulse": (["pulse"], ("fipy",)),
}
"""Arguments, and the packages that the command must not import."""
MOST_HELP_S = 0.3

LOADED = """
import contextlib, io, json, sys
from nugget.cli.main import main
with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(SystemExit):
    main(json.loads(sys.argv[1]))
print(json.dumps(sorted({name.split(".")[0] for name in sys.modules})))
"""


def run(repeats: int) -> Outcome:
    checks: list[Check] = []
    with tempfile.TemporaryDirectory() as folder:
        bare = medians(lambda: _process([sys.executable, "-c", "pass"], folder), repeats)[0]
        checks.append(reported("Python that does nothing", bare, "s"))
        for name, (arguments, unwanted) in CALLS.items():
            taken = medians(lambda a=arguments: _process([*command(), *a], folder), repeats)[0]
            if name == "nugget --help":
                checks.append(at_most(f"`{name}`", taken, MOST_HELP_S, "s"))
            else:
                checks.append(reported(f"`{name}`", taken, "s"))
            found = json.loads(_process([sys.executable, "-c", LOADED, json.dumps(arguments)], folder))
            loaded = [package for package in unwanted if package in found]
            checks.append(holds(f"`{name}` imports no {', '.join(unwanted)}", not loaded, ", ".join(loaded)))
    return Outcome(tuple(checks))


def _process(words: list[str], folder: str | Path) -> str:
    done = subprocess.run(words, env=environment(), cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout.splitlines()[-1] if done.stdout else ""


PIECE = Piece(
    name="start_up",
    title="Whole processes",
    what="From start to end of the process, default weld, nothing cached beyond Python's own byte code; "
    "`nugget pulse` includes the runs for its sensitivities and its figures.",
    run=run,
)
