"""Markdown report of a run: overview, every case, and what has not been validated."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

from validation.case import Case, Check, Outcome
from validation.discover import GROUPS


@dataclass(frozen=True)
class Finished:
    """One case that has run: what it found, or the error that stopped it."""

    case: Case
    outcome: Outcome | None
    seconds: float
    error: str = ""

    @property
    def failed(self) -> tuple[Check, ...]:
        return () if self.outcome is None else tuple(c for c in self.outcome.checks if c.failed)

    @property
    def unexpected(self) -> bool:
        """Whether something failed for which no reason was stated beforehand."""
        return bool(self.error) or any(not self.case.reason(check) for check in self.failed)

    @property
    def state(self) -> str:
        if self.error:
            return "ERROR"
        if not self.failed:
            return "pass"
        return "FAIL" if self.unexpected else "fails as expected"

    @property
    def counts(self) -> str:
        if self.outcome is None:
            return "0"
        judged = [c for c in self.outcome.checks if c.counts]
        return f"{sum(c.passed for c in judged)} of {len(judged)}"

    @property
    def worst(self) -> Check | None:
        """The check that is nearest to its tolerance, or furthest beyond it."""
        if self.outcome is None:
            return None
        judged = [c for c in self.outcome.checks if c.counts and "guard" not in c.name]
        return max(judged, key=_use, default=None)


def _use(check: Check) -> float:
    """Share of the tolerance that the error takes up."""
    if math.isnan(check.error):
        return math.inf
    if check.tolerance > 0.0:
        return check.error / check.tolerance
    return 0.0 if check.error == 0.0 else math.inf


HOW_TO_READ = """\
Tolerances were fixed before the results were seen; each is stated with its reason below; *theory* is a
chapter of the manual. A *guard* is a value of an exact formula known beforehand, which catches a slip in the
formula. A prediction of this model is never a permission to weld: try on a coupon and an empty can first."""

NOT_VALIDATED = """\
## What has not been validated

1. **Temperature inside a can.** No measured temperature inside a can during a tab weld was found in the
   open literature. Everything this model says about the interior rests on the heat equation with stated
   properties, not on a measurement.
2. **Hand-force welds of thin strip.** No published schedule of thin nickel on a can wall with measured fused
   diameters was found; the published schedules are for flat faces, kilonewtons and steel sheet.
3. **The growing spot under a rounded tip.** The force balance is checked against its own definition only. No
   measured contact radius against time was found.
4. **Contact resistance of clean nickel or steel against load.** No measured curve was found; films and spots
   per area are assumptions or fits.
5. **Properties near and above melting.** Values of melts, and of nickel above its Curie point, differ between
   sources by up to 21 %; the jelly roll's radial conductivity by a factor of four.
6. **Metal flow, indentation, expulsion, evaporation.** Not in the model; reported as flags from thresholds.
7. **The planar (three-dimensional) part of a series weld.** Narrow strip, slot and twin tip enter through
   lumped factors, checked for two discs on a wide sheet and against a planar solution of the strip only.
8. **Decomposition doses.** Kinetics were fitted at kelvins per minute; at milliseconds they are
   extrapolations.
9. **Pull-out force.** An estimate by shear of the strip around the fused zone; no measured peel of battery
   tabs with all settings stated was found.
10. **Real supplies.** Batteries, capacitor banks and transformers are ideal sources behind constant
    resistance and inductance.
"""


def write(folder: Path, finished: list[Finished], left_out: list[Case]) -> Path:
    """Write ``report.md`` and its figures into `folder`; return the report's path."""
    folder.mkdir(parents=True, exist_ok=True)
    parts = [_overview(finished, left_out)]
    for number, title in GROUPS.items():
        members = [f for f in finished if f.case.key.startswith(number)]
        if members:
            parts.append(f"## {number}. {title}\n")
            parts += [_section(f, folder) for f in members]
    parts.append(NOT_VALIDATED)
    path = folder / "report.md"
    path.write_text("\n".join(parts), encoding="utf-8")
    return path


def _overview(finished: list[Finished], left_out: list[Case]) -> str:
    judged = [c for f in finished if f.outcome for c in f.outcome.checks if c.counts]
    passed = sum(c.passed for c in judged)
    counts = f"{_count(len(finished), 'case')}, {_count(len(judged), 'check')}"
    lines = [
        "# Validation report",
        "",
        f"{counts}: {passed} within tolerance, {len(judged) - passed} not. {HOW_TO_READ}",
        "",
        "| case | what | result | checks | closest to (or beyond) its tolerance |",
        "|---|---|---|---|---|",
    ]
    for f in finished:
        worst = f.worst
        nearest = f.error or ("" if worst is None else f"{worst.name}: {_error(worst)}")
        lines.append(f"| {f.case.key} | {f.case.title} | {f.state} | {f.counts} | {nearest} |")
    failing = [(f, c) for f in finished for c in f.failed]
    if failing:
        lines += ["", "### Checks that fail", ""]
        for f, c in failing:
            why = f.case.reason(c)
            lines.append(f"- {f.case.key}: {c.name}: {_error(c)}." + (f" Expected: {why}" if why else ""))
    if left_out:
        lines += ["", "Not run this time: " + ", ".join(case.key for case in left_out) + "."]
    return "\n".join(lines) + "\n"


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _error(check: Check) -> str:
    if check.kind != "error":
        return "holds" if check.passed else f"{check.value:.4g} where {check.reference:.4g} is needed"
    return f"error {_percent(check.error)} of {_percent(check.tolerance)} allowed"


def _percent(share: float) -> str:
    return f"{100.0 * share:.3g} %" if 1e-6 < share < 1e3 else f"{share:.2g}"


def _section(f: Finished, folder: Path) -> str:
    case = f.case
    lines = [
        f"### {case.key}: {case.title}",
        "",
        f"Claim: {case.claim}",
        "",
        f"Source: {case.source}",
        "",
        f"Tolerance: {case.tolerance}",
        "",
    ]
    if f.outcome is None:
        return "\n".join([*lines, f"**Stopped by an error:** {f.error}", ""])
    lines += [
        "| check | found | reference | unit | error | tolerance | result |",
        "|---|---|---|---|---|---|---|",
    ]
    lines += [_row(check) for check in f.outcome.checks]
    lines.append("")
    for drawing in f.outcome.drawings:
        name = f"{case.key}-{drawing.name}.png"
        drawing.draw().savefig(folder / name, dpi=110)
        lines += [f"![{drawing.caption}]({name})", "", f"*{drawing.caption}*", ""]
    if f.outcome.text:
        lines += [f.outcome.text, ""]
    return "\n".join(lines)


def _row(c: Check) -> str:
    state = "information" if not c.counts else "pass" if c.passed else "**fail**"
    note = f"{state}; {c.note}" if c.note else state
    wanted = {"at least": f"at least {c.reference:g}", "must hold": "must hold"}
    limit = "" if math.isinf(c.tolerance) else wanted.get(c.kind) or _percent(c.tolerance)
    # What is only told, and compared with nothing, has no error.
    alone = not c.counts and c.reference == 0.0
    reference, error = ("", "") if alone else (f"{c.reference:.6g}", _percent(c.error))
    cells = c.name, f"{c.value:.6g}", reference, c.unit, error, limit, note
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"
