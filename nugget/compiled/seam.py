"""Whether kernels serve in this process: decided once, when the first weld is about to march.

They do not where numba is missing, where `SWITCH` says so, where their folder cannot be written (they would
be compiled again in every process, which takes longer than it saves) and where compiling fails for whatever
reason: numpy does the same work then, two to three times slower.
"""

from __future__ import annotations

import contextlib
import functools
import hashlib
import importlib
import logging
import os
import sys
import tempfile
import threading
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

log = logging.getLogger("nugget.compiled")

SWITCH = "NUGGET_COMPILED"
"""Environment variable; `OFF` are the values that keep numpy."""
OFF = ("0", "no", "off", "false")
PLACE = "NUGGET_COMPILED_DIR"
"""Environment variable: another folder for compiled code than that of the user's cache."""
ALL = "nugget.compiled.every_kernel"

_alone = threading.RLock()


def serve() -> bool:
    """Whether kernels serve; the first call loads them, and compiles what is not kept."""
    with _alone:
        return _decided()


@functools.cache
def _decided() -> bool:
    if os.environ.get(SWITCH, "").strip().lower() in OFF or find_spec("numba") is None:
        return False
    place = None
    try:
        place = folder()
        with _kept_in(place):
            if not any(place.iterdir()):
                log.warning("compiling the solver for this machine: ten to twenty seconds, once")
            importlib.import_module(ALL)
    except OSError as failure:
        log.info("no compiled kernels: %s", failure)
        return False
    except Exception as failure:  # whatever numba and its compiler cannot do here, numpy can
        why = f"{type(failure).__name__}: {failure}".split("\n")[0][:120]
        log.warning("no compiled kernels, going on without (%s); they are kept in %s", why, place)
        return False
    return True


def folder() -> Path:
    """Where the compiled code of this version for this processor is kept.

    Both are part of its name: numba's own index of a folder would be torn between two processors that
    share it, and older ones tell a source by its date, which an installation may set to any.
    """
    import llvmlite
    import llvmlite.binding
    import numba
    from platformdirs import user_cache_path

    hasher = hashlib.sha256()
    processor = llvmlite.binding.get_host_cpu_name(), llvmlite.binding.get_host_cpu_features().flatten()
    for word in (sys.version, numba.__version__, llvmlite.__version__, *processor):
        hasher.update(word.encode())
    for source in sorted(Path(__file__).parent.glob("*.py")):
        hasher.update(source.read_bytes())
    chosen = os.environ.get(PLACE)
    root = Path(chosen) if chosen else user_cache_path("nugget") / "compiled"
    return root / hasher.hexdigest()[:16]


@contextlib.contextmanager
def _kept_in(place: Path) -> Iterator[None]:
    """Let numba keep what it compiles in `place`, for kernels that are made meanwhile.

    Raises
    ------
    OSError
        If nothing can be written there.
    """
    import numba

    if numba.config.DISABLE_JIT:
        raise OSError("NUMBA_DISABLE_JIT is set")
    place.mkdir(parents=True, exist_ok=True)
    tempfile.TemporaryFile(dir=place).close()
    before, numba.config.CACHE_DIR = numba.config.CACHE_DIR, str(place)
    try:
        yield
    finally:
        numba.config.CACHE_DIR = before
