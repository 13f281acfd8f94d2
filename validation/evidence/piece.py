"""What a piece of evidence is, measurements against limits that were set beforehand, and a report of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from validation.case import Check, Outcome


@dataclass(frozen=True)
class Piece:
    """One piece of evidence.

    Attributes
    ----------
    name, title : str
    what : str
        What is measured, how, and where the limit comes from (Markdown).
    run : callable
        Takes the number of worker processes and returns an `Outcome`; a check made by
        `validation.case.at_most` is a limit, one made by `reported` is not judged.
    """

    name: str
    title: str
    what: str
    run: Callable[[int], Outcome]

    @property
    def key(self) -> str:
        return self.name

    @property
    def heading(self) -> str:
        return self.title

    @property
    def words(self) -> str:
        """What stands above its table (Markdown)."""
        return self.what

    def reason(self, check: Check) -> str:
        """Why a check is expected to fail: none is."""
        return ""


@dataclass(frozen=True)
class Report:
    """A report made of pieces.

    Attributes
    ----------
    package : str
        Package of the pieces; each module of it has a `PIECE`.
    modules : tuple of str
    name, title, opening : str
        File name without its ending, headline and first words (Markdown).
    option, number : str, int
        The number that each piece is given: name of its option, and default.
    history : Path, optional
        Where rows of earlier runs are kept, for the next one to be held against.
    """

    package: str
    modules: tuple[str, ...]
    name: str
    title: str
    opening: str
    option: str
    number: int
    history: Path | None = None
