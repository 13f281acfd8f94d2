"""What ``nugget suggest`` prints: the setting, what was compared, the hardware, the trial plan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli import amounts
from nugget.cli.calibrate_text import WIDTH, table
from nugget.outcome.record import CAUTIONS
from nugget.study.suggest.candidate import Candidate, Suggestion
from nugget.study.suggest.plan import Step, size_text
from nugget.study.window import Window

SHOWN = 6
PLACES = {"coupon": "coupon", "empty can": "empty can", "cell": "dead cell"}


def print_suggestion(suggestion: Suggestion, steps: tuple[Step, ...]) -> None:
    """Print a search and its trial plan to stdout."""
    print(suggestion.setup.title)
    lines = [*_answer(suggestion), "", *_compared(suggestion)]
    lines += [*_hardware(suggestion), "", *_plan(suggestion, steps), "", *CAUTIONS]
    for line in lines:
        print(textwrap.fill(line, WIDTH, subsequent_indent=" " * 4) if line else "")


def _answer(suggestion: Suggestion) -> Iterator[str]:
    best = suggestion.best
    if not suggestion.safe:
        yield f"No safe setting: none keeps every limit at contact radius {_band(suggestion)}."
        if suggestion.crossing:
            yield f"With the best one, {best.train.name}{_values(suggestion, best)}: {suggestion.crossing}."
        elif best.nominal.open:
            yield (
                f"At nominal contact {best.train.name}{_values(suggestion, best)} has a window, "
                f"{_span(best.nominal)}; measure the contact (trials, `nugget calibrate`) and narrow --band."
            )
        return
    duration = amounts.time(best.duration_s)
    yield f"Suggested: {best.train.name}, {duration}{_values(suggestion, best)}."
    yield (
        f"At contact radius {_band(suggestion)} the joint suffices and every limit holds from"
        f" {_span(best.window)}; then {_ends(best.window)}."
    )
    if best.good is not None:
        interval = f"{100.0 * best.good.low:.0f} to {100.0 * best.good.high:.0f} %"
        share = f"{100.0 * best.good.share:.0f} %"
        yield f"Of {best.good.of} welds with the stated tolerances {share} were good (95 %: {interval})."


def _band(suggestion: Suggestion) -> str:
    return f"x {1.0 / suggestion.band:.2g} to {suggestion.band:.3g}" if suggestion.band > 1.0 else "x 1"


def _values(suggestion: Suggestion, one: Candidate) -> str:
    axes = {free.axis.field.path: free.axis for free in suggestion.free}
    return "".join(f", {axes[path].title} {axes[path].text(value)}" for path, value in one.values)


def _span(window: Window) -> str:
    if not window.open:
        return "none"
    return f"{amounts.time(window.from_s)} to {amounts.time(window.until_s)}"


def _ends(window: Window) -> str:
    return window.binding.title.lower() if window.binding is not None else window.why


def _compared(suggestion: Suggestion) -> Iterator[str]:
    yield "Compared; durations of the last pulse:"
    rows = [["", "nominal contact", "every contact", "good"]]
    for one in suggestion.candidates[:SHOWN]:
        name = f"  {one.train.name}{_values(suggestion, one)}"
        good = "" if one.good is None else f"{100.0 * one.good.share:.0f} %"
        rows.append([name, _span(one.nominal), _span(one.window), good])
    yield from table(rows)


def _hardware(suggestion: Suggestion) -> Iterator[str]:
    if not suggestion.hardware:
        return
    yield ""
    yield "Changes of hardware that were tried:"
    for trial, shared in suggestion.hardware:
        if shared.open:
            what = f"safe from {_span(shared)} at every contact"
        elif trial.window.open:
            what = "a window at nominal contact only"
        else:
            what = "no window"
        yield f"  {what}: {trial.sentence}"


def _plan(suggestion: Suggestion, steps: tuple[Step, ...]) -> Iterator[str]:
    yield "Trial plan, in this order; stop when a step does not come out as expected:"
    rows = []
    for one in steps:
        expected = f"expect {' or '.join(one.words)}, {size_text(one)}"
        inside = f", inside {one.inside}" if one.inside else ""
        rows.append(
            [f"  {one.count} x {PLACES[one.cell]}", amounts.time(one.duration_s), f"{expected}{inside}"]
        )
    yield from table(rows)
    if not suggestion.safe:
        yield "  No further than coupons until the fit to them leaves a safe setting."
    yield "Fill in what happened in the table of trials and give it to `nugget calibrate`."
