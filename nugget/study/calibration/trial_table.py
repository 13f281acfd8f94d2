"""Trial welds from the bench: a CSV file with one row for each setting or weld.

``duration`` (of the last pulse), and something that was seen:

- ``result``: `RESULTS`; ``button``: diameter of a torn button; ``pull``: force at which the weld
  gave way, both spots of a pair together;
- ``inside``: `INSIDES`, seen at the can's inner face of an empty can, or of a scrap cell cut open;
- ``print``: diameter of the print that the tip has left;
- ``resistance``: four-wire resistance from tip to tip at working force, before any pulse; a row with
  this alone needs no duration;
- ``trace``: a file with a scope trace of this weld, see `nugget.study.calibration.scope`.

``count`` says how many welds a row stands for, ``note`` is for people. ``cell`` (coupon, empty can
or cell), ``strip`` (a material) and any field of the setup by its path, or by the end of it, say
what was different from the setup. Quantities carry their unit. Rows in which nothing was seen yet
are left out, so that a trial plan can be filled in bit by bit::

    cell,duration,result,button,count
    coupon,3 ms,stuck,,2
    coupon,6 ms,button,0.62 mm,1

A row may have nothing but a resistance, with the column ``duration`` left blank.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from nugget.csv_table import CsvTable, read_csv
from nugget.errors import InputError
from nugget.setup import QuantityField, Setup, find_field
from nugget.study.trial_words import INSIDES, RESULTS
from nugget.units import to_si

SHORT = {"cell": "cell.kind", "strip": "strip.material", "thickness": "strip.thickness"}
OBSERVED = ("result", "button", "pull", "inside", "print", "resistance", "count", "trace", "note")
EVIDENCE = ("result", "inside", "print", "resistance", "trace")
"""Columns that make a row tell something."""
MOST_RESISTANCE_OHM = 1.0
MOST_COUNT, MOST_ROWS = 1000, 500
WIDEST_BUTTON = 3.0
"""A button wider than this many tip faces is a slip of unit."""
STRONGEST = 1.5
"""So is a pull of this many times what tears the strip itself across its width."""


@dataclass(frozen=True)
class Trial:
    """One row.

    Attributes
    ----------
    where : str
        File and line, for messages.
    changes : tuple of (str, object)
        What was different from the setup, as overrides.
    duration_s : float
        Of the last pulse [s].
    result, inside : str
        Empty where nothing was seen.
    button_m, pull_N, print_m, resistance_ohm : float or None
    count : int
    trace : str
        Name of a file; empty without.
    """

    where: str
    changes: tuple[tuple[str, object], ...]
    duration_s: float
    result: str = ""
    inside: str = ""
    button_m: float | None = None
    pull_N: float | None = None
    print_m: float | None = None
    resistance_ohm: float | None = None
    count: int = 1
    trace: str = ""

    @property
    def seen(self) -> bool:
        """Whether anything was."""
        return self.welded or self.resistance_ohm is not None

    @property
    def welded(self) -> bool:
        """Whether anything was seen of a weld."""
        return bool(self.result or self.inside or self.trace or self.print_m is not None)


@dataclass(frozen=True)
class Condition:
    """Everything but the duration: the setup that some trials share, and its name for people."""

    name: str
    changes: tuple[tuple[str, object], ...]
    setup: Setup


def read_trials(path: Path, setup: Setup) -> tuple[Trial, ...]:
    """Read the trials at `path` that were made with `setup`.

    Raises
    ------
    InputError
        One line that names the file, the line and the column.
    """
    table = read_csv(path, "trials", "duration,result")
    head = _head(table, setup)
    if len(table.rows) > MOST_ROWS:
        raise InputError(path.name, f"{len(table.rows)} rows", f"at most {MOST_ROWS}: use the column count")
    fields = setup.fields
    trials = []
    for line, cells in table.rows:
        row = dict(zip(head, cells, strict=True))
        if any(row.values()):
            trials.append(_trial(table.where(line), row, setup, fields))
    if not any(trial.seen for trial in trials):
        expected = f"at least one in {', '.join(EVIDENCE)}"
        raise InputError(path.name, "no row with a result", expected)
    _check_together(trials)
    conditions = conditions_of(trials, setup)
    for trial in trials:
        _check_against(trial, conditions[trial.changes].setup)
    return tuple(trial for trial in trials if trial.seen)


def _check_against(trial: Trial, setup: Setup) -> None:
    """Raise InputError for what cannot be with the setup of this row."""
    slopes_s = setup.train[-1].upslope_s + setup.train[-1].downslope_s
    if trial.welded and trial.duration_s < slopes_s:
        text = f"at least the {slopes_s * 1e3:.4g} ms of its slopes"
        raise InputError(f"{trial.where}: duration", f"{trial.duration_s * 1e3:.4g} ms", text)
    tears_N = setup.strip_width_m * sum(
        layer.thickness_m * (layer.material.tensile_strength_Pa or math.inf) for layer in setup.strip
    )
    if trial.pull_N is not None and trial.pull_N > STRONGEST * tears_N:
        text = f"no more than the strip itself bears, about {tears_N:.3g} N"
        raise InputError(f"{trial.where}: pull", f"{trial.pull_N:.4g} N", text)


def conditions_of(trials: Sequence[Trial], setup: Setup) -> dict[tuple[tuple[str, object], ...], Condition]:
    """Return the conditions of `trials`, by what they change."""
    found: dict[tuple[tuple[str, object], ...], Condition] = {}
    for trial in trials:
        if trial.changes not in found:
            name = ", ".join(f"{path.split('.')[-1]} {value}" for path, value in trial.changes)
            name = name.replace("kind ", "").replace("material ", "") or "as the setup"
            found[trial.changes] = Condition(name, trial.changes, _changed(trial, setup))
    return found


def _changed(trial: Trial, setup: Setup) -> Setup:
    try:
        return setup.with_(with_wall(setup, dict(trial.changes)))
    except InputError as error:
        raise InputError(f"{trial.where}: {error.where}", error.given, error.expected) from error


def with_wall(setup: Setup, changes: dict[str, object]) -> dict[str, object]:
    """Return `changes` with the setup's own wall where they put a coupon or an empty can in its place.

    Another kind of base would otherwise come with a wall of its own.
    """
    if "cell.kind" not in changes:
        return changes
    cell = setup.file.cell
    return {"cell.wall": cell.wall, "cell.wall_material": cell.wall_material, **changes}


def _head(table: CsvTable, setup: Setup) -> list[str]:
    where, head = table.where(table.head_line), []
    for cell in table.head:
        if cell in ("duration", *OBSERVED):
            head.append(cell)
        elif cell in SHORT:
            head.append(SHORT[cell])
        else:
            close = difflib.get_close_matches(cell, ("duration", *OBSERVED, *SHORT), n=1, cutoff=0.7)
            if close:
                raise InputError(where, cell, f"a known column; the nearest is {close[0]}")
            head.append(find_field(setup, cell, where).path)
    double = sorted({cell for cell in head if head.count(cell) > 1})
    if double:
        raise InputError(where, double[0], "each column once")
    if "duration" not in head and not {"resistance"} & set(head):
        raise InputError(where, ", ".join(table.head), "a column named duration")
    if not set(EVIDENCE) & set(head):
        raise InputError(where, ", ".join(table.head), "a column named result")
    return head


def _trial(where: str, row: dict[str, str], setup: Setup, fields: Mapping[str, QuantityField]) -> Trial:
    fixed = ("duration", *OBSERVED)
    changes = tuple(sorted((path, row[path]) for path in row if path not in fixed and row[path]))
    trial = Trial(
        where,
        tuple((path, _plain(where, fields.get(path), value, path)) for path, value in changes),
        _quantity(where, row, "duration", "time", 10.0) or 0.0,
        _word(where, row, "result", RESULTS),
        _word(where, row, "inside", INSIDES),
        _quantity(where, row, "button", "length", WIDEST_BUTTON * setup.electrode.face_diameter_m),
        _quantity(where, row, "pull", "force", 1e4),
        _quantity(where, row, "print", "length", WIDEST_BUTTON * setup.electrode.face_diameter_m),
        _quantity(where, row, "resistance", "resistance", MOST_RESISTANCE_OHM),
        _count(where, row.get("count", "")),
        row.get("trace", ""),
    )
    if not trial.duration_s and (trial.welded or trial.resistance_ohm is None):
        raise InputError(f"{where}: duration", "nothing", "how long the last pulse was, such as '6 ms'")
    _check_row(trial)
    return trial


def _plain(where: str, field: QuantityField | None, text: str, path: str) -> object:
    """A cell as a setup file would hold it: text, or a bare number where there is no unit."""
    if field is None:  # a name, not a number
        return text
    try:
        value = field.read(text)
    except ValueError as problem:
        raise InputError(f"{where}: {path}", text, str(problem)) from problem
    return text if field.unit else field.exact(value)


def _quantity(where: str, row: dict[str, str], name: str, dimension: str, most: float) -> float | None:
    text = row.get(name, "")
    if not text:
        return None
    try:
        value = to_si(text, dimension)
    except ValueError as problem:
        raise InputError(f"{where}: {name}", text, str(problem)) from problem
    if not 0.0 < value <= most:
        raise InputError(f"{where}: {name}", text, f"more than zero and at most {most:.4g} in SI units")
    return value


def _word(where: str, row: dict[str, str], name: str, known: dict[str, str]) -> str:
    word = row.get(name, "").lower()
    if word and word not in known:
        raise InputError(f"{where}: {name}", row[name], f"one of {', '.join(known)}")
    return word


def _count(where: str, text: str) -> int:
    if not text:
        return 1
    if not text.isdecimal() or len(text) > 9 or not 1 <= int(text) <= MOST_COUNT:
        raise InputError(f"{where}: count", text, f"a whole number from 1 to {MOST_COUNT}")
    return int(text)


def _check_row(trial: Trial) -> None:
    """Raise InputError when a row contradicts itself."""
    if trial.button_m is not None and trial.result != "button":
        given = f"a button of {trial.button_m * 1e3:.3g} mm with result '{trial.result or 'nothing'}'"
        raise InputError(f"{trial.where}: button", given, "result 'button' wherever one is measured")
    if trial.pull_N is not None and trial.result in ("", "loose", "expulsion", "pierced"):
        given = f"a pull of {trial.pull_N:.3g} N with result '{trial.result or 'nothing'}'"
        raise InputError(f"{trial.where}: pull", given, "a weld that gave way or held at that force")
    if trial.result == "pierced" and trial.inside in ("clean", "tinted", "dented"):
        raise InputError(f"{trial.where}: inside", trial.inside, "pierced, as the result says")
    if trial.trace and trial.count > 1:
        raise InputError(f"{trial.where}: count", trial.count, "1 in a row with a trace")


def _check_together(trials: Sequence[Trial]) -> None:
    """Raise InputError for two rows of which one rules out the other, whatever the spread."""
    through = [t for t in trials if "pierced" in (t.result, t.inside)]
    for trial in trials:
        nothing = trial.result == "loose" or (trial.inside == "clean" and not trial.result)
        for other in through if nothing else ():
            if other.changes == trial.changes and other.duration_s <= trial.duration_s:
                first, seen = other.where.split(": ")[-1], trial.result or trial.inside
                given = f"'{seen}' at {trial.duration_s * 1e3:.4g} ms"
                shorter = f"{other.duration_s * 1e3:.4g} ms"
                raise InputError(
                    trial.where, given, f"no less than {first}, which pierced the can in {shorter}"
                )
