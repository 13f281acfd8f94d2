"""A new trial plan laid into a table that is filled in already: what was measured stays as it stands."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping

from nugget.csv_table import csv_table
from nugget.errors import InputError
from nugget.study.calibration.trial_table import OBSERVED

ASKED = ("cell", "duration", "count", "note")
"""What a plan fills in, beside the fields that it changes: their names have a dot."""
SEEN = tuple(name for name in OBSERVED if name not in ASKED)
"""A row with anything in one of these was measured."""
OURS = re.compile(r"expected: [^;,]+; (no joint|joint [\d.]+( to [\d.]+)? mm)(; inside [a-z]+)?")
"""The note that a plan writes, and nothing more."""
SAME = ("cell", "duration")
"""A new row that agrees in these and in the changed fields with a measured one is not asked for again."""


def merged(old: str, new: str, own: Mapping[str, str]) -> str | None:
    """Return the table `old` with the rows of the plan `new`; None where they cannot share a table.

    Measured rows stay word for word and in their order, as do comments, rows of the user's own and rows
    of a plan with anything added. Rows that are just as an earlier plan asked for them give way to
    those of the new one. A column that
    only the plan has is added; in the old rows it says what the setup has.

    Parameters
    ----------
    old, new : str
        Both with the comment that names their pulses: rows of other pulses do not share a table.
    own : mapping of str to str
        What the setup itself has in each field that the plan changes, as a table holds it.
    """
    if _pulses(old) not in ("", _pulses(new)):
        return None
    try:
        there, plan = csv_table("trials", old, ""), csv_table("plan", new, "")
        rows = [row for _, row in there.records()]
    except InputError:
        return None
    if not {*SAME, "result"} <= set(there.head):
        return None
    kept = [row for row in rows if any(row.values()) and not _untouched(row)]
    head = [*there.head, *(name for name in plan.head if name not in there.head)]
    for row in kept:
        row |= {name: value for name, value in own.items() if name not in there.head}
    known = [_what(row, own) for row in kept if _measured(row)]
    fresh = [row for _, row in plan.records() if _what(row, own) not in known]
    out = io.StringIO()
    for line in _comments(new, old):
        out.write(f"{line}\n")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(head)
    table.writerows([row.get(name, "") for name in head] for row in [*kept, *fresh])
    return out.getvalue()


def _measured(row: Mapping[str, str]) -> bool:
    return any(row.get(name, "") for name in SEEN)


def _untouched(row: Mapping[str, str]) -> bool:
    """Whether a row is as a plan wrote it."""
    added = any(value for name, value in row.items() if name not in ASKED and "." not in name)
    return not added and OURS.fullmatch(row.get("note", "")) is not None


def _what(row: Mapping[str, str], own: Mapping[str, str]) -> tuple[str, ...]:
    return tuple(row.get(name, "") for name in (*SAME, *own))


def _pulses(text: str) -> str:
    """The comment that names the pulses of a table; empty without one."""
    return next((line.strip() for line in text.splitlines() if line.startswith("# Pulses: ")), "")


def _comments(new: str, old: str) -> list[str]:
    """The plan's comments, then those of the old table that the plan did not write."""
    fresh = [line for line in new.splitlines() if line.startswith("#")]
    ours = ("# A trial plan", "# nugget calibrate", "# Rows without", "# Pulses: ")
    own = [line for line in old.splitlines() if line.startswith("#") and not line.startswith(ours)]
    return [*fresh, *own]
