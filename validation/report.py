"""Run what proves something, and report it: tables on a terminal and in Markdown, figures beside them.

A subject is a validation case or a piece of evidence; both say what they are in the same words.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from validation.case import Check, Outcome
from validation.readers import markdown

HEAD = ("what", "found", "reference", "unit", "error", "limit", "result", "note")


class Subject(Protocol):
    """What is run and reported."""

    @property
    def key(self) -> str: ...

    @property
    def title(self) -> str: ...

    @property
    def heading(self) -> str: ...

    @property
    def words(self) -> str: ...

    def reason(self, check: Check) -> str: ...


@dataclass(frozen=True)
class Finished:
    """One subject that has run: what it found, or the error that stopped it."""

    subject: Subject
    outcome: Outcome | None
    seconds: float
    error: str = ""

    @property
    def checks(self) -> tuple[Check, ...]:
        return () if self.outcome is None else self.outcome.checks

    @property
    def judged(self) -> tuple[Check, ...]:
        return tuple(c for c in self.checks if c.counts)

    @property
    def failed(self) -> tuple[Check, ...]:
        return tuple(c for c in self.judged if c.failed)

    @property
    def unexpected(self) -> bool:
        """Whether something failed for which no reason was stated beforehand."""
        return bool(self.error) or any(not self.subject.reason(check) for check in self.failed)

    @property
    def state(self) -> str:
        if self.error:
            return "ERROR"
        if not self.failed:
            return "pass"
        return "FAIL" if self.unexpected else "fails as expected"

    @property
    def counts(self) -> str:
        return f"{sum(c.passed for c in self.judged)} of {len(self.judged)}"

    @property
    def worst(self) -> Check | None:
        """The check that is nearest to its tolerance, or furthest beyond it."""
        return max((c for c in self.judged if "guard" not in c.name), key=_use, default=None)


def run(subject: Subject, work: Callable[[], Outcome]) -> Finished:
    """Run one subject; what it raises is its result, so that one broken subject hides no other."""
    start = time.perf_counter()
    try:
        outcome, error = work(), ""
    except Exception as failure:
        outcome, error = None, f"{type(failure).__name__}: {failure}"
    return Finished(subject, outcome, time.perf_counter() - start, error)


def row(check: Check) -> tuple[str, ...]:
    """The cells of one check, in the order of `HEAD`."""
    told = {0.0: "no", 1.0: "yes"} if check.kind == "must hold" else {}
    found = told.get(check.value) or number(check.value)
    compared = (
        check.kind == "error" and math.isfinite(check.reference) and bool(check.reference or check.counts)
    )
    reference, error = (number(check.reference), percent(check.error)) if compared else ("", "")
    limits = {
        "error": f"error {percent(check.tolerance)}",
        "at most": f"at most {check.tolerance:g}",
        "at least": f"at least {check.reference:g}",
        "must hold": "must hold",
    }
    limit = limits[check.kind] if check.counts else ""
    result = "reported" if not check.counts else "pass" if check.passed else "FAIL"
    return check.name, found, reference, check.unit, error, limit, result, check.note


def number(value: float) -> str:
    """A value as a table shows it."""
    if math.isnan(value):
        return "no value"
    return f"{value:.2e}" if value != 0.0 and abs(value) < 1e-3 else f"{value:.6g}"


def percent(share: float) -> str:
    """A relative error as a table shows it."""
    return f"{100.0 * share:.3g} %" if 1e-6 < share < 1e3 else f"{share:.2g}"


def nearest(check: Check) -> str:
    """How far a check is from its limit, in words."""
    if check.kind == "error":
        return f"error {percent(check.error)} of {percent(check.tolerance)} allowed"
    if check.kind == "at most":
        return f"{number(check.value)} of {check.tolerance:g} allowed"
    return "holds" if check.passed else f"{check.value:.4g} where {check.reference:.4g} is needed"


def section(folder: Path, done: Finished, level: int) -> list[str]:
    """Lines of one subject; its figures are written into `folder`."""
    lines = [f"{level * '#'} {done.subject.heading}", "", done.subject.words, ""]
    if done.outcome is None:
        return [*lines, f"**Stopped by an error:** {done.error}", ""]
    cells = [[cell.replace("|", "\\|") for cell in row(check)] for check in done.outcome.checks]
    lines += [markdown(HEAD, cells), ""]
    for drawing in done.outcome.drawings:
        name = f"{done.subject.key}-{drawing.name}.png"
        drawing.draw().savefig(folder / name, dpi=110)
        lines += [f"![{drawing.caption}]({name})", "", f"*{drawing.caption}*", ""]
    return [*lines, done.outcome.text, ""] if done.outcome.text else lines


def write(folder: Path, name: str, opening: Iterable[str], parts: Iterable[list[str]], end: str = "") -> Path:
    """Write ``NAME.md`` into `folder` and return its path; `parts` are made when the folder is there."""
    folder.mkdir(parents=True, exist_ok=True)
    lines = [*opening, ""]
    for part in parts:
        lines += part
    path = folder / f"{name}.md"
    path.write_text("\n".join([*lines, end]), encoding="utf-8")
    return path


def show(done: Finished) -> None:
    """Print the table of one subject."""
    from rich.console import Console
    from rich.table import Table

    title = f"{done.subject.title} ({done.seconds:.0f} s)"
    if done.outcome is None:
        Console().print(f"[red]{title}: {done.error}[/]")
        return
    table = Table(*HEAD, title=title, title_justify="left")
    colours = {"pass": "green", "FAIL": "red", "reported": "default"}
    for check in done.outcome.checks:
        *cells, result, note = row(check)
        table.add_row(*cells, f"[{colours[result]}]{result}[/]", note)
    Console().print(table)


def _use(check: Check) -> float:
    """Share of the tolerance that the error takes up."""
    if math.isnan(check.error):
        return math.inf
    if check.tolerance > 0.0:
        return check.error / check.tolerance
    return 0.0 if check.error == 0.0 else math.inf
