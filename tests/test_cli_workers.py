"""Marches on several cores, with one core as the way out."""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

import pytest

from nugget.cli import workers
from nugget.cli.workers import LongStudy, progress, with_workers
from nugget.errors import InputError


def test_one_core_needs_no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 1)
    assert with_workers(lambda executor: executor, 5) is None
    monkeypatch.setattr(workers, "cores", lambda: 8)
    assert with_workers(lambda executor: executor, 1) is None


def test_workers_are_other_processes_with_one_thread_each(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)

    def job(executor: Executor | None) -> tuple[int, list[int]]:
        assert executor is not None
        return executor.submit(os.getpid).result(), executor.submit(blas_threads).result()

    pid, threads = with_workers(job, 2)
    assert pid != os.getpid()
    assert set(threads) == {1}


READY = """
import os, sys
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from nugget.cli.workers import LOADED, make_ready
before = dict(os.environ)
make_ready(int(sys.argv[1]))
assert dict(os.environ) == before
assert LOADED not in sys.modules
with ProcessPoolExecutor(1, get_context("forkserver")) as pool:
    print(pool.submit(eval, f"{LOADED!r} in __import__('sys').modules").result())
"""


@pytest.mark.skipif("forkserver" not in multiprocessing.get_all_start_methods(), reason="no forkserver here")
@pytest.mark.parametrize(("workers", "loaded"), [("2", "True"), ("1", "False")])
def test_workers_have_the_solver_loaded_as_they_start(workers: str, loaded: str) -> None:
    done = subprocess.run(
        [sys.executable, "-c", READY, workers], capture_output=True, text=True, check=True, timeout=60
    )
    assert (done.stdout.strip(), done.stderr) == (loaded, "")


def blas_threads() -> list[int]:
    from threadpoolctl import threadpool_info

    return [library["num_threads"] for library in threadpool_info()]


def warn() -> None:
    logging.getLogger("nugget.weld").warning("this simulation will take about 2 min")


def test_workers_leave_the_terminal_to_their_parent(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)
    with_workers(lambda executor: executor and executor.submit(warn).result(), 2)
    assert capfd.readouterr() == ("", "")


def test_where_a_worker_dies_new_ones_go_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Killed as the system does when memory runs out; at first every time, then not any more."""
    monkeypatch.setattr(workers, "cores", lambda: 2)
    seen: list[bool] = []

    def job(executor: Executor | None) -> int:
        assert executor is not None
        seen.append(True)
        if len(seen) == 1:
            # Itself: while one worker ends another, a third task may be through before that is seen.
            executor.submit(signal.raise_signal, signal.SIGKILL).result()
        return executor.submit(os.getpid).result()

    assert with_workers(job, 2) != os.getpid()
    assert len(seen) == 2
    said = capsys.readouterr().err
    assert "a worker process ended" in said
    assert said.count("\n") == 1


def test_where_workers_die_again_and_again_the_job_runs_without(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)
    seen: list[bool] = []

    def job(executor: Executor | None) -> str:
        seen.append(executor is not None)
        if executor is not None:
            raise BrokenProcessPool("a worker died")
        return "done"

    assert with_workers(job, 2) == "done"
    assert seen == [True] * workers.ATTEMPTS + [False]
    assert "going on with one core" in capsys.readouterr().err


@pytest.mark.parametrize("error", [OSError("no more processes"), ImportError("no semaphores")])
def test_where_none_can_start_the_job_runs_without(
    error: Exception, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def none(*_: object) -> Executor:
        raise error

    monkeypatch.setattr(workers, "cores", lambda: 2)
    monkeypatch.setattr(workers, "ProcessPoolExecutor", none)
    assert with_workers(lambda executor: executor, 2) is None
    assert str(error) in capsys.readouterr().err


def test_what_cannot_travel_is_done_here(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)
    here = lambda: 42  # noqa: E731  a function without a name cannot be sent
    assert with_workers(lambda executor: executor.submit(here).result() if executor else here(), 2) == 42
    assert "cannot travel" in capsys.readouterr().err


@pytest.mark.parametrize(
    "error",
    [
        InputError("mine.toml: strip.width", "8", "a length"),
        OSError("disk full"),
        TypeError("no"),
        KeyError("k"),
    ],
)
def test_an_error_of_the_job_is_not_hidden_and_not_run_again(
    error: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)
    seen: list[bool] = []

    def job(executor: Executor | None) -> None:
        seen.append(executor is not None)
        raise error

    with pytest.raises(type(error)):
        with_workers(job, 2)
    assert seen == [True]


def test_progress_is_silent_away_from_a_terminal(capfd: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with progress("Marching", 2) as done:
        done("nominal")
        done("nominal")
    assert capfd.readouterr() == ("", "")


@dataclass
class Clock:
    now: float = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.mark.parametrize(("pace_s", "said"), [(0.25, ""), (2.0, "about 4.5 min in all for the 120")])
def test_a_long_study_says_so_once_and_early(
    pace_s: float, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four a second are no reason to speak, whatever the first takes; one in two seconds is."""
    clock = Clock()
    study = LongStudy(clock)
    clock.now = 20.0
    for finished in range(1, 121):
        study.add(finished, 120)
        clock.now += pace_s
        if finished == 4:
            early = capsys.readouterr().err
    assert capsys.readouterr().err == ""
    assert early.startswith(f"nugget: {said}") if said else early == ""


