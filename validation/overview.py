"""The report of the validation cases: overview, every case, and what has not been validated."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from validation.case import Case
from validation.discover import GROUPS
from validation.readers import markdown
from validation.report import Finished, nearest, section, write

HOW_TO_READ = """\
Tolerances were fixed before the results were seen; each is stated with its reason below; *theory* is a
chapter of the manual. A *guard* is a value of an exact formula known beforehand, which catches a slip in the
formula. A weld that this model predicts is not a safe weld: try on a coupon and an empty can first."""

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
6. **Metal flow, indentation, expulsion, evaporation.** Not in the model: the depth of a print follows from
   the contact radius by geometry, the rest is graded by what has melted or boiled. No measurement was found.
7. **The planar (three-dimensional) part of a series weld.** Narrow strip, slot and twin tip enter through
   lumped factors, checked for two discs on a wide sheet and against a planar solution of the strip only.
8. **Decomposition doses.** Kinetics were fitted at kelvins per minute; at milliseconds they are
   extrapolations.
9. **Shear and peel force.** Estimates from the nugget's area and the strip around it, peel as a seventh of
   shear; no measured peel of battery tabs with all settings stated was found.
10. **Real supplies.** Batteries, capacitor banks and transformers are ideal sources behind constant
    resistance and inductance.
"""


def write_cases(folder: Path, finished: list[Finished], left_out: list[Case]) -> Path:
    """Write ``report.md`` and its figures into `folder`; return the report's path."""

    def parts() -> Iterator[list[str]]:
        for number, title in GROUPS.items():
            members = [f for f in finished if f.subject.key.startswith(number)]
            if members:
                yield [f"## {number}. {title}", ""]
                yield from (section(folder, f, 3) for f in members)

    return write(folder, "report", _overview(finished, left_out), parts(), NOT_VALIDATED)


def _overview(finished: list[Finished], left_out: list[Case]) -> list[str]:
    judged = [c for f in finished for c in f.judged]
    passed = sum(c.passed for c in judged)
    counts = f"{_count(len(finished), 'case')}, {_count(len(judged), 'check')}"
    head = ("case", "what", "result", "checks", "closest to (or beyond) its tolerance")
    rows = [(f.subject.key, f.subject.title, f.state, f.counts, _closest(f)) for f in finished]
    lines = [
        "# Validation report",
        "",
        f"{counts}: {passed} within tolerance, {len(judged) - passed} not. {HOW_TO_READ}",
        "",
        markdown(head, rows),
    ]
    failing = [(f, c) for f in finished for c in f.failed]
    if failing:
        lines += ["", "### Checks that fail", ""]
        for f, c in failing:
            why = f.subject.reason(c)
            expected = f" Expected: {why}" if why else ""
            lines.append(f"- {f.subject.key}: {c.name}: {nearest(c)}.{expected}")
    if left_out:
        lines += ["", "Not run this time: " + ", ".join(case.key for case in left_out) + "."]
    return lines


def _closest(done: Finished) -> str:
    return done.error or ("" if done.worst is None else f"{done.worst.name}: {nearest(done.worst)}")


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
