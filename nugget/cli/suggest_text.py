"""What ``nugget suggest`` prints: the setting, what was compared, changes to the bench, the trial plan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli.text_tables import WIDTH, table
from nugget.merit import amounts
from nugget.outcome.record import CAUTIONS
from nugget.study.charting.hardware_changes import COST_WORDS
from nugget.study.durations.window import Window
from nugget.study.statement.judged_rows import next_step
from nugget.study.suggestion.candidate import Candidate, Option, Suggestion
from nugget.study.suggestion.trial_plan import Step, size_text

SHOWN = 6
PLACES = {"coupon": "coupon", "empty can": "empty can", "cell": "discharged scrap cell"}


def print_suggestion(
    suggestion: Suggestion,
    steps: tuple[Step, ...],
    command: str = "nugget pulse",
    calibrate: str = "nugget calibrate",
) -> None:
    """Print a search and its trial plan to stdout.

    `command` and `calibrate` are `nugget pulse` and `nugget calibrate` with all options in force.
    """
    print(suggestion.setup.title)
    lines = [*_answer(suggestion, command, calibrate), "", *_compared(suggestion)]
    lines += [*_options(suggestion), "", *_plan(suggestion, steps), "", *CAUTIONS]
    for line in lines:
        print(textwrap.fill(line, WIDTH, subsequent_indent=" " * 4) if line else "")


def _answer(suggestion: Suggestion, command: str, calibrate: str) -> Iterator[str]:
    best = suggestion.best
    setting = f"{best.train.name}, {amounts.time(best.duration_s)}{_values(suggestion, best)}"
    if suggestion.safe:
        yield f"Suggested: {setting}."
    else:
        yield f"No safe setting was found. The best one that was tried: {setting}."
    if suggestion.crossing:
        yield f"As set up, {suggestion.crossing}."
    elif best.nominal.open:
        yield f"As set up its window is {_span(best.nominal)}; then {_ends(best.nominal)}."
    if best.statement is not None:
        yield f"VERDICT: {best.statement.verdict.upper()}: {best.statement.reason}."
        if best.statement.advice:
            yield f"Next: {next_step(best.statement, command, calibrate)}."


def _early(time_s: float) -> str:
    return "once" if time_s == 0.0 else amounts.time(time_s)


def _gap(window: Window) -> str:
    """Why there is no window."""
    limit = (
        "no limit is exceeded" if window.binding is None else f"{_ends(window)} at {_early(window.until_s)}"
    )
    target = "never" if window.from_s is None else f"at {_early(window.from_s)}"
    return f"{limit}, minimum diameter reached {target}"


def _values(suggestion: Suggestion, one: Candidate) -> str:
    axes = {free.axis.field.path: free.axis for free in suggestion.free}
    return "".join(f", {axes[path].title} {axes[path].text(value)}" for path, value in one.values)


def _span(window: Window) -> str:
    if not window.open:
        return "none"
    return f"{amounts.time(window.from_s)} to {amounts.time(window.until_s)}"


def _ends(window: Window) -> str:
    return window.binding.title.lower() if window.binding is not None else window.why


def _verdict(one: Candidate | Option) -> str:
    return "" if one.statement is None else one.statement.verdict


def _compared(suggestion: Suggestion) -> Iterator[str]:
    yield "Candidates; durations of the last pulse:"
    rows = [["", "as set up", "shared by 5 benches", "good", "verdict"]]
    for one in suggestion.candidates[:SHOWN]:
        name = f"  {one.train.name}{_values(suggestion, one)}"
        good = "" if one.good is None else f"{100.0 * one.good.share:.0f} %"
        rows.append([name, _span(one.nominal), _span(one.window), good, _verdict(one)])
    yield from table(rows)


def _options(suggestion: Suggestion) -> Iterator[str]:
    if not suggestion.options:
        return
    yield ""
    yield "Changes that were tried, those that help and cost least first:"
    rows = [["", "costs", "window as set up", "verdict"]]
    for one in suggestion.options:
        why = _span(one.window) if one.window.open else f"none: {_gap(one.window)}"
        name = f"  {one.change.what}, {one.change.detail}"
        rows.append([name, COST_WORDS[one.change.cost], why, _verdict(one)])
    yield from table(rows)
    if not any(one.safe for one in suggestion.options):
        yield "None of them was found to be in the window, as surely as the setup asks."


def _plan(suggestion: Suggestion, steps: tuple[Step, ...]) -> Iterator[str]:
    if not steps:
        yield (
            "No trial plan: no pulse on this bench is expected to tear a button even from a coupon. Change"
            " the bench first, as above."
        )
        return
    train = f"{suggestion.tried.train.name}{_values(suggestion, suggestion.tried)}"
    yield f"Trial plan, {train}, in this order; stop when a step does not come out as expected:"
    rows = []
    for one in steps:
        first, *others = one.words
        contact = f" ({' or '.join(others)} if the bench differs)" if others else ""
        expected = f"expect {first}{contact}, {size_text(one)}"
        inside = f", inside {one.inside}" if one.inside else ""
        rows.append(
            [f"  {one.count} x {PLACES[one.cell]}", amounts.time(one.duration_s), f"{expected}{inside}"]
        )
    yield from table(rows)
    if not suggestion.safe:
        yield "  No further than coupons until a fit to them leaves a setting in the window."
    yield "Fill in what happened in the table of trials and give it to `nugget calibrate`."
