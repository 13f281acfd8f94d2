"""The rows of a table and the report in Markdown."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from validation.case import Check, Outcome
from validation.evidence.piece import Piece, Report
from validation.readers import markdown

HEAD = ("what", "measured", "unit", "limit", "result", "warning")


@dataclass(frozen=True)
class Done:
    """One piece that has run: what it found, or the error that stopped it."""

    piece: Piece
    outcome: Outcome | None
    error: str = ""

    @property
    def failed(self) -> tuple[Check, ...]:
        return () if self.outcome is None else tuple(c for c in self.outcome.checks if c.failed)


def row(check: Check) -> tuple[str, ...]:
    """The cells of one check, in the order of `HEAD`."""
    if not check.counts:
        limit, result = "", "reported"
    else:
        result = "pass" if check.passed else "FAIL"
        limit = {
            "error": f"at most {check.tolerance:g}",
            "at least": f"at least {check.reference:g}",
            "must hold": "must hold",
        }[check.kind]
    told = {0.0: "no", 1.0: "yes"} if check.kind == "must hold" else {}
    measured = told.get(check.value) or _number(check.value)
    return check.name, measured, check.unit, limit, result, check.note


def _number(value: float) -> str:
    if math.isnan(value):
        return "no value"
    return f"{value:.2e}" if value != 0.0 and abs(value) < 1e-3 else f"{value:.4g}"


def write(folder: Path, report: Report, done: list[Done], machine: str) -> Path:
    """Write the report and its figures into `folder`; return its path."""
    folder.mkdir(parents=True, exist_ok=True)
    judged = [c for d in done if d.outcome for c in d.outcome.checks if c.counts]
    lines = [
        f"# {report.title}",
        "",
        f"{len(judged)} limits, {sum(c.passed for c in judged)} met. {machine}",
        "",
        report.opening,
        "",
    ]
    for d in done:
        lines += _section(folder, d)
    path = folder / f"{report.name}.md"
    path.write_text("\n".join(lines), encoding="utf-8")
    return path


def _section(folder: Path, d: Done) -> list[str]:
    lines = [f"## {d.piece.title}", "", d.piece.what, ""]
    if d.outcome is None:
        return [*lines, f"**Stopped by an error:** {d.error}", ""]
    lines += [markdown(HEAD, [row(c) for c in d.outcome.checks]), ""]
    for drawing in d.outcome.drawings:
        name = f"{d.piece.name}-{drawing.name}.png"
        drawing.draw().savefig(folder / name, dpi=110)
        lines += [f"![{drawing.caption}]({name})", "", f"*{drawing.caption}*", ""]
    return [*lines, d.outcome.text, ""] if d.outcome.text else lines
