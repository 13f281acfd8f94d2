"""What ends a study: its workers end within two seconds, what is kept is said, and the next call goes on."""

from __future__ import annotations

import contextlib
import csv
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

PROC = Path("/proc")
RECORD = "scatter.finished.jsonl"
STUDY = [
    *("scatter", "--preset", "coupon", "--out", "out", "--samples", "24", "--workers", "2", "--no-plots"),
    *("--set", "numerics.refinement=0.25", "--set", "pulse.0.duration=0.1 ms"),
]
ENDLESS = ["--samples", "500"]
"""So many that no study is through before it is ended, however late this process comes to that."""
HOLDING = """
import sys
from nugget.cli.main import main
from nugget.study.tasks import Finished

put, kept = Finished.put, []
stops = [int(number) for number in sys.argv.pop(1).split(",")]

def put_and_hold(finished, key, result):
    put(finished, key, result)
    kept.append(key)
    if len(kept) in stops:
        print("holds", flush=True)
        sys.stdin.readline()

Finished.put = put_and_hold
sys.exit(main())
"""
"""The program, which waits for a line after so many simulations are kept."""
ENDS_WITHIN_S = 2.0
"""While every process gets a core when it asks for one; what it waits for a core does not count."""

pytestmark = pytest.mark.skipif(not (PROC / "self" / "stat").exists(), reason="asks Linux for its processes")


def _hear_all() -> None:
    """A process that nohup started hands on that it does not hear a closed terminal."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


@dataclass
class Studies:
    """Starts studies, each in a session of its own, and leaves no process of theirs."""

    begun: list[subprocess.Popen[str]] = field(default_factory=list)

    def start(self, folder: Path, *more: str, hold: str | None = None) -> subprocess.Popen[str]:
        """With `hold`, numbers between commas, it waits for a line whenever so many are kept."""
        program = ["-m", "nugget.cli.main"] if hold is None else ["-c", HOLDING, hold]
        study = subprocess.Popen(
            [sys.executable, *program, *STUDY, *more],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=folder,
            start_new_session=True,
            preexec_fn=_hear_all,
        )
        self.begun.append(study)
        return study

    def stop(self) -> None:
        for study in self.begun:
            for process in members(study.pid):
                with contextlib.suppress(ProcessLookupError):
                    os.kill(process, signal.SIGKILL)
            study.communicate()


@pytest.fixture
def studies() -> Iterator[Studies]:
    made = Studies()
    try:
        yield made
    finally:
        made.stop()


def members(session: int) -> dict[int, int]:
    """Processes of a session that are alive, and the parent of each."""
    found = {}
    for place in PROC.glob("[0-9]*/stat"):
        try:
            state, parent, _, of, *_ = place.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(of) == session and state not in "ZX":
            found[int(place.parent.name)] = int(parent)
    return found


def workers(session: int) -> set[int]:
    """Those that a server of the study's has forked."""
    alive = members(session)
    return {process for process, parent in alive.items() if parent != session and parent in alive}


def finished(folder: Path) -> int:
    """Marches that are kept."""
    try:
        return sum(1 for line in (folder / "out" / RECORD).read_text().split("\n") if line)
    except OSError:
        return 0


def wait_for(what: Callable[[], bool], patience_s: float = 120.0) -> bool:
    """Whether it comes true; a moment counts less while more processes ask for a core than there are."""
    waited_s, before = 0.0, time.monotonic()
    while waited_s < patience_s:
        if what():
            return True
        time.sleep(0.02)
        now = time.monotonic()
        asking = int((PROC / "loadavg").read_text().split()[3].partition("/")[0])
        waited_s += (now - before) * min(1.0, len(os.sched_getaffinity(0)) / asking)
        before = now
    return what()


def said_of(study: subprocess.Popen[str], patience_s: float = 240.0) -> list[str]:
    """What a study says to its end, less how long it will take, which it says on a busy machine."""
    said = study.communicate(timeout=patience_s)[1]
    return [line for line in said.splitlines() if not line.startswith("nugget: about ")]