def test_what_was_finished_before_tells_nothing_of_the_pace(capsys: pytest.CaptureFixture[str]) -> None:
    clock = Clock()
    study = LongStudy(clock)
    for finished in range(1, 101):
        study.add(finished, 120)
    for finished in range(101, 104):
        clock.now += 3.5
        study.add(finished, 120)
    assert "about 1 min in all for the 120 simulations" in capsys.readouterr().err


SCRIPT = """
import sys, time
from nugget.cli.workers import with_workers
from nugget.study.tasks import Finished, run_all

def slow(text):
    time.sleep(0.3)
    return len(text)

def full(key, result):
    raise OSError("no space left")

if __name__ == "__main__":
    text = "x" * 1_000_000
    tasks = {str(k): text for k in range(1000)}  # more than a pipe holds, and minutes more than is waited for
    finished = Finished(int, int)
    if sys.argv[1] == "full":
        finished.put = full
    says = lambda key: print("one is in", flush=True)
    job = lambda executor: run_all(slow, tasks if executor else {}, executor, finished, says)
    try:
        print("begun", flush=True)
        with_workers(job, 9, 2)
    except KeyboardInterrupt:
        sys.exit(130)
    except OSError:
        sys.exit(1)
"""


@pytest.mark.parametrize(
    ("how", "after", "code"), [("full", "", 1), ("soon", "begun", 130), ("later", "one", 130)]
)
def test_what_ends_a_job_ends_its_workers(how: str, after: str, code: int, tmp_path: Path) -> None:
    script = tmp_path / "job.py"
    script.write_text(SCRIPT)
    job = subprocess.Popen(
        [sys.executable, str(script), how],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert job.stdout is not None
    if after:
        assert any(line.startswith(after) for line in iter(job.stdout.readline, ""))
        os.killpg(job.pid, signal.SIGINT)  # as a terminal does: to all of them
    try:
        _, said = job.communicate(timeout=60.0)
    except subprocess.TimeoutExpired:
        os.killpg(job.pid, signal.SIGKILL)
        raise
    assert (job.returncode, said) == (code, "")


ORPHANS = """
import os, time
from nugget.cli.workers import with_workers

if __name__ == "__main__":
    def job(executor):
        executor.submit(time.sleep, 60.0)
        print(executor.submit(os.getpid).result(), flush=True)
        time.sleep(60.0)
    with_workers(job, 2, 2)
"""


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="asks the system of Linux for its processes")
def test_workers_end_with_a_parent_that_is_killed(tmp_path: Path) -> None:
    script = tmp_path / "job.py"
    script.write_text(ORPHANS)
    job = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True)
    assert job.stdout is not None
    worker = int(job.stdout.readline())
    assert alive(worker)
    job.kill()
    job.communicate()
    patience = time.monotonic() + 20.0
    while alive(worker) and time.monotonic() < patience:
        time.sleep(0.05)
    assert not alive(worker)


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False
