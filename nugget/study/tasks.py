"""Run many independent tasks on any executor, and keep what is finished.

Every study takes a `concurrent.futures.Executor`: processes on this machine, a scheduler of many
machines, or None for one after the other in this process.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import itertools
import json
import os
import pickle
import sys
from collections.abc import Callable, Generator, Iterator, Mapping
from concurrent.futures import Executor, Future, as_completed
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Generic, TypeVar

import numpy as np

from nugget.errors import InputError
from nugget.materials.byvalue import pickled
from nugget.materials.material import Material

Task = TypeVar("Task")
Result = TypeVar("Result")


def key_of(*parts: object) -> str:
    """Return a name for a task that changes with anything in `parts` and with the solver's code.

    Parameters
    ----------
    parts : object
        Dataclasses, containers and arrays count with all that they hold: the data of the
        materials that a `Setup` uses, not just their names. Objects of a plugin count with the
        module that they come from.
    """
    hasher = hashlib.sha256()
    for piece in _pieces((solver_code(), *parts)):
        hasher.update(piece)
    return hasher.hexdigest()


@functools.cache
def solver_code() -> str:
    """Return a checksum of all that decides what a march comes to: source and data of this package.

    What only prints or draws is left out, so that a better picture does not cost a night of marches.
    """
    root = Path(__file__).parents[1]
    hasher = hashlib.sha256()
    for path in sorted(root.rglob("*")):
        place = path.relative_to(root)
        if path.suffix in (".py", ".toml", ".csv") and place.parts[0] not in (
            "cli",
            "pages",
            "plot",
            "examples",
        ):
            hasher.update(f"{place.as_posix()} {path.stat().st_size};".encode())
            hasher.update(path.read_bytes())
    return hasher.hexdigest()


@functools.cache
def _foreign_code(module: str) -> bytes:
    """Checksum of a module that is not ours, such as a plugin's law; nothing for ours."""
    if module.partition(".")[0] == __name__.partition(".")[0]:
        return b""
    file = getattr(sys.modules.get(module), "__file__", None)
    return hashlib.sha256(Path(file).read_bytes()).digest() if file else module.encode()


def _pieces(value: object) -> Iterator[bytes]:
    """Bytes that tell values apart; quicker than ``repr``, which spells every number of an array."""
    if isinstance(value, np.ndarray):
        yield f"{value.dtype}{value.shape}".encode()
        yield value.tobytes()
    elif isinstance(value, Material):
        yield _checksum(value)
    elif is_dataclass(value) and not isinstance(value, type):
        yield from _parts(value)
    elif isinstance(value, Mapping):
        yield from _pieces(tuple(value.items()))
    elif isinstance(value, tuple | list):
        yield f"[{len(value)}".encode()
        for item in value:
            yield from _pieces(item)
    else:
        yield f"{type(value).__name__} {value!r};".encode()


def _parts(value: Any) -> Iterator[bytes]:
    """Pieces of a dataclass."""
    yield type(value).__qualname__.encode() + _foreign_code(type(value).__module__)
    for field in fields(value):
        yield from _pieces(getattr(value, field.name))


def _checksum(material: Material) -> bytes:
    """Checksum of a material; welds whose inputs vary share theirs, most of what there is to read."""
    try:
        return _kept_checksum(pickled(material))
    except TypeError:  # what somebody made of parts of their own
        return hashlib.sha256(b"".join(_parts(material))).digest()


@functools.lru_cache(32)
def _kept_checksum(packed: bytes) -> bytes:
    pieces = b"".join(_parts(pickle.loads(packed)))
    # What says no more of itself than its address is told by what it holds.
    return hashlib.sha256(packed if b" at 0x" in pieces else pieces).digest()