@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP", "SIGINT", "SIGKILL"])
def test_what_ends_a_study_ends_all_its_processes(how: str, tmp_path: Path, studies: Studies) -> None:
    study = studies.start(tmp_path, *ENDLESS)
    assert wait_for(lambda: finished(tmp_path) >= 3)
    assert workers(study.pid)
    study.send_signal(getattr(signal, how))
    assert wait_for(lambda: study.poll() is not None, 20.0)
    assert wait_for(lambda: not members(study.pid), ENDS_WITHIN_S)
    said = said_of(study)
    kept = finished(tmp_path)
    assert kept >= 3
    if how == "SIGKILL":
        assert study.returncode == -signal.SIGKILL
        assert not any("Traceback" in line or "nugget: " in line for line in said)
    else:
        first, last = said
        assert (study.returncode, last) == (130, "nugget: interrupted")
        assert first.startswith(
            f"nugget: {kept} finished simulations are kept in out/{RECORD}; the same command"
        )


def test_going_on_gives_what_an_undisturbed_study_gives(tmp_path: Path, studies: Studies) -> None:
    """After an end by force, a changed number and a torn line in the record."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    study = studies.start(tmp_path / "one", hold="4")
    assert study.stdout is not None
    assert study.stdout.readline() == "holds\n"
    study.kill()
    study.communicate()
    record = tmp_path / "one" / "out" / RECORD
    lines = [line for line in record.read_text().split("\n") if line]
    assert len(lines) == 4
    first = json.loads(lines[0])
    first["sum"] = "0" * 16
    record.write_text("\n".join([json.dumps(first), *lines[1:-1], lines[-1][: len(lines[-1]) // 2]]))
    again = studies.start(tmp_path / "one", "--resume")
    (said,) = said_of(again)
    assert again.returncode == 0
    assert "2 lines that are torn or changed" in said
    whole = studies.start(tmp_path / "two")
    assert said_of(whole) == []
    assert whole.returncode == 0
    assert table(tmp_path / "one") == table(tmp_path / "two")
    assert not record.exists()


def table(folder: Path) -> list[dict[str, str]]:
    """The table that a study wrote, without what the clock says."""
    with (folder / "out" / "scatter.csv").open(newline="") as stream:
        rows = list(csv.DictReader(stream))
    return [{name: value for name, value in row.items() if name != "solver_seconds"} for row in rows]


def test_a_killed_worker_is_replaced_and_said(tmp_path: Path, studies: Studies) -> None:
    study = studies.start(tmp_path, hold="2,5")
    assert study.stdin is not None
    assert study.stdout is not None
    assert study.stdout.readline() == "holds\n"
    before = workers(study.pid)
    os.kill(max(before), signal.SIGKILL)
    study.stdin.write("\n")
    study.stdin.flush()
    assert study.stdout.readline() == "holds\n"
    assert wait_for(lambda: not workers(study.pid) & before)
    assert len(workers(study.pid)) == len(before) == 2
    (said,) = said_of(study)
    assert study.returncode == 0
    assert said == "nugget: a worker process ended, perhaps for want of memory: starting again with new ones"
    assert len(table(tmp_path)) == 24


def test_a_study_of_another_setup_says_what_it_leaves_over(tmp_path: Path, studies: Studies) -> None:
    study = studies.start(tmp_path, hold="3")
    assert study.stdout is not None
    assert study.stdout.readline() == "holds\n"
    study.send_signal(signal.SIGTERM)
    said_of(study)
    assert finished(tmp_path) == 3
    other = studies.start(tmp_path, "--resume", "--seed", "7", "--samples", "8")
    (said,) = said_of(other)
    assert other.returncode == 0
    assert re.search(r" [23] simulations are left over in .*, of another setup or version: not used", said)
