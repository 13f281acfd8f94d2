"""Files that commands write: each whole or not at all, and never over something that is not ours.

One rule for every file of every command. A file that nugget wrote and nobody has changed since is
replaced. Any other file of that name stays, such as a table of trials that was filled in at the
bench, and the new one takes a name beside it (``trials-2.csv``). What nugget wrote is known by
checksums in a hidden file of the same folder, `RECORD`, which ``sha256sum --check`` reads too.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.terminal import tell
from nugget.errors import InputError, plain

if TYPE_CHECKING:
    from matplotlib.figure import Figure

RECORD = ".nugget-written.sha256"


def keep(path: Path, save: Callable[[Path], object]) -> Path:
    """Write a file, beside `path` when that holds what is not ours to replace; return its place.

    Parameters
    ----------
    path : Path
        Its folder is made when it is missing.
    save : callable
        Writes to the path that it is given, which ends as `path` does.

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    from nugget.outcome.writing import mark, sweep, sync_folder

    try:
        if path.exists() and not path.is_file():
            raise InputError(str(path), "a folder" if path.is_dir() else "no plain file", "a file name")
        path.parent.mkdir(parents=True, exist_ok=True)
        sweep(path.parent)
        with tempfile.TemporaryDirectory(dir=path.parent, prefix=mark()) as folder:
            fresh = Path(folder) / path.name
            _save(save, fresh)
            digest = _digest(fresh)
            written = _written(path.parent)
            place = next(p for p in _names(path) if _is_ours(p, digest, written))
            os.replace(fresh, place)
        sync_folder(path.parent)
        _remember(place, digest, written)
    except OSError as failure:
        reason = failure.strerror or str(failure)
        raise InputError(str(path), reason, "a folder that can be written, with room in it") from failure
    return place


def _save(save: Callable[[Path], object], fresh: Path) -> None:
    """Write to a temporary place, whose name is nobody's business."""
    try:
        save(fresh)
    except InputError as failure:
        if isinstance(failure.__cause__, OSError):
            raise failure.__cause__ from None
        raise


def _names(path: Path) -> Iterator[Path]:
    """Return `path`, then its name with 2, 3, ... behind it."""
    yield path
    for k in count(2):
        yield path.with_name(f"{path.stem}-{k}{path.suffix}")


def _is_ours(path: Path, digest: str, written: dict[str, str]) -> bool:
    """Whether nothing is lost when a file of this digest takes the place of what is at `path`."""
    if not os.path.lexists(path):
        return True
    return path.is_file() and _digest(path) in (digest, written.get(path.name))


def _digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _written(folder: Path) -> dict[str, str]:
    """Checksums by name of what nugget wrote into `folder`; lines that make no sense say nothing."""
    try:
        text = (folder / RECORD).read_text(encoding="utf-8", errors="replace")
    except OSError:
        return {}
    pairs = (line.partition("  ") for line in text.splitlines())
    return {name: digest for digest, gap, name in pairs if gap}


def _remember(path: Path, digest: str, written: dict[str, str]) -> None:
    from nugget.outcome.writing import write_text

    lines = [f"{value}  {name}\n" for name, value in sorted((written | {path.name: digest}).items())]
    write_text(path.parent / RECORD, "".join(lines))


def approve(path: Path) -> None:
    """Let a file be replaced: all that it holds goes into what replaces it."""
    written = _written(path.parent)
    _remember(path, _digest(path), written)


class Outputs:
    """What one call of a command writes.

    Parameters
    ----------
    folder : Path
    start : str
        What every name begins with.
    """

    def __init__(self, folder: Path, start: str = "") -> None:
        self._folder, self._start = folder, start
        self.places: list[Path] = []

    def add(self, name: str, save: Callable[[Path], object]) -> Path:
        """Write one file and return its place; say on stderr when it is not the one asked for."""
        asked = self.place(name)
        place = keep(asked, save)
        if place != asked:
            why = "is not as nugget wrote it, so it was kept"
            tell(f"{asked} {why}; the new one is {place}")
        self.places.append(place)
        return place

    def text(self, name: str, text: str) -> Path:
        """Write a text file."""
        from nugget.outcome.writing import write_text

        return self.add(name, lambda path: write_text(path, text))

    def place(self, name: str) -> Path:
        """Where a file of this name is to stand."""
        return self._folder / f"{self._start}{name}"

    def merged(self, name: str, text: str, merge: Callable[[str], str | None]) -> Path:
        """Write a text file, into the one that is there where `merge` makes one text of both.

        `merge` gets what is there; None means that they cannot be one, and the new one takes a name
        beside it.
        """
        from nugget.files import MOST_TOML_BYTES, decoded, read_bytes

        asked = self.place(name)
        old = ""
        if asked.is_file():
            with contextlib.suppress(InputError):
                old = decoded(read_bytes(asked, name, "", MOST_TOML_BYTES), name, "")
        both = merge(old) if old else None
        if both is None:
            return self.text(name, text)
        approve(asked)
        tell(f"{asked}: what was filled in is kept, and the new plan added")
        return self.text(name, both)

    def figure(self, name: str, figure: Figure) -> Path:
        """Write a figure in the form that its name ends in."""
        from nugget.plot.style import write_figure

        return self.add(name, lambda path: write_figure(figure, path))

    def say(self) -> None:
        """Print what was written."""
        if self.places:
            print("\nWritten: " + ", ".join(plain(str(path)) for path in self.places))
