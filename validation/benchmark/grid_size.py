"""Time and memory against the number of cells."""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

import numpy as np

from validation.case import Check, Drawing, Outcome, at_most, reported
from validation.evidence.cost import environment
from validation.evidence.piece import Piece

REFINEMENTS = (0.57, 0.81, 1.15, 1.62, 2.3, 3.25, 4.79)
MOST_EXPONENT = 1.7

MARCH = """
import json, pathlib, re, sys, time
from nugget.weld.model import WeldModel
from validation.benchmark.timing import march, short
setup = short(float(sys.argv[1]))
taken, simulations = [], int(sys.argv[2])
for _ in range(simulations):
    model = WeldModel(setup)
    start = time.perf_counter()
    moments = march(setup, model)
    taken.append(time.perf_counter() - start)
# The largest resident set of this process alone: getrusage would count the parent's too.
peak = 1024 * int(re.search(r"VmHWM:\\s+(\\d+)", pathlib.Path("/proc/self/status").read_text())[1])
print(json.dumps([int(model.grid.active.sum()), sorted(taken)[simulations // 2], peak, moments[-1].step,
    model.stage_count]))
"""


def run(repeats: int) -> Outcome:
    rows = []
    for refinement in REFINEMENTS:
        many = repeats if refinement < 2.0 else 1
        rows.append(measured(refinement, many))
    cells, taken, peak, steps, iterations = np.array(rows, dtype=float).T
    per = taken / iterations
    checks: list[Check] = [at_most("exponent of time over cells", _exponent(cells, taken), MOST_EXPONENT)]
    checks += [
        reported("exponent of time per iteration", _exponent(cells, per)),
        reported("exponent of time, largest half of the grids", _exponent(cells[3:], taken[3:])),
        reported("exponent of memory beyond the smallest", _exponent(cells[2:], peak[2:] - peak[0])),
    ]
    for n in range(len(cells)):
        remark = f"{steps[n]:.0f} steps, {iterations[n]:.0f} iterations, {peak[n] / 1e6:.0f} MB"
        checks.append(reported(f"{cells[n]:.0f} cells", taken[n], "s", remark))
    return Outcome(
        tuple(checks), (Drawing("grid_size", "Time and memory.", lambda: _draw(cells, taken, peak)),)
    )


def measured(refinement: float, simulations: int) -> list[float]:
    """Cells, median time [s], peak memory [B], steps and iterations of simulations in a fresh process."""
    command = [sys.executable, "-c", MARCH, str(refinement), str(simulations)]
    done = subprocess.run(command, env=environment(), capture_output=True, text=True, check=True)
    found: list[float] = json.loads(done.stdout)
    return found


def _exponent(x: Any, y: Any) -> float:
    return float(np.polyfit(np.log(x), np.log(y), 1)[0])


MARKED = (2000, 5000, 10_000, 20_000, 50_000)


def _draw(cells: Any, taken: Any, peak: Any) -> Any:
    from validation.drawing import axes, mark_counts

    figure, (left, right) = axes("cells", "time of the simulation [s]", 2)
    left.loglog(cells, taken, "o-")
    right.loglog(cells, peak / 1e6, "s-")
    right.set(xlabel="cells", ylabel="peak memory [MB]")
    for ax in (left, right):
        mark_counts(ax, MARKED)
    return figure


PIECE = Piece(
    name="grid_size",
    title="Growth with the number of cells",
    what="The first millisecond of the default weld from 1,000 to 64,000 cells, each grid in a process of "
    "its own; a straight line through all sizes in logarithms.",
    run=run,
)
