"""What a user sees in a folder."""

from __future__ import annotations

from pathlib import Path

from nugget.cli.outputs import RECORD


def visible(folder: Path) -> list[str]:
    """Names in `folder`, in order, without the record of checksums that commands keep there."""
    return sorted(path.name for path in folder.iterdir() if path.name != RECORD)
