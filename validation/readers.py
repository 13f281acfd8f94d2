"""Readers of the data files in ``validation/data``."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path
from typing import Any

DATA = Path(__file__).parent / "data"


def rows(name: str) -> list[dict[str, str]]:
    """All rows of ``data/<name>.csv``; lines that begin with # are comments."""
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(line for line in handle if not line.startswith("#")))


def markdown(header: Sequence[str], body: Sequence[Sequence[Any]]) -> str:
    """A Markdown table."""
    lines = [" | ".join(header), " | ".join("---" for _ in header)]
    lines += [" | ".join(str(cell) for cell in row) for row in body]
    return "\n".join(f"| {line} |" for line in lines)
