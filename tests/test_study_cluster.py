"""Columns of a chart on a dask.distributed scheduler: a real one, two workers on loopback."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from nugget.cli.cluster import _check_dask, with_cluster
from nugget.errors import InputError
from nugget.setup import default_setup
from nugget.study.charting.duration_chart import Chart, draw_up, kept, plan_chart
from nugget.study.inputs.variation import read_axis

START_S = 120.0

pytestmark = pytest.mark.filterwarnings("ignore")  # those of dask's own sockets and loops at the end


def slow_pid(_: int) -> int:
    time.sleep(0.2)
    return os.getpid()


class Cluster:
    """A scheduler and two workers as processes of their own, without their dashboards."""

    def __init__(self, folder: Path) -> None:
        from distributed import Client

        self.folder = folder
        self.file = folder / "scheduler.json"
        self.environment = os.environ | {
            "PYTHONPATH": os.pathsep.join([str(Path(__file__).parent.parent), str(Path(__file__).parent)]),
            "OMP_NUM_THREADS": "1",
        }
        listen = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--no-show"]
        self.processes = [self._start("scheduler", *listen, "--scheduler-file", str(self.file))]
        self._wait(self._says_where)
        self.workers = [self.add_worker() for _ in range(2)]
        with Client(self.address, timeout=START_S) as client:
            client.wait_for_workers(2, timeout=START_S)

    def add_worker(self) -> subprocess.Popen[bytes]:
        limits = ["--nthreads", "1", "--no-nanny", "--no-dashboard", "--memory-limit", "0"]
        process = self._start("worker", "--scheduler-file", str(self.file), "--host", "127.0.0.1", *limits)
        self.processes.append(process)
        return process

    def _start(self, role: str, *arguments: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "distributed.cli.dask_" + role, *arguments]
        log = (self.folder / f"{role}-{len(os.listdir(self.folder))}.log").open("wb")
        with log:
            return subprocess.Popen(
                command, cwd=self.folder, env=self.environment, stdout=log, stderr=subprocess.STDOUT
            )

    @staticmethod
    def _wait(ready: object) -> None:
        end = time.monotonic() + START_S
        while not ready():  # type: ignore[operator]
            assert time.monotonic() < end, "the cluster did not start"
            time.sleep(0.05)

    def _says_where(self) -> bool:
        """Whether the scheduler has written its file: it stands there empty for an instant before."""
        try:
            return bool(self.address)
        except (FileNotFoundError, ValueError):
            return False

    @property
    def address(self) -> str:
        return str(json.loads(self.file.read_text())["address"])

    def stop(self) -> None:
        for process in reversed(self.processes):
            process.terminate()
        for process in self.processes:
            try:
                process.wait(10.0)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    pytest.importorskip("distributed")
    made = Cluster(tmp_path)
    try:
        yield made
    finally:
        made.stop()


def test_a_chart_whose_worker_is_killed_midway_is_the_same_chart(cluster: Cluster) -> None:
    setup = default_setup(["numerics.refinement=0.25"])
    plan = plan_chart(setup, read_axis(setup, "strip.thickness=0.2:0.3 mm:6"), longest_s=1e-3, spread=False)
    done: list[str] = []

    def killing(key: str, total: int) -> None:
        done.append(key)
        if len(done) == 1:
            cluster.workers[0].send_signal(signal.SIGKILL)

    def job(executor: Executor | None) -> Chart:
        assert executor is not None
        assert set(executor.map(slow_pid, range(8))) == {worker.pid for worker in cluster.workers}
        return draw_up(plan, executor, kept(), killing, advice=False)

    spread = with_cluster(cluster.address, job)
    assert cluster.workers[0].wait(60.0) == -signal.SIGKILL
    assert sorted(done) == sorted(plan.tasks), "each is reported once"
    alone = draw_up(plan, advice=False)
    for one, other in zip(spread.panels[0].columns, alone.panels[0].columns, strict=True):
        assert replace(one.nominal, seconds=0.0) == replace(other.nominal, seconds=0.0), "bit for bit"
        assert one.known == other.known


def test_a_scheduler_that_goes_away_is_one_line(cluster: Cluster, tmp_path: Path) -> None:
    """And what is finished is kept, of a study that is not through when the scheduler ends."""
    folder = tmp_path / "run"
    folder.mkdir()
    command = [sys.executable, "-m", "nugget.cli.main", "scatter", "--preset", "coupon", "--out", "out"]
    command += ["--samples", "500", "--no-plots", "--cluster", cluster.address]
    command += ["--set", "numerics.refinement=0.25", "--set", "pulse.0.duration=0.1 ms"]
    study = subprocess.Popen(
        command,
        cwd=folder,
        env=cluster.environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    record = folder / "out" / "scatter.finished.jsonl"
    cluster._wait(lambda: record.exists() or study.poll() is not None)
    cluster.processes[0].kill()
    out, said = study.communicate(timeout=240)
    # A busy machine says how long the study will take.
    lines = [line for line in said.splitlines() if not line.startswith("nugget: about ")]
    assert len(lines) == 2, said
    kept_line, gone = lines
    assert (study.returncode, out) == (1, "")
    assert "kept in out/scatter.finished.jsonl; the same command with --resume goes on" in kept_line
    assert gone == f"nugget: the scheduler at {cluster.address} has gone"


def test_workers_of_another_version_are_refused(cluster: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nugget.cli.cluster.VERSION", "0.0.1")
    with pytest.raises(
        InputError, match=r"nugget 0\.1\.0 at the worker .*expected .* and nugget 0\.0\.1 as here"
    ):
        with_cluster(cluster.address, lambda executor: None)


@pytest.mark.parametrize("old", ["the scheduler", "the worker tcp://b"])
def test_another_version_of_dask_is_refused_before_anything_is_asked_of_it(old: str) -> None:
    """A worker of a version two years older never answers."""

    def of(version: str) -> dict[str, Any]:
        return {"packages": {"distributed": version, "numpy": "2.1"}}

    found = {"client": of("2026.8.0"), "scheduler": of("2026.8.0")}
    found |= {"workers": {"tcp://a": of("2026.8.0"), "tcp://b": of("2026.8.0")}}
    _check_dask(found, "--cluster here")
    place = found if old == "the scheduler" else found["workers"]
    place[old.split()[-1]] = of("2024.8.0")
    with pytest.raises(InputError, match=rf"'dask 2024\.8\.0 at {old}', expected dask 2026\.8\.0 as here"):
        _check_dask(found, "--cluster here")
