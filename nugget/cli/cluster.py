"""Run tasks on the workers of a dask.distributed scheduler, which may be other machines."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from typing import Any, TypeVar

from nugget.errors import InputError

Result = TypeVar("Result")

PATIENCE_S = 15.0


def with_cluster(address: str, job: Callable[[Executor | None], Result]) -> Result:
    """Return ``job(executor)`` with an executor of the scheduler at `address`.

    Workers need the same versions of Python and nugget. A task whose worker dies is run again
    on another one.

    Raises
    ------
    InputError
        Without dask.distributed, without an answer from `address`, or without a worker there.
    """
    where = "--cluster"
    try:
        from distributed import Client
    except ImportError as failure:
        raise InputError(where, address, "dask.distributed: pip install 'nugget[cluster]'") from failure
    try:
        client: Any = Client(address, timeout=PATIENCE_S)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TypeError) as failure:
        expected = "the address of a running dask scheduler, such as tcp://127.0.0.1:8786"
        raise InputError(where, address, expected) from failure
    with client:
        try:
            client.wait_for_workers(1, timeout=PATIENCE_S)
        except TimeoutError as failure:
            raise InputError(where, f"{address}, without workers", "a scheduler with a worker") from failure
        return job(client.get_executor(pure=False))
