"""What ends a study: its workers end within two seconds, what is kept is said, and the next call goes on."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

PROC = Path("/proc")
RECORD = "scatter.finished.jsonl"
STUDY = [
    *("scatter", "--preset", "coupon", "--out", "out", "--samples", "24", "--workers", "2", "--no-plots"),
    *("--set", "numerics.refinement=0.25", "--set", "pulse.0.duration=0.1 ms"),
]
ENDS_WITHIN_S = 2.0
"""Where every process gets a core when it asks for one; where more of them ask, so much later."""

pytestmark = pytest.mark.skipif(not (PROC / "self" / "stat").exists(), reason="asks Linux for its processes")


def _hear_all() -> None:
    """A process that nohup started hands on that it does not hear a closed terminal."""
    signal.signal(signal.SIGHUP, signal.SIG_DFL)


def begun(folder: Path, *more: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "nugget.cli.main", *STUDY, *more],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=folder,
        start_new_session=True,
        preexec_fn=_hear_all,
    )


def members(session: int) -> list[int]:
    """Processes of a session that are alive."""
    found = []
    for place in PROC.glob("[0-9]*/stat"):
        try:
            state, _, _, of, *_ = place.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(of) == session and state not in "ZX":
            found.append(int(place.parent.name))
    return found


def finished(folder: Path) -> int:
    """Marches that are kept."""
    try:
        return sum(1 for line in (folder / "out" / RECORD).read_text().split("\n") if line)
    except OSError:
        return 0


def wait_for(what: object, patience_s: float = 120.0) -> bool:
    assert callable(what)
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if what():
            return True
        time.sleep(0.02)
    return False


def ends_within_s() -> float:
    return ENDS_WITHIN_S * max(1.0, os.getloadavg()[0] / len(os.sched_getaffinity(0)))


@pytest.mark.parametrize("how", ["SIGTERM", "SIGHUP", "SIGINT", "SIGKILL"])
def test_what_ends_a_study_ends_all_its_processes(how: str, tmp_path: Path) -> None:
    study = begun(tmp_path)
    try:
        assert wait_for(lambda: finished(tmp_path) >= 3)
        assert len(members(study.pid)) > 2
        study.send_signal(getattr(signal, how))
        assert wait_for(lambda: study.poll() is not None, 20.0)
        assert wait_for(lambda: not members(study.pid), ends_within_s())
    finally:
        for process in members(study.pid):
            os.kill(process, signal.SIGKILL)
    _, said = study.communicate()
    kept = finished(tmp_path)
    assert kept >= 3
    if how == "SIGKILL":
        assert study.returncode == -signal.SIGKILL
        assert "Traceback" not in said
    else:
        first, last = said.splitlines()
        assert (study.returncode, last) == (130, "nugget: interrupted")
        assert first.startswith(
            f"nugget: {kept} finished simulations are kept in out/{RECORD}; the same command"
        )


def test_going_on_gives_what_an_undisturbed_study_gives(tmp_path: Path) -> None:
    """After an end by force, a changed number and a torn line in the record."""
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    study = begun(tmp_path / "one")
    assert wait_for(lambda: finished(tmp_path / "one") >= 4)
    study.kill()
    study.communicate()
    record = tmp_path / "one" / "out" / RECORD
    lines = [line for line in record.read_text().split("\n") if line]
    first = json.loads(lines[0])
    first["sum"] = "0" * 16
    record.write_text("\n".join([json.dumps(first), *lines[1:-1], lines[-1][: len(lines[-1]) // 2]]))
    again = begun(tmp_path / "one", "--resume")
    _, said = again.communicate(timeout=120)
    assert again.returncode == 0
    assert "2 lines that are torn or changed" in said
    whole = begun(tmp_path / "two")
    _, said = whole.communicate(timeout=120)
    assert (whole.returncode, said) == (0, "")
    tables = [(tmp_path / name / "out" / "scatter.csv").read_text() for name in ("one", "two")]
    without_times = [[line.split(",")[:2] + line.split(",")[3:] for line in t.splitlines()] for t in tables]
    columns = tables[0].splitlines()[0].split(",")
    if "solver_seconds" in columns:
        place = columns.index("solver_seconds")
        without_times = [
            [line.split(",")[:place] + line.split(",")[place + 1 :] for line in t.splitlines()]
            for t in tables
        ]
    assert without_times[0] == without_times[1]
    assert not record.exists()


def test_a_killed_worker_is_replaced_and_said(tmp_path: Path) -> None:
    study = begun(tmp_path)
    assert wait_for(lambda: finished(tmp_path) >= 2)
    worker = max(members(study.pid))
    os.kill(worker, signal.SIGKILL)
    assert wait_for(lambda: finished(tmp_path) >= 5)
    assert wait_for(lambda: len(set(members(study.pid)) - {study.pid, worker}) >= 3 or study.poll() == 0)
    _, said = study.communicate(timeout=120)
    assert study.returncode == 0
    assert (
        said == "nugget: a worker process ended, perhaps for want of memory: starting again with new ones\n"
    )


def test_a_study_of_another_setup_says_what_it_leaves_over(tmp_path: Path) -> None:
    study = begun(tmp_path)
    assert wait_for(lambda: finished(tmp_path) >= 3)
    study.send_signal(signal.SIGTERM)
    study.communicate(timeout=20)
    kept = finished(tmp_path)
    other = begun(tmp_path, "--resume", "--seed", "7", "--samples", "8")
    _, said = other.communicate(timeout=120)
    assert other.returncode == 0
    assert "of another setup or version: not used" in said
    assert str(kept - 1) in said or str(kept) in said
