"""How FiPy is imported: on demand, and without its reading our command line."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet_fipy() -> Iterator[None]:
    """Hold ``sys.argv``, which FiPy reads when it is imported, and its dependencies' warnings."""
    ours, sys.argv = sys.argv, sys.argv[:1]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        sys.argv = ours
