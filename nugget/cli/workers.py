"""Run many marches on the cores of this machine, and show how far they are."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, ProcessPoolExecutor
from typing import TypeVar

from nugget.errors import NuggetError

Result = TypeVar("Result")

_ENDED: list[Executor] = []
"""Executors of jobs that failed."""

MEMORY_S = 600.0
"""The time left is judged by the tasks of so many seconds: a march may take ten."""


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def with_workers(job: Callable[[Executor | None], Result], tasks: int, most: int | None = None) -> Result:
    """Return ``job(executor)``; the executor is None on a single core or where no worker can start.

    Parameters
    ----------
    job : callable
        Started again with None when the workers fail, so it has to be repeatable.
    tasks : int
        No more workers than this.
    most : int, optional
        Nor than this; all cores by default.
    """
    from threadpoolctl import threadpool_limits

    workers = min(cores() if most is None else most, tasks)
    if workers > 1:
        # The pools that fit on any platform; a plain fork is not safe beside a progress bar's thread.
        way = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
        before = multiprocessing.active_children()
        try:
            executor = ProcessPoolExecutor(workers, multiprocessing.get_context(way), _start_worker)
            try:
                with _interrupts_held():  # the server that forks the workers, and they, never see one
                    executor.submit(os.getpid)
                result = job(executor)
            except BaseException:
                # Once: a second call, as at the end of a `with`, takes the cancelling back. And the
                # pool's own thread cancels only while the executor lives.
                _ENDED.append(executor)
                executor.shutdown(wait=False, cancel_futures=True)
                for child in multiprocessing.active_children():
                    if child not in before:
                        child.terminate()
                raise
            executor.shutdown()
            return result
        except NuggetError:
            raise
        except Exception:
            # No right to start processes, no memory, a plugin's object that cannot travel: what
            # has nothing to do with workers arises again below.
            pass
    with threadpool_limits(limits=1):
        return job(None)


def _start_worker() -> None:
    """Load the solver, keep to one thread and leave interrupts to the parent."""
    from threadpoolctl import threadpool_limits

    import nugget.outcome.verdict  # noqa: F401  loads the libraries whose threads are limited

    # Not fatal: a worker that dies while its parent cancels tasks leaves the pool hanging.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threadpool_limits(limits=1)


@contextlib.contextmanager
def _interrupts_held() -> Iterator[None]:
    """Hold Ctrl-C back from this thread and, for good, from processes that start meanwhile."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextlib.contextmanager
def progress(title: str, total: int) -> Iterator[Callable[..., None]]:
    """Show count and time left on stderr while the body runs, only on a terminal.

    Yields what to call per task, with its name and, where it has changed, the number of tasks.
    A task that is reported twice, because it had to be run again, counts once.
    """
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    console, seen = Console(stderr=True), set[str]()
    shown = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    if not console.is_terminal:  # nothing at all: some versions of rich end even a hidden bar with a line
        yield lambda *_: None
        return
    with Progress(*shown, console=console, transient=True, speed_estimate_period=MEMORY_S) as bar:
        task = bar.add_task(title, total=total)

        def done(name: str, total: int = total) -> None:
            seen.add(name)
            bar.update(task, completed=len(seen), total=total)

        yield done