class Finished(Generic[Result]):
    """Results by key, kept in a file of one JSON line each when a path is given.

    Parameters
    ----------
    path : Path, optional
    encode, decode : callable
        Between a result and what JSON can hold.
    resume : bool
        Use what the file holds already. Otherwise it stays there too, before the new results: who forgot
        to ask for it may ask next time, and another process may be at work on it.

    Raises
    ------
    InputError
        When something else than a plain file has the name.

    Attributes
    ----------
    damaged : int
        Lines of the file that do not hold what was written, torn or changed: they are left out.
    on_disk : bool
        Whether the file holds anything that another call could go on from.
    """

    def __init__(
        self,
        encode: Callable[[Result], Any],
        decode: Callable[[Any], Result],
        path: Path | None = None,
        resume: bool = False,
    ) -> None:
        self.path, self._encode = path, encode
        self.on_disk, self.damaged = False, 0
        self._results: dict[str, Result] = {}
        self._unused: set[str] = set()
        if path is not None and (reason := _unfit(path)):
            raise InputError(str(path), reason, "a free name: what is finished is kept there")
        if path is not None and resume and path.exists():
            for line in path.read_text(encoding="utf-8", errors="replace").split("\n"):
                if line:
                    self._take(line, decode)
            self.on_disk = bool(self._results)
            self._unused = set(self._results)

    def _take(self, line: str, decode: Callable[[Any], Result]) -> None:
        """Keep what a line holds when it is as it was written: the last may be torn, any be changed."""
        try:
            entry = json.loads(line)
            if entry["sum"] == _sum(entry["key"], entry["result"]):
                self._results[entry["key"]] = decode(entry["result"])
                return
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            pass
        self.damaged += 1

    def __contains__(self, key: str) -> bool:
        return key in self._results

    def __getitem__(self, key: str) -> Result:
        self._unused.discard(key)
        return self._results[key]

    @property
    def unused(self) -> int:
        """Results of the file that nobody has asked for."""
        return len(self._unused)

    def __len__(self) -> int:
        return len(self._results)

    def put(self, key: str, result: Result) -> None:
        """Keep a result, in the file before anything else can go wrong."""
        self._results[key] = result
        if self.path is None:
            return
        # As it will be read: JSON knows no tuples.
        kept = json.loads(json.dumps(self._encode(result)))
        line = json.dumps({"key": key, "result": kept, "sum": _sum(key, kept)})
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with self.path.open("a", encoding="utf-8") as stream:
                # A line of its own even after one that was torn off.
                stream.write(f"\n{line}\n")
                stream.flush()
                os.fsync(stream.fileno())
            self.on_disk = True
        except OSError as failure:
            reason = failure.strerror or str(failure)
            raise InputError(str(self.path), reason, "a file that can be written") from failure

    def discard(self) -> None:
        """Remove the file."""
        if self.path is not None:
            with contextlib.suppress(NotADirectoryError):
                self.path.unlink(missing_ok=True)


def _unfit(path: Path) -> str:
    """Why no results can be kept at `path`: it is no plain file or, as where it is too long, no name."""
    try:
        plain = not path.is_symlink() and (path.is_file() or not path.exists())
    except (OSError, ValueError) as failure:
        return getattr(failure, "strerror", None) or str(failure)
    return "" if plain else "no plain file"


def _sum(key: str, result: object) -> str:
    """Checksum of one result."""
    return hashlib.sha256(json.dumps([key, result], sort_keys=True).encode()).hexdigest()[:16]


def run_all(
    function: Callable[[Task], Result],
    tasks: Mapping[str, Task],
    executor: Executor | None = None,
    finished: Finished[Result] | None = None,
    on_done: Callable[[str], None] | None = None,
    meanwhile: Callable[[], None] | None = None,
) -> dict[str, Result]:
    """Return ``function(task)`` for every task, by its key.

    Parameters
    ----------
    function : callable
        At the top level of a module, so that worker processes can import it.
    tasks : dict
        By a key that says everything about the task, see `key_of`.
    executor : Executor, optional
        One after the other in this process by default.
    finished : Finished, optional
        Tasks it holds are not run; each new result is put there at once, so that an
        interrupted call can be repeated.
    on_done : callable, optional
        Called with each key as its result is in, those of `finished` included.
    meanwhile : callable, optional
        Called once in this process, while another runs the first task, or before them all; the others
        follow, so that it has a core of its own.
    """
    results: dict[str, Result] = {}
    with contextlib.closing(_results(function, tasks, executor, finished, meanwhile)) as arriving:
        for key, result in arriving:
            results[key] = result
            if on_done is not None:
                on_done(key)
    return {key: results[key] for key in tasks}


def _results(
    function: Callable[[Task], Result],
    tasks: Mapping[str, Task],
    executor: Executor | None,
    finished: Finished[Result] | None,
    meanwhile: Callable[[], None] | None,
) -> Generator[tuple[str, Result], None, None]:
    known = {key for key in tasks if finished is not None and key in finished}
    for key in known:
        assert finished is not None
        yield key, finished[key]
    left = {key: task for key, task in tasks.items() if key not in known}
    # Closed at once when something fails: a generator that a traceback keeps alive would cancel
    # its futures only when their executor is half shut down already.
    with contextlib.closing(_fresh(function, left, executor, meanwhile or (lambda: None))) as arriving:
        for key, result in arriving:
            if finished is not None:
                finished.put(key, result)
            yield key, result


def _fresh(
    function: Callable[[Task], Result],
    tasks: Mapping[str, Task],
    executor: Executor | None,
    meanwhile: Callable[[], None],
) -> Generator[tuple[str, Result], None, None]:
    if executor is None:
        meanwhile()
        for key, task in tasks.items():
            yield key, function(task)
        return
    keys: dict[Future[Result], str] = {}
    waiting = iter(tasks.items())
    try:
        for key, task in itertools.islice(waiting, 1):
            keys[executor.submit(function, task)] = key
        meanwhile()
        for key, task in waiting:
            keys[executor.submit(function, task)] = key
        try:
            for future in as_completed(keys):
                result = future.result()
                yield keys.pop(future), result
        except Exception:  # what others have finished by then is not lost with the one that failed
            for future, key in keys.items():
                if future.done() and not future.cancelled() and future.exception() is None:
                    yield key, future.result()
            raise
    finally:
        for future in keys:
            future.cancel()
