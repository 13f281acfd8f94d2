"""What to weld first: coupons, an empty can, a discharged scrap cell, and what to expect of each."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from nugget.constants import VERSION
from nugget.setup import Setup
from nugget.setup.toml import to_toml
from nugget.study.calibration.condition import Answer, Ask, answer
from nugget.study.calibration.observation import Judging, size_edges
from nugget.study.calibration.trial_table import with_wall
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement.statement import coarse
from nugget.study.suggestion.candidate import Candidate, Suggestion, settable_s
from nugget.study.suggestion.trains import Train
from nugget.study.tasks import key_of, run_all

COUPONS, CANS, CELLS = 3, 2, 1
"""Welds at each step."""
SHORTER, LONGER = 0.6, 1.3
BENCHES, SEED = 6, 6
"""Benches drawn from what is not known exactly, for what else may come out."""
COLUMNS = ("cell", "duration", "result", "button", "inside", "count", "note")
BUTTON = "button"


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
        Smallest, nominal and largest joint over some benches; below zero where nothing fuses.
    words : tuple of str
        Peel results to expect: as set up first, then others.
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
    """Return the trial plan of a suggestion's best candidate; empty where no step could succeed.

    Where no setting is safe it is of single pulses and stops at the coupons: they narrow down the
    contact, which is what the search lacks. Where none of its coupons is expected to tear a button as
    set up, there is nothing to be tried on this bench as it is.
    """
    best = suggestion.tried
    rows = [
        (kind, duration_s, count)
        for kind, durations, count in _rows(best, suggestion)
        for duration_s in durations
    ]
    tasks: dict[str, Ask] = {}
    keys: list[list[str]] = []
    for kind, duration_s, _ in rows:
        asks = _asks(best.train, kind, duration_s, suggestion.tolerances)
        keys.append([key_of(ask) for ask in asks])
        tasks |= dict(zip(keys[-1], asks, strict=True))
    answers = run_all(answer, tasks, executor, None, on_done)
    steps = [
        _step(best.train.setup, row, [answers[name] for name in names])
        for row, names in zip(rows, keys, strict=True)
    ]
    known = tuple(one for one in steps if one is not None)
    hopeful = any(one.cell == "coupon" and one.words[0] == BUTTON for one in known)
    return tuple(one for one in known if one.cell == "coupon" or one.words[0] == BUTTON) if hopeful else ()


def _rows(best: Candidate, suggestion: Suggestion) -> list[tuple[str, list[float], int]]:
    window = best.window if best.window.open else best.nominal
    if window.from_s is None:
        return []
    start_s = window.from_s
    chosen_s = best.duration_s if window.open else start_s
    durations = {SHORTER * start_s, start_s, chosen_s, min(LONGER * chosen_s, max(window.until_s, chosen_s))}
    setup = best.train.setup
    found = [("coupon", _tidy(durations, setup), COUPONS)]
    kind = suggestion.setup.file.cell.kind
    if suggestion.safe and kind != "coupon":
        found.append(("empty can", _tidy({chosen_s}, setup), CANS))
        if kind == "cell":
            found.append(("cell", _tidy({chosen_s}, setup), CELLS))
    return found


def _tidy(durations: set[float], setup: Setup) -> list[float]:
    """Durations as the switch can make them, with two digits where these will do [s]."""
    found = set()
    for duration_s in durations:
        able_s = settable_s(duration_s, setup)
        short_s = float(f"{able_s:.2g}")
        found.add(short_s if settable_s(short_s, setup) == short_s else able_s)
    return sorted(found)


def _asks(train: Train, kind: str, duration_s: float, tolerances: Sequence[str]) -> list[Ask]:
    """The weld as set up, and at the drawn benches on a coarser grid."""
    setup = train.with_duration(duration_s)
    inputs = inputs_of(setup, tolerances)
    if setup.file.cell.kind != kind:
        setup = setup.with_(with_wall(setup, {"cell.kind": kind}))
    deep = () if kind == "coupon" else (duration_s,)
    inputs = inputs.around(setup)
    drawn = [coarse(inputs.setup_at(row)) for row in inputs.drawn(8, SEED)[:BENCHES]]
    return [Ask(one, (duration_s,), deep, ()) for one in (setup, *drawn)]


def _step(setup: Setup, row: tuple[str, float, int], answers: list[Answer]) -> Step | None:
    """What to expect of one row; None where the model gives no answer as set up."""
    kind, duration_s, count = row
    if answers[0].failed:
        return None
    known = [one for one in answers if not one.failed]
    sizes = [one.size_m[0] for one in known]
    words = tuple(dict.fromkeys(_word(setup, one) for one in known))
    inside = "" if kind == "coupon" else _inside(answers[0])
    return Step(kind, duration_s, count, (min(sizes), sizes[0], max(sizes)), words, inside)


def _word(setup: Setup, one: Answer) -> str:
    judging = Judging()
    holds_m, button_m = size_edges(setup, judging)
    if one.wall[0] >= judging.open_share:
        return "pierced"
    size_m = one.size_m[0]
    if size_m >= button_m:
        return BUTTON
    if size_m >= holds_m:
        return "peeled"
    return "stuck" if size_m > 0.0 else "loose"


def _inside(one: Answer) -> str:
    judging = Judging()
    if one.wall[0] >= judging.open_share:
        return "pierced"
    levels = np.searchsorted([judging.tint_K, judging.dent_K], one.inner_K[0])
    return ("clean", "tinted", "dented")[int(levels)]


def plan_csv(suggestion: Suggestion, steps: Sequence[Step], command: str) -> str:
    """The plan as a table of trials with the results left blank.

    Fields that the search changed have a column each, so that every row says what it was made with.

    Parameters
    ----------
    suggestion : Suggestion
    steps : sequence of Step
    command : str
        The command that takes the table once it is filled in.
    """
    values = written_values(suggestion)
    out = io.StringIO()
    out.write("# A trial plan: fill in result (and button, inside), one row for each outcome; then\n")
    out.write(f"# {command}\n")
    out.write("# Rows without a result are left out. Rows with one are kept when a plan is made anew.\n")
    out.write(f"{train_line(suggestion)}\n")
    table = csv.writer(out, lineterminator="\n")
    table.writerow([*COLUMNS[:-1], *values, COLUMNS[-1]])
    for one in steps:
        note = "expected: " + " or ".join(one.words) + f"; {size_text(one)}"
        if one.inside:
            note += f"; inside {one.inside}"
        duration = f"{one.duration_s * 1e3:g} ms"
        table.writerow([one.cell, duration, "", "", "", one.count, *values.values(), note])
    return out.getvalue()


def train_line(suggestion: Suggestion) -> str:
    """The comment by which a table says with which pulses its rows were made."""
    return f"# Pulses: {suggestion.tried.train.name}."


def written_values(suggestion: Suggestion) -> Mapping[str, object]:
    """The fields that the search changed, as a setup file holds them."""
    fields = {free.axis.field.path: free.axis.field for free in suggestion.free}
    return {path: fields[path].write(value) for path, value in sorted(suggestion.tried.values)}


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
        *([] if suggestion.safe else ["# NOT known to be in the window: for trials on coupons only."]),
        "# A predicted weld is not a safe weld: coupons first, then an empty can, then a fully",
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
