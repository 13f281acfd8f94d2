"""Run many marches on the cores of this machine, and show how far they are."""

from __future__ import annotations

import contextlib
import importlib
import logging
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable, Collection, Iterator
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor
from multiprocessing.process import BaseProcess
from pickle import PicklingError
from typing import TypeVar

from nugget.cli.terminal import tell

Result = TypeVar("Result")

_ENDED: list[Executor] = []
"""Executors of jobs that failed."""

ATTEMPTS = 3
"""So often worker processes are started for one job."""

PATIENCE_S = 2.0
"""So long an end waits for the pool's own thread."""

LONG_STUDY_S, LEFT_S = 60.0, 20.0
"""A study is announced when it takes longer, unless less than the second is left of it."""
FIRST_IN, SETTLED_S, INSTANT_S = 3, 3.0, 1.0
"""Its pace is read off its first few simulations, after some seconds; what is in at once was there before."""

LOADED = "nugget.cli.loaded_by_workers"
"""What workers run, with all that it imports."""
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS")

MEMORY_S = 600.0
"""The time left is judged by the tasks of so many seconds: a march may take ten."""


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def make_ready(workers: int | None) -> None:
    """Start loading the solver for workers, if more than one, while this process loads its own.

    The server that forks them loads it once: a worker that loads it itself costs a second of a core, and
    there are as many of those as cores while the first weld is computed.
    """
    if (cores() if workers is None else workers) > 1 and _way() == "forkserver":
        from multiprocessing import forkserver

        # Without a word: where no process can start, `with_workers` will say so.
        with contextlib.suppress(OSError), _interrupts_held(), _one_thread():
            forkserver.set_forkserver_preload([LOADED])
            forkserver.ensure_running()


def _way() -> str:
    """How workers start: as fits on any platform; a plain fork is not safe beside a progress bar's thread."""
    return "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"


@contextlib.contextmanager
def _one_thread() -> Iterator[None]:
    """Let processes that start meanwhile load numerical libraries without threads, which no fork survives."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


def with_workers(job: Callable[[Executor | None], Result], tasks: int, most: int | None = None) -> Result:
    """Return ``job(executor)``; the executor is None on a single core or where no worker can start.

    Where workers die, as when memory runs out, the job starts again with new ones, and at last
    without: every change of the way is said on stderr. What the job itself raises is raised.

    Parameters
    ----------
    job : callable
        Repeatable: started again when the workers fail.
    tasks : int
        No more workers than this.
    most : int, optional
        Nor than this; all cores by default.
    """
    from threadpoolctl import threadpool_limits

    workers = min(cores() if most is None else most, tasks)
    for again in range(ATTEMPTS) if workers > 1 else ():
        try:
            return _in_pool(job, workers)
        except _NoWorkers as failure:
            tell(f"no worker processes can be started ({failure}): going on with one core")
            break
        except BrokenExecutor:
            way = "starting again with new ones" if again + 1 < ATTEMPTS else "going on with one core"
            tell(f"a worker process ended, perhaps for want of memory: {way}")
        except (PicklingError, AttributeError, TypeError) as failure:
            if not any(word in str(failure).lower() for word in ("pickle", "local object")):
                raise
            tell(f"{failure}: it cannot travel to worker processes, going on with one core")
            break
    with threadpool_limits(limits=1):
        return job(None)


class _NoWorkers(Exception):
    """The system lets no process start."""


def _in_pool(job: Callable[[Executor | None], Result], workers: int) -> Result:
    from threadpoolctl import threadpool_limits

    make_ready(workers)
    before = multiprocessing.active_children()
    try:
        executor = ProcessPoolExecutor(workers, multiprocessing.get_context(_way()), _start_worker)
    except (OSError, ImportError, NotImplementedError) as failure:
        raise _NoWorkers(failure) from failure
    try:
        try:
            # The server that forks the workers, and they, never see one. All are started here: one that is
            # interrupted half way through its start is known to nobody who could end it.
            with _interrupts_held():
                for _ in range(workers):
                    executor.submit(os.getpid)
        except OSError as failure:
            raise _NoWorkers(failure) from failure
        with threadpool_limits(limits=1):
            result = job(executor)
    except BaseException:
        with _interrupts_held(for_good=True):
            _end(executor, before)
        raise
    executor.shutdown()
    return result


def _end(executor: Executor, before: Collection[BaseProcess]) -> None:
    """End a pool at once, with its workers, and let nothing of it be about when this process ends."""
    # Once: a second call, as at the end of a `with`, takes the cancelling back. And the pool's own
    # thread cancels only while the executor lives.
    _ENDED.append(executor)
    managers = [
        one for one in threading.enumerate() if type(one).__module__ == ProcessPoolExecutor.__module__
    ]
    executor.shutdown(wait=False, cancel_futures=True)
    for child in multiprocessing.active_children():
        if child not in before:
            child.terminate()
    # Until that thread is through: at its end it closes the pipe by which an exit would wake it.
    for manager in managers:
        manager.join(PATIENCE_S)


def _start_worker() -> None:
    """Load the solver, keep to one thread and leave interrupts and the terminal to the parent."""
    from threadpoolctl import threadpool_limits

    importlib.import_module(LOADED)  # and with it the libraries whose threads are limited

    # Not fatal: a worker that dies while its parent cancels tasks leaves the pool hanging.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    # Each of many simulations would say how long it takes; the parent says it of them all.
    logging.getLogger("nugget").addHandler(logging.NullHandler())
    threadpool_limits(limits=1)


def _end_with_parent() -> None:
    """End this worker when the process that started it is gone, killed or not."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextlib.contextmanager
