"""What ``nugget suggest`` prints: the setting, what was compared, the hardware, the trial plan."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli.text_tables import WIDTH, table
from nugget.merit import amounts
from nugget.outcome.record import CAUTIONS
from nugget.study.durations.window import Window
from nugget.study.suggestion.candidate import Candidate, Suggestion
from nugget.study.suggestion.trial_plan import Step, size_text

SHOWN = 6
PLACES = {"coupon": "coupon", "empty can": "empty can", "cell": "discharged scrap cell"}


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
        yield f"No safe setting: none keeps every limit at contact radius {_band(suggestion.band)}."
        if suggestion.crossing:
            yield f"With the best one, {best.train.name}{_values(suggestion, best)}: {suggestion.crossing}."
        elif best.nominal.open:
            yield (
                f"The best one, {best.train.name}{_values(suggestion, best)}, has a window at nominal contact"
                f" only, {_span(best.nominal)}; over all contact radii {_gap(best.window)}."
            )
            yield _known(suggestion)
        return
    duration = amounts.time(best.duration_s)
    yield f"Suggested: {best.train.name}, {duration}{_values(suggestion, best)}."
    yield (
        f"At contact radius {_band(suggestion.band)} the joint suffices and every limit holds from"
        f" {_span(best.window)}; then {_ends(best.window)}."
    )
    if best.good is not None:
        interval = f"{100.0 * best.good.low:.0f} to {100.0 * best.good.high:.0f} %"
        share = f"{100.0 * best.good.share:.0f} %"
        yield f"Over everything that is not known exactly {share} of its welds are good (95 %: {interval})."
    if best.statement is not None:
        yield f"VERDICT: {best.statement.verdict.upper()}: {best.statement.reason}."


def _band(band: float) -> str:
    return f"x {1.0 / band:.2g} to {band:.3g}" if band > 1.0 else "x 1"


def _gap(window: Window) -> str:
    """Why radii share no window."""
    limit = "no limit is met" if window.binding is None else f"{_ends(window)} at {_early(window.until_s)}"
    target = "never" if window.from_s is None else f"at {amounts.time(window.from_s)}"
    return f"{limit}, target {target}"


def _early(time_s: float) -> str:
    return "once" if time_s == 0.0 else amounts.time(time_s)


def _known(suggestion: Suggestion) -> str:
    how = "find it by trials on coupons and `nugget calibrate`"
    if suggestion.known is None:
        return f"It would be safe only with the contact radius known within about 1 %: {how}."
    band, window = suggestion.known
    return (
        f"With the contact radius known to within {_band(band)} it would be safe from {_span(window)}:"
        f" {how}, then give --band {band:g}."
    )


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
    rows = [["", "nominal contact", "every contact", "good", ""]]
    for one in suggestion.candidates[:SHOWN]:
        name = f"  {one.train.name}{_values(suggestion, one)}"
        good = "" if one.good is None else f"{100.0 * one.good.share:.0f} %"
        why = "" if one.window.open else _gap(one.window)
        rows.append([name, _span(one.nominal), _span(one.window), good, why])
    yield from table(rows)


def _hardware(suggestion: Suggestion) -> Iterator[str]:
    if not suggestion.hardware:
        return
    yield ""
    yield "Changes of hardware that were tried:"
    rows = [["", "nominal contact", "every contact", ""]]
    for trial, shared in suggestion.hardware:
        why = "" if shared.open else _gap(shared)
        rows.append([f"  {trial.change.what}", _span(trial.window), _span(shared), why])
    yield from table(rows)
    for trial, _ in suggestion.hardware:
        yield f"  {trial.change.what}: {trial.change.detail}"
    if not any(shared.open for _, shared in suggestion.hardware):
        yield "None of them makes a setting that is safe at every contact."


def _plan(suggestion: Suggestion, steps: tuple[Step, ...]) -> Iterator[str]:
    train = f"{suggestion.tried.train.name}{_values(suggestion, suggestion.tried)}"
    yield f"Trial plan, {train}, in this order; stop when a step does not come out as expected:"
    rows = []
    for one in steps:
        first, *others = one.words
        contact = f" ({' or '.join(others)} at other contact)" if others else ""
        expected = f"expect {first}{contact}, {size_text(one)}"
        inside = f", inside {one.inside}" if one.inside else ""
        rows.append(
            [f"  {one.count} x {PLACES[one.cell]}", amounts.time(one.duration_s), f"{expected}{inside}"]
        )
    yield from table(rows)
    if not suggestion.safe:
        yield "  No further than coupons until the fit to them leaves a safe setting."
    yield "Fill in what happened in the table of trials and give it to `nugget calibrate`."
