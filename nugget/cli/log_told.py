"""What the package logs as a warning, told on the terminal; apart, as help needs no logging."""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Iterator

from nugget.cli.terminal import tell


@contextlib.contextmanager
def log_told() -> Iterator[None]:
    """Tell warnings that the body logs."""
    heard, logger = _Told(), logging.getLogger("nugget")
    logger.addHandler(heard)
    try:
        yield
    finally:
        logger.removeHandler(heard)


class _Told(logging.Handler):
    """Says on stderr, as everything else, what the package logs as a warning: once, not for each weld."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self._said = set[str]()

    def emit(self, record: logging.LogRecord) -> None:
        message = record.getMessage()
        if message not in self._said:
            self._said.add(message)
            tell(message)
