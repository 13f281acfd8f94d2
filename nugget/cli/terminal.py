"""What reaches the terminal: nothing that steers it, and nothing that it cannot show."""

from __future__ import annotations

import codecs
import contextlib
import io
import os
import sys
from collections.abc import Iterator
from typing import Any, TextIO

from nugget.errors import LONGEST, plain, short, steers

INSTEAD = {
    "\u03a9": "ohm",  # the Greek letter, and the sign of the unit
    "\u2126": "ohm",
    "µ": "u",
    "μ": "u",
    "°": "deg ",
    "×": "x",
    "·": ".",
    "±": "+-",
    "²": "2",
    "³": "3",
    "–": "-",
    "—": "-",
    "−": "-",
    "≤": "<=",
    "≥": ">=",
    "→": "->",
    "½": "1/2",
    "…": "...",
    "━": "-",
    "─": "-",
}
"""How to write on a terminal of few characters what it does not have."""


def _instead(error: UnicodeError) -> tuple[str, int]:
    """Handler of codecs: the nearest that every coding has."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    return "".join(INSTEAD.get(c, "?") for c in error.object[error.start : error.end]), error.end


codecs.register_error("nugget.instead", _instead)


class _Shown(io.TextIOBase):
    """A stream that passes lines on, and shows as a code what could steer a terminal."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        harmless = "".join(
            c.encode("unicode_escape").decode() if c not in "\n\t" and steers(c) else c for c in text
        )
        raw = getattr(self._stream, "buffer", None)
        if isinstance(raw, io.RawIOBase):
            self._write_raw(raw, harmless)
        else:
            self._stream.write(harmless)
        return len(text)

    def _write_raw(self, raw: io.RawIOBase, text: str) -> None:
        """Write all of it: as PYTHONUNBUFFERED sets it up, a stream drops what a full disk did not take."""
        coded = text.replace("\n", os.linesep).encode(self._stream.encoding, self._stream.errors or "strict")
        while coded:
            coded = coded[raw.write(coded) or 0 :]

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def flush(self) -> None:
        self._stream.flush()

    def close(self) -> None:
        """Nothing: the stream is another's, who may have closed it before this object ends."""

    def fileno(self) -> int:
        return self._stream.fileno()

    def isatty(self) -> bool:
        return self._stream.isatty()

    def writable(self) -> bool:
        return True

    @property
    def encoding(self) -> str:  # type: ignore[override]
        return self._stream.encoding


@contextlib.contextmanager
def shown() -> Iterator[None]:
    """Let what is printed in the body reach the terminal as far as that can show it."""
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed before the program began
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115  as long as the process
        elif isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="nugget.instead")
    with contextlib.redirect_stdout(_Shown(sys.stdout)):
        yield


def drop_stdout() -> None:
    """Let what is still to be printed go nowhere: the reader has gone, or there is no room."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def tell(text: str) -> None:
    """Say something on stderr, on one line."""
    with contextlib.suppress(OSError, ValueError):  # nobody there to be told
        print(f"nugget: {short(plain(text), LONGEST)}", file=sys.stderr)
