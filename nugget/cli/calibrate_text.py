"""What ``nugget calibrate`` prints: fitted values, what stays unknown, the most informative next trial."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli.text_tables import WIDTH, table
from nugget.merit import amounts
from nugget.outcome.record import CAUTIONS
from nugget.study.calibration.bench import INNER, SIZE
from nugget.study.calibration.fit import Calibration
from nugget.study.calibration.fit_record import interval_text
from nugget.study.calibration.next_trial import Advice
from nugget.study.calibration.posterior import TOGETHER

TOLD = 5
"""Inputs that are named for each kind of trial."""


def print_calibration(calibration: Calibration) -> None:
    """Print a fit, or that there is none, to stdout."""
    cases = calibration.bench.cases
    welds = sum(trial.count for case in cases for trial in case.trials if trial.result or trial.inside)
    traces = sum(len(case.scopes) for case in cases)
    print(calibration.bench.setup.title)
    counts = (
        _count(welds, "weld"),
        _count(traces, "scope trace"),
        _count(calibration.simulations, "simulation"),
    )
    print(f"{', '.join(counts)}\n")
    if calibration.state == "fitted":
        lines = [*_fitted(calibration), *_uneven(calibration), "", *_predicted(calibration)]
    else:
        title = {"says nothing": "Not identifiable", "not converged": "The fit has not converged"}
        lines = [f"{title[calibration.state]}: {calibration.why}. Nothing was fitted; no machine file."]
    lines += [
        *_told(calibration),
        *_unidentified(calibration),
        *_unlikely(calibration),
        *_advice(calibration),
        "",
        *_assumed(calibration),
        "",
    ]
    lines += CAUTIONS
    for line in lines:
        print(textwrap.fill(line, WIDTH, subsequent_indent=" " * 4) if line else "")


def _count(number: int, name: str) -> str:
    ending = "" if number == 1 else "es" if name.endswith("ch") else "s"
    return f"{number} {name}{ending}"


def _fitted(calibration: Calibration) -> Iterator[str]:
    rows = [["Fitted", "value", "95 % interval", "spread left", "setup had"]]
    for one in calibration.fitted:
        axis = one.item.axis
        left = f"{100.0 * one.deviation:.0f} %"
        rows.append([one.item.title, axis.text(one.value), interval_text(one), left, axis.text(one.item.own)])
    yield from table(rows)
    titles = [one.item.title for one in calibration.carried]
    for k, title in enumerate(titles):
        for other in range(k):
            value = calibration.correlations[k, other]
            if abs(value) > TOGETHER:
                yield f"Correlation of {titles[other]} and {title}: {value:+.2f}"
    for one in calibration.fitted:
        if one.at_its_end:
            yield f"{one.item.title}: as far off as anything is believed to be; setup or table are wrong."
    yield f"The fit makes what was seen {_times(calibration.gain)} as likely as the setup does."


def _uneven(calibration: Calibration) -> Iterator[str]:
    share = 100.0 * calibration.unevenness
    said = f"Simulations scatter about the fit's response by {share:.0f} % of the spread of what was seen"
    yield f"{said}; every interval counts that in."


def _times(gain: float) -> str:
    from math import exp

    return f"{exp(gain):.3g} times" if gain < 20.0 else "over a hundred million times"


def _predicted(calibration: Calibration) -> Iterator[str]:
    """Predicted joints, and temperatures behind the wall, beside what was seen."""
    rows = [["Condition", "pulse", "seen", "joint, setup", "joint, fitted"]]
    behind = [["Condition", "pulse", "seen inside", "inner face, setup", "inner face, fitted"]]
    both = calibration.before, calibration.after
    for case in calibration.bench.cases:
        for at, duration_s in enumerate(case.durations_s):
            trials = [trial for trial in case.trials if trial.duration_s == duration_s]
            start = [case.condition.name, amounts.time(duration_s)]
            seen = ", ".join(_seen(t.result, t.count, t.button_m) for t in trials if t.result)
            inside = ", ".join(_seen(t.inside, t.count, None) for t in trials if t.inside)
            if seen:
                rows.append([*start, seen, *(_size(float(v[case.outputs(SIZE)[at]])) for v in both)])
            if inside:
                peaks = (float(v[case.outputs(INNER)[at]]) for v in both)
                behind.append([*start, inside, *(amounts.celsius(peak_K) for peak_K in peaks)])
    yield from table(rows)
    if len(behind) > 1:
        yield ""
        yield from table(behind)


def _seen(word: str, count: int, button_m: float | None) -> str:
    size = f" {amounts.length(button_m)}" if button_m is not None else ""
    return f"{count} x {word}{size}" if count > 1 else f"{word}{size}"


def _size(size_m: float) -> str:
    return amounts.length(size_m) if size_m > 0.0 else "none"


def _unidentified(calibration: Calibration) -> Iterator[str]:
    if calibration.unidentified:
        yield ""
        yield "Not determined, as uncertain as before:"
        reasons = dict.fromkeys(one.reason for one in calibration.unidentified)
        for reason in reasons:
            titles = ", ".join(one.item.title for one in calibration.unidentified if one.reason == reason)
            yield f"  {titles}: {reason}"
    if calibration.alongside:
        titles = ", ".join(one.item.title for one in calibration.alongside)
        yield f"  The machine file holds {titles} too: told by earlier trials, or together with others."


def _told(calibration: Calibration) -> Iterator[str]:
    if calibration.told:
        yield ""
        yield "What each kind of trial tells by itself, as what it leaves of a spread:"
    for one in calibration.told:
        left = ", ".join(f"{title} {100.0 * share:.0f} %" for title, share in one.left[:TOLD])
        yield f"  {one.title}: {left or 'nothing that was not known'}"


def _unlikely(calibration: Calibration) -> Iterator[str]:
    if calibration.unlikely:
        yield ""
        yield "Rows that the fit cannot explain within the stated spread: " + "; ".join(calibration.unlikely)


def _advice(calibration: Calibration) -> Iterator[str]:
    if calibration.advice:
        yield ""
        yield "Most informative next trial:"
    for one in calibration.advice:
        yield f"  {_advised(one)}: leaves {100.0 * one.factor:.0f} % of the uncertainty of {one.narrows}"


def _advised(one: Advice) -> str:
    if one.kind == "cold":
        return f"the four-wire resistance from tip to tip before the pulse ({one.condition})"
    if one.kind == "trace":
        return f"a scope trace of current and tip voltage ({one.condition}, {amounts.time(one.duration_s)})"
    expected = f"{_size(one.expected_m)} expected"
    return f"one more weld torn open ({one.condition}, {amounts.time(one.duration_s)}; {expected})"


def _assumed(calibration: Calibration) -> Iterator[str]:
    judging = calibration.bench.judging
    spread, outlier_share = 100.0 * judging.spread_share, 100.0 * judging.outlier_share
    tint, dent = amounts.celsius(judging.tint_K), amounts.celsius(judging.dent_K)
    yield (
        f"Assumed: from weld to weld the joint's diameter spreads by {spread:.0f} % of the minimum weld"
        f" diameter, it survives a hand peel from {judging.holds_share:g} of that diameter on and tears a"
        f" button from it on, {outlier_share:.0f} % of the rows are outliers. 'held' counts as at least."
        " --weld-spread and --hand-peel-share change it."
    )
    if any(trial.inside for case in calibration.bench.cases for trial in case.trials):
        yield (
            f"Assumed too: the inner face tints from about {tint} and dents from about {dent} at its peak."
        )
