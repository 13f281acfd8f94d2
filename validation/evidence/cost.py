"""Time and memory of the default weld, and of ``nugget --help``."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

from validation.case import Check, Outcome, at_least, at_most, reported
from validation.evidence.piece import Piece

REPEATS = 12
HELP_REPEATS = 7

MARCHES = """
import json, resource, sys, time
from nugget import default_setup
from nugget.outcome.weld import run_weld
setup = default_setup()
found = []
for _ in range(int(sys.argv[1])):
    wall, busy = time.perf_counter(), time.process_time()
    figures = run_weld(setup).figures
    found.append((time.perf_counter() - wall, time.process_time() - busy))
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
print(json.dumps({"times": found, "cells": figures["cells"], "steps": figures["steps"], "peak": peak}))
"""

FACTOR = """
import time
import numpy as np
from nugget.field.fastest import fastest_solver
solver = fastest_solver(40, 100)
ones = np.ones((40, 100))
times = []
for _ in range(200):
    start = time.perf_counter()
    solver.factor(5.0 * ones, ones[:, 1:], ones[1:])
    times.append(time.perf_counter() - start)
print(min(times))
"""


def run(workers: int) -> Outcome:
    """Run one process after another, so that nothing of this package competes with it."""
    one = json.loads(_python(MARCHES, "1"))
    many = json.loads(_python(MARCHES, str(REPEATS)))
    walls, busy = zip(*many["times"], strict=True)
    load = os.getloadavg()[0]
    checks: list[Check] = [
        at_least("active cells", many["cells"], 3000.0, "", f"{many['steps']} steps"),
        at_most("wall time of one march", min(walls), 1.5, "s", f"shortest of {REPEATS}"),
        at_most("processor time of one march", min(busy), 1.5, "s", f"shortest of {REPEATS}"),
        reported("longest wall time of the same", max(walls), "s", f"load of the machine {load:.1f}"),
        at_most("peak memory of a fresh process, one march", one["peak"] / 1e6, 250.0, "MB"),
        reported(
            "banded factorisation on 40 x 100 cells", 1e3 * float(_python(FACTOR)), "ms", "this machine"
        ),
    ]
    times = [_seconds([*command(), "--help"]) for _ in range(HELP_REPEATS)]
    checks.append(
        at_most("`nugget --help`, whole process", min(times), 0.3, "s", f"shortest of {HELP_REPEATS}")
    )
    bare = [_seconds([sys.executable, "-c", "pass"]) for _ in range(HELP_REPEATS)]
    checks.append(reported("Python that does nothing", min(bare), "s"))
    checks.append(
        reported("`nugget pulse --json`, whole process", _seconds([*command(), "pulse", "--json"]), "s")
    )
    return Outcome(tuple(checks))


def environment() -> dict[str, str]:
    """Variables of a process that finds this checkout and keeps to one thread."""
    here = str(Path(__file__).parents[2])
    path = os.pathsep.join(p for p in (here, os.environ.get("PYTHONPATH", "")) if p)
    return {**os.environ, "PYTHONPATH": path, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


def _python(code: str, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env=environment(),
        capture_output=True,
        text=True,
        check=True,
    )
    return done.stdout


def command() -> list[str]:
    """How the command line is started here."""
    script = Path(sys.executable).parent / "nugget"
    if script.exists():
        return [str(script)]
    return [sys.executable, "-c", "import sys; from nugget.cli.main import main; sys.exit(main())"]


def _seconds(words: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(words, env=environment(), capture_output=True, check=True)
    return time.perf_counter() - start


PIECE = Piece(
    name="cost",
    title="Time and memory",
    what="Default setup on the standard grid, cool-down included, one thread: `run_weld` repeated in one "
    "fresh process, largest resident set of a fresh process that imports nugget and runs one march, and "
    "`nugget --help` from start to end of its process. Times are the shortest of several, because other work "
    "on the machine only adds to them; the factorisation allows machines to be compared.",
    run=run,
)
