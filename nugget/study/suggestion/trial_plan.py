"""What to weld first: coupons, an empty can, a discharged scrap cell, and what to expect of each."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from nugget.constants import VERSION
from nugget.errors import InputError
from nugget.setup import Setup
from nugget.setup.toml import to_toml
from nugget.study.calibration.condition import Answer, Ask, answer
from nugget.study.calibration.observation import Judging, size_edges
from nugget.study.calibration.trial_table import with_wall
from nugget.study.suggestion.candidate import Candidate, Suggestion
from nugget.study.suggestion.trains import Train
from nugget.study.tasks import key_of, run_all

COUPONS, CANS, CELLS = 3, 2, 1
"""Welds at each step."""
SHORTER, LONGER = 0.6, 1.3
COLUMNS = ("cell", "duration", "result", "button", "inside", "count", "note")


@dataclass(frozen=True)
class Step:
    """One line of the plan.

    Attributes
    ----------
    cell : str
        ``coupon``, ``empty can`` or ``cell`` (a fully discharged, undamaged scrap one).
    duration_s : float
        Of the searched pulse.
    count : int
    size_m : (float, float, float)
        Smallest, nominal and largest joint over the contact band; below zero where nothing fuses.
    words : tuple of str
        Peel results to expect: at nominal contact first, then others within the band.
    inside : str
        What to expect at the inner face; empty for a coupon.
    """

    cell: str
    duration_s: float
    count: int
    size_m: tuple[float, float, float]
    words: tuple[str, ...]
    inside: str


def plan(
    suggestion: Suggestion,
    executor: Executor | None = None,
    on_done: Callable[[str], None] | None = None,
) -> tuple[Step, ...]:
    """Return the trial plan of a suggestion's best candidate.

    Where no setting is safe it is of single pulses and stops at the coupons: they narrow down the
    contact, which is what the search lacks.
    """
    best = suggestion.tried
    rows = [
        (kind, duration_s, count)
        for kind, durations, count in _rows(best, suggestion)
        for duration_s in durations
    ]
    factors = (1.0 / suggestion.band, 1.0, suggestion.band) if suggestion.band > 1.0 else (1.0,)
    tasks: dict[str, Ask] = {}
    keys: list[list[str]] = []
    for kind, duration_s, _ in rows:
        names = []
        for factor in factors:
            ask = _ask(best.train, kind, duration_s, factor)
            names.append(key_of(ask))
            tasks[names[-1]] = ask
        keys.append(names)
    answers = run_all(answer, tasks, executor, None, on_done)
    return tuple(
        _step(best.train.setup, row, [answers[name] for name in names])
        for row, names in zip(rows, keys, strict=True)
    )


def _rows(best: Candidate, suggestion: Suggestion) -> list[tuple[str, list[float], int]]:
    window = best.window if best.window.open else best.nominal
    start_s = window.from_s if window.from_s is not None else window.until_s
    chosen_s = best.duration_s
    durations = {SHORTER * start_s, start_s, chosen_s, min(LONGER * chosen_s, max(window.until_s, chosen_s))}
    found = [("coupon", _tidy(durations), COUPONS)]
    kind = suggestion.setup.file.cell.kind
    if suggestion.safe and kind != "coupon":
        found.append(("empty can", _tidy({chosen_s}), CANS))
        if kind == "cell":
            found.append(("cell", _tidy({chosen_s}), CELLS))
    return found


def _tidy(durations: set[float]) -> list[float]:
    return sorted({float(f"{v:.2g}") for v in durations if v > 0.0})


def _ask(train: Train, kind: str, duration_s: float, factor: float) -> Ask:
    setup = train.with_duration(duration_s)
    if setup.file.cell.kind != kind:
        setup = setup.with_(with_wall(setup, {"cell.kind": kind}))
    deep = () if kind == "coupon" else (duration_s,)
    return Ask(setup.with_radius(factor), (duration_s,), deep, ())


def _step(setup: Setup, row: tuple[str, float, int], answers: list[Answer]) -> Step:
    kind, duration_s, count = row
    known = [one for one in answers if not one.failed]
    if not known:
        raise InputError("trial plan", answers[0].failed, "a weld that can be marched")
    middle = known[len(known) // 2]
    sizes = [one.size_m[0] for one in known]
    words = [_word(setup, one) for one in (middle, *known)]
    inside = "" if kind == "coupon" else _inside(middle)
    return Step(
        kind,
        duration_s,
        count,
        (min(sizes), middle.size_m[0], max(sizes)),
        tuple(dict.fromkeys(words)),
        inside,
    )


def _word(setup: Setup, one: Answer) -> str:
    judging = Judging()
    holds_m, button_m = size_edges(setup, judging)
    if one.wall[0] >= judging.open_share:
        return "pierced"
    size_m = one.size_m[0]
    if size_m >= button_m:
        return "button"
    if size_m >= holds_m:
        return "peeled"
    return "stuck" if size_m > 0.0 else "loose"


def _inside(one: Answer) -> str:
    judging = Judging()
    if one.wall[0] >= judging.open_share:
        return "pierced"
    levels = np.searchsorted([judging.tint_K, judging.dent_K], one.inner_K[0])
    return ("clean", "tinted", "dented")[int(levels)]


def plan_csv(steps: tuple[Step, ...], setting: str) -> str:
    """The plan as a table of trials with the results left blank, for `nugget calibrate`.

    `setting` is the name of the file that `setting_toml` is written to.
    """
    out = io.StringIO()
    out.write("# A trial plan: fill in result (and button, inside), one row for each outcome; then\n")
    out.write(f"# nugget calibrate SETUP.toml THIS.csv --machine {setting}\n")
    out.write("# Rows without a result are left out.\n")
    table = csv.writer(out, lineterminator="\n")
    table.writerow(COLUMNS)
    for one in steps:
        note = "expected: " + " or ".join(one.words) + f"; {size_text(one)}"
        if one.inside:
            note += f"; inside {one.inside}"
        table.writerow([one.cell, f"{one.duration_s * 1e3:g} ms", "", "", "", one.count, note])
    return out.getvalue()


def size_text(step: Step) -> str:
    """The joint that is expected, in words."""
    low, _, high = (max(0.0, v) * 1e3 for v in step.size_m)
    if high <= 0.0:
        return "no joint"
    return f"joint {low:.2f} to {high:.2f} mm" if high - low > 5e-3 else f"joint {high:.2f} mm"


def setting_toml(suggestion: Suggestion) -> str:
    """What the plan is for, as TOML to be laid over the setup."""
    best = suggestion.tried
    pulses = best.setup.document()["pulse"]
    lines = [
        f"# What `nugget suggest` found, nugget {VERSION}: {best.train.name}.",
        *([] if suggestion.safe else ["# NOT SAFE at every contact radius: for trials on coupons only."]),
        "# A prediction is never a permission: coupons first, then an empty can, then a fully",
        "# discharged, undamaged scrap cell.",
        f"pulse = {to_toml(pulses)}",
    ]
    table = ""
    for path, value in sorted(best.values):
        section, _, key = path.rpartition(".")
        free = next(one for one in suggestion.free if one.axis.field.path == path)
        if section != table:
            lines += ["", f"[{section}]"]
            table = section
        lines.append(f"{key} = {to_toml(free.axis.field.write(value))}  # {free.axis.text(value)}")
    return "\n".join(lines) + "\n"
