"""``python -m validation.benchmark.agreement OTHER [COUNT]``: do two source trees answer alike?

OTHER is a folder that holds another version of the package. Random setups (`tests/random_setups.py`) are
marched with both, and with the other one at a tolerance 7 % tighter, which tells by how much answers
scatter with the steps alone. Half the refinement of the default, its tolerance.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np

SEED, COUNT, NUDGE = 700001, 50, 0.93
FIGURES = ("nugget_diameter_m", "bonded_diameter_m", "hottest_K", "can_inner_peak_K", "weld_energy_J")
LEAST_M = 1e-4
"""Diameters below this are counted as shares of it: a speck of melt may come or go."""

MARCH = """
import json, sys
sys.path.append(sys.argv[1])
from nugget.outcome.weld import run_weld
from tests.random_setups import random_setup
for seed in range(int(sys.argv[2]), int(sys.argv[2]) + int(sys.argv[3])):
    try:
        setup = random_setup(seed).with_({"numerics.refinement": 0.5})
        kelvin = float(sys.argv[4]) * setup.numerics.tolerance_K
        figures = run_weld(setup.with_({"numerics.tolerance": kelvin})).figures
        found = {key: figures.get(key) for key in sys.argv[5:]} | {"ambient_K": setup.ambient_K}
    except Exception as refusal:
        found = {"said": str(refusal)}
    print(json.dumps(found), flush=True)
"""


def main(arguments: list[str]) -> int:
    """Print how far answers are apart: root mean square and worst, of both pairs."""
    here = Path(__file__).resolve().parents[2]
    count = int(arguments[1]) if len(arguments) > 1 else COUNT
    other = Path(arguments[0]).resolve()
    trees = {"other": (other, 1.0), "this": (here, 1.0), "other, nudged": (other, NUDGE)}
    runs = {name: _answers(tree, here, count, nudge) for name, (tree, nudge) in trees.items()}
    alike = [n for n in range(count) if all("said" not in rows[n] for rows in runs.values())]
    refused = {name: sum("said" in row for row in rows) for name, rows in runs.items()}
    print(f"{len(alike)} of {count} answered by all; refused or stopped: {refused}")
    for name in ("this", "other, nudged"):
        for key in FIGURES:
            pairs = [(runs["other"][n], runs[name][n], SEED + n) for n in alike]
            told = [(apart(a, b, key), seed) for a, b, seed in pairs if a[key] is not None]
            off = np.array([apart for apart, _ in told])
            worst, seed = max(told)
            rms, near = float(np.sqrt(np.mean(off**2))), float(np.quantile(off, 0.9))
            print(
                f"{name:14} {key:20} rms {rms:.5f}, nine of ten {near:.5f}, worst {worst:.5f} (seed {seed})"
            )
    return 0


def _answers(tree: Path, here: Path, count: int, nudge: float) -> list[dict[str, float]]:
    """Figures of all setups by one source tree, in a process of its own."""
    words = [sys.executable, "-c", MARCH, str(here), str(SEED), str(count), str(nudge), *FIGURES]
    done = subprocess.run(
        words,
        env={**os.environ, "PYTHONPATH": str(tree), "OMP_NUM_THREADS": "1"},
        cwd=tree,
        capture_output=True,
        text=True,
        check=True,
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def apart(a: dict[str, float], b: dict[str, float], key: str) -> float:
    """Difference as a share: of a rise for temperatures, of at least `LEAST_M` for diameters."""
    base = a["ambient_K"] if key.endswith("_K") else 0.0
    least = LEAST_M if key.endswith("_m") else 1e-9
    return abs(a[key] - b[key]) / max(abs(a[key] - base), least)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
