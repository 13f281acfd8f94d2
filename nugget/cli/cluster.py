"""Run tasks on the workers of a dask.distributed scheduler, which may be other machines."""

from __future__ import annotations

import asyncio
import concurrent.futures
import contextlib
import logging
import sys
import warnings
from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from typing import Any, TypeVar

from nugget.constants import VERSION
from nugget.errors import InputError, NuggetError

Result = TypeVar("Result")

PATIENCE_S = 15.0
ANSWER_S = 60.0
"""So long a worker may take to say what it is."""
GONE = (concurrent.futures.CancelledError, asyncio.CancelledError, OSError)
"""What tasks raise whose scheduler has gone."""


def with_cluster(address: str, job: Callable[[Executor | None], Result]) -> Result:
    """Return ``job(executor)`` with an executor of the scheduler at `address`.

    Workers need the same versions of dask, Python and nugget, which they are asked for first. A task
    whose worker dies is run again on another one.

    Raises
    ------
    InputError
        Without dask.distributed, without an answer from `address`, without a worker there, or with
        one of other versions.
    NuggetError
        When the scheduler goes away meanwhile.
    """
    where = "--cluster"
    try:
        from distributed import Client
    except ImportError as failure:
        raise InputError(where, address, "dask.distributed: pip install 'nugget[cluster]'") from failure
    for name in list(logging.root.manager.loggerDict):  # each has a level of its own
        if name.partition(".")[0] in ("distributed", "tornado"):  # what goes wrong is said in one line, by us
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)
    try:
        with warnings.catch_warnings():  # of other versions, at length: they are refused below
            warnings.simplefilter("ignore")
            client: Any = Client(address, timeout=PATIENCE_S)  # type: ignore[no-untyped-call]
    except (OSError, ValueError, TypeError) as failure:
        expected = "the address of a running dask scheduler, such as tcp://127.0.0.1:8786"
        raise InputError(where, address, expected) from failure
    try:
        try:
            client.wait_for_workers(1, timeout=PATIENCE_S)
        except TimeoutError as failure:
            raise InputError(where, f"{address}, without workers", "a scheduler with a worker") from failure
        _check_dask(client.get_versions(), f"{where} {address}")
        _check_versions(client, f"{where} {address}")
        return job(client.get_executor(pure=False))
    except GONE as failure:
        raise NuggetError(f"the scheduler at {address} has gone") from failure
    finally:
        with contextlib.suppress(*GONE, TimeoutError, RuntimeError):
            client.close(timeout=2.0)


def versions() -> tuple[str, str, str]:
    """Versions of Python and nugget, and a checksum of the solver's code: what results depend on."""
    from nugget.study.tasks import solver_code

    return f"Python {sys.version_info[0]}.{sys.version_info[1]}", f"nugget {VERSION}", solver_code()


def _check_dask(found: Mapping[str, Any], where: str) -> None:
    """Raise InputError when scheduler or a worker runs another version of dask, which may never answer.

    Parameters
    ----------
    found : mapping
        What `distributed.Client.get_versions` returns.
    where : str
    """
    own = found["client"]["packages"]["distributed"]
    others = {"the scheduler": found["scheduler"]}
    others |= {f"the worker {worker}": told for worker, told in found["workers"].items()}
    for name, told in others.items():
        if (version := told["packages"]["distributed"]) != own:
            raise InputError(where, f"dask {version} at {name}", f"dask {own} as here")


def _check_versions(client: Any, where: str) -> None:
    """Raise InputError when a worker does not answer, or is of other versions than this process."""
    own = versions()
    asked = {
        worker: client.submit(versions, workers=[worker], allow_other_workers=False, pure=False)
        for worker in client.scheduler_info(n_workers=-1)["workers"]
    }
    for worker, answer in asked.items():
        try:
            told = answer.result(timeout=ANSWER_S)
        except TimeoutError as failure:
            expected = "an answer within a minute"
            raise InputError(where, f"no word from the worker {worker}", expected) from failure
        except GONE:
            raise
        except Exception as failure:  # of whatever the worker lacks
            given = f"{type(failure).__name__} of the worker {worker}"
            raise InputError(where, given, "workers with nugget installed") from failure
        if told != own:
            other = next(one for one, mine in zip(told, own, strict=True) if one != mine)
            given = f"{other if len(other) < 30 else 'another state of nugget'} at the worker {worker}"
            raise InputError(where, given, f"{own[0]} and {own[1]} as here, of the same source")
