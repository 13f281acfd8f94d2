"""What a user waits for, as whole processes: each with the time that is aimed at."""

from __future__ import annotations

import json
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from importlib.resources import files
from pathlib import Path

from validation.case import Check, Outcome, reported
from validation.evidence.cost import command, environment
from validation.evidence.piece import Piece

AT_ONCE = "As set up"
"""How the line begins that says what the weld as set up comes to, before its verdict."""
PULSES: dict[str, tuple[list[str], float]] = {
    "`nugget pulse --no-plots`": (["pulse", "--no-plots"], 2.5),
    "`nugget pulse`": (["pulse"], 3.2),
}
LONGER: dict[str, tuple[list[str], float]] = {
    "`nugget chart`, 11 columns": (["chart"], 15.0),
    "`nugget scatter --samples 128`": (["scatter", "--samples", "128"], 40.0),
    "`nugget calibrate` with the invented trials": (["calibrate", "trials_logger.csv"], 45.0),
    "`nugget suggest`": (["suggest"], 60.0),
}
"""Arguments, and the time aimed at [s] on two cores that do nothing else."""
TRIALS = ("trials_logger.csv", "trials_logger_scope.csv")
"""What `nugget calibrate` reads: the table, and the trace that it names."""
NOMINAL_S, PEAK_MB = 1.2, 97.0
AIM = "aim {:g}"

PEAK = """
import json, pathlib, re, sys
from nugget.cli.main import main
main(json.loads(sys.argv[1]))
peak = re.search(r"VmHWM:\\s+(\\d+)", pathlib.Path("/proc/self/status").read_text())
print(int(peak[1]) * 1024, file=sys.stderr)
"""


def run(repeats: int) -> Outcome:
    """The longer ones once for every second repeat: they are means of many welds already."""
    checks: list[Check] = []
    with tempfile.TemporaryDirectory() as folder:
        for name in TRIALS:
            shutil.copy(Path(str(files("nugget.examples"))) / name, folder)
        first = [until_said([*command(), "pulse", "--no-plots"], folder) for _ in range(repeats)]
        checks.append(
            reported("weld as set up on screen", statistics.median(first), "s", AIM.format(NOMINAL_S))
        )
        for named, many in ((PULSES, repeats), (LONGER, 1 + repeats // 2)):
            for name, (arguments, aim) in named.items():
                taken = [_seconds([*command(), *arguments], folder) for _ in range(many)]
                note = f"{AIM.format(aim)}; {min(taken):.1f} to {max(taken):.1f} s"
                checks.append(reported(name, statistics.median(taken), "s", note))
        for name, (arguments, _) in PULSES.items():
            code = [sys.executable, "-c", PEAK, json.dumps([*arguments, "--workers", "2"])]
            done = _process(code, folder)
            peak_MB = int(done.stderr.split()[-1]) / 1e6
            checks.append(reported(f"peak memory of {name}", peak_MB, "MB", AIM.format(PEAK_MB)))
    return Outcome(tuple(checks))


def until_said(words: list[str], folder: str) -> float:
    """Seconds from the start of a process until it says what the weld as set up comes to."""
    start, said = time.perf_counter(), float("nan")
    with subprocess.Popen(
        words, env=environment(), cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
    ) as running:
        assert running.stderr is not None
        for line in running.stderr:
            if line.startswith(AT_ONCE):
                said = time.perf_counter() - start
    return said


def _seconds(words: list[str], folder: str) -> float:
    start = time.perf_counter()
    _process(words, folder)
    return time.perf_counter() - start


def _process(words: list[str], folder: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, env=environment(), cwd=folder, capture_output=True, text=True, check=True)


PIECE = Piece(
    name="studies",
    title="What a user waits for",
    what="Whole processes on the default bench from start to end, worker processes included, nothing cached "
    "beyond Python's own byte code; medians. Aims are choices, for two cores that do nothing else.",
    run=run,
)