def _interrupts_held(for_good: bool = False) -> Iterator[None]:
    """Hold Ctrl-C back until the body is through and, for good, from processes that start meanwhile.

    With `for_good` what was held back is dropped: the end is on its way already.

    Blocking it in this thread keeps it from those processes, which inherit that; as a library's thread
    may still receive it here, what it would do is put off too.
    """
    if not hasattr(signal, "pthread_sigmask") or threading.current_thread() is not threading.main_thread():
        yield
        return
    held: list[int] = []
    handler = signal.signal(signal.SIGINT, lambda number, _: held.append(number))
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
        signal.signal(signal.SIGINT, handler)
        if held and not for_good:
            signal.raise_signal(signal.SIGINT)


@contextlib.contextmanager
def progress(title: str, total: int) -> Iterator[Callable[..., None]]:
    """Show count and time left on stderr while the body runs, on a terminal; a long study says so anywhere.

    Yields what to call per task, with its name and, where it has changed, the number of tasks.
    A task that is reported twice, because it had to be run again, counts once.
    """
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    console, seen, announced = Console(stderr=True), set[str](), LongStudy()
    shown = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())

    def count(name: str, total: int) -> None:
        seen.add(name)
        announced.add(len(seen), total)

    if not console.is_terminal:  # no bar at all: some versions of rich end even a hidden one with a line
        yield lambda name, total=total: count(name, total)
        return
    with Progress(*shown, console=console, transient=True, speed_estimate_period=MEMORY_S) as bar:
        task = bar.add_task(title, total=total)

        def done(name: str, total: int = total) -> None:
            count(name, total)
            bar.update(task, completed=len(seen), total=total)

        yield done


class LongStudy:
    """Says once how long a study will take, when that is over a minute.

    Parameters
    ----------
    clock : callable
        Seconds.
    """

    def __init__(self, clock: Callable[[], float] = time.perf_counter) -> None:
        self._clock, self._begun, self._said = clock, clock(), False
        self._first: tuple[float, int] | None = None

    def add(self, finished: int, asked: int) -> None:
        """Take how many simulations are in, and how many are asked for so far."""
        from nugget.weld.effort import minutes

        now = self._clock()
        # The pace counts from the first simulation on that is really run: an earlier run may have finished
        # many, which are in at once, and workers take their time to start.
        if self._first is None or now - self._begun < INSTANT_S:
            self._first = now, finished
        since, before = now - self._first[0], self._first[1]
        if self._said or finished < before + FIRST_IN or since < SETTLED_S:
            return
        remaining = since / (finished - before) * (asked - finished)
        whole = now - self._begun + remaining
        if remaining > LEFT_S and whole > LONG_STUDY_S:
            self._said = True
            tell(
                f"about {minutes(whole)} in all for the {asked} simulations asked for so far, by the first"
                f" {finished}"
            )
