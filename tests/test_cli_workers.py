"""Marches on several cores, with one core as the way out."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path

import pytest

from nugget.cli import workers
from nugget.cli.workers import progress, with_workers
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


def blas_threads() -> list[int]:
    from threadpoolctl import threadpool_info

    return [library["num_threads"] for library in threadpool_info()]


@pytest.mark.parametrize("error", [BrokenProcessPool("a worker died"), OSError("no more processes")])
def test_where_workers_fail_the_job_runs_without(error: Exception, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)
    seen: list[bool] = []

    def job(executor: Executor | None) -> str:
        seen.append(executor is not None)
        if executor is not None:
            raise error
        return "done"

    assert with_workers(job, 2) == "done"
    assert seen == [True, False]


def test_an_error_of_the_job_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 2)
    seen: list[bool] = []

    def job(executor: Executor | None) -> None:
        seen.append(executor is not None)
        raise InputError("mine.toml: strip.width", "8", "a length")

    with pytest.raises(InputError):
        with_workers(job, 2)
    assert seen == [True]


def test_progress_is_silent_away_from_a_terminal(capfd: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    with progress("Marching", 2) as done:
        done("nominal")
        done("nominal")
    assert capfd.readouterr() == ("", "")


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
    tasks = {str(k): "x" * 1_000_000 for k in range(40)}  # more than a pipe holds
    finished = Finished(int, int)
    if sys.argv[1] == "full":
        finished.put = full
    print("begun", flush=True)
    try:
        with_workers(lambda executor: run_all(slow, tasks if executor else {}, executor, finished), 40, 2)
    except KeyboardInterrupt:
        sys.exit(130)
"""


@pytest.mark.parametrize(
    ("how", "wait_s", "code"), [("full", 0.0, 0), ("soon", 0.15, 130), ("later", 2.0, 130)]
)
def test_what_ends_a_job_ends_its_workers(how: str, wait_s: float, code: int, tmp_path: Path) -> None:
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
    job.stdout.readline()
    if code:
        time.sleep(wait_s)
        os.killpg(job.pid, signal.SIGINT)  # as a terminal does: to all of them
    try:
        _, said = job.communicate(timeout=20.0)
    except subprocess.TimeoutExpired:
        os.killpg(job.pid, signal.SIGKILL)
        raise
    assert (job.returncode, said) == (code, "")
