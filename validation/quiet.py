"""Importing FiPy without its side effects."""

from __future__ import annotations

import sys
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from unittest import mock


@contextmanager
def quiet_import() -> Iterator[None]:
    """FiPy reads sys.argv when it is imported, and warns of its dependencies."""
    with mock.patch.object(sys, "argv", sys.argv[:1]), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        yield
