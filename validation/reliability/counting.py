"""Count the tests of a file as trials."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from collections import Counter
from pathlib import Path

from validation.case import Check, Outcome, at_most

ROOT = Path(__file__).parents[2]
PATIENCE_S = 900.0
"""So long the trials of one file may take together."""


def trials(files: dict[str, str]) -> Outcome:
    """Run test files and count what held.

    Parameters
    ----------
    files : dict of str to str
        What is tried, and the test file with a ``-k`` expression behind a blank where only some count.
    """
    return Outcome(tuple(_check(what, *file.split(" ", 1)) for what, file in files.items()))


def _check(what: str, file: str, only: str = "") -> Check:
    with tempfile.TemporaryDirectory() as folder:
        report = Path(folder) / "report.xml"
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", f"--junitxml={report}"]
        command += ["-m", "not fuzz", str(ROOT / "tests" / file), *(["-k", only] if only else [])]
        subprocess.run(command, cwd=ROOT, capture_output=True, timeout=PATIENCE_S, check=False)
        count = counted(report)
    tried = sum(count.values()) - count["skipped"]
    note = f"{tried} tried, {count['held']} held, {count['skipped']} not possible here"
    failed = tried - count["held"] if tried else 1
    return at_most(what, failed, 0.0, "failed", note)


def counted(report: Path) -> Counter[str]:
    """Return how many tests of a JUnit report held, failed and were skipped."""
    count: Counter[str] = Counter()
    for case in ElementTree.parse(report).iter("testcase"):
        kinds = {child.tag for child in case}
        count["failed" if kinds & {"failure", "error"} else "skipped" if "skipped" in kinds else "held"] += 1
    return count
