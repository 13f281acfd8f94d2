"""What a judgement says, in rows of words: limits with their margins, sensitivity, data, the next step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from nugget.merit import amounts
from nugget.merit.figure import FIGURES, Figure
from nugget.outcome import lab_sheet
from nugget.outcome.lab_sheet import Row, target_source
from nugget.outcome.record import data_sources
from nugget.outcome.verdict import BAND, BAND_VARIANTS, NOMINAL, Judged, Judgement

KEPT, BROKEN, REACHED, MISSED = "kept", "BROKEN", "reached", "MISSED"
NEXT = {
    "in window": "weld this strip on a coupon with this setting and peel it, then on an empty can, then on a"
    " dead cell",
    "too cold": "see with `nugget chart` whether any longer pulse makes the joint before a limit is met;"
    " some strips need another tip, less force or more voltage instead",
    "too hot": "see with `nugget chart` whether any shorter pulse still makes the joint",
    "hardware limit": "ask less of the hardware, or measure what it may give and put that into the setup",
    "no window": "no length of this pulse will do: `nugget suggest` tries other trains and names changes of"
    " force, tip and source",
    "uncertain": "measure what the answer depends on: weld coupons around this setting, then"
    " `nugget calibrate`; `nugget suggest` looks for a setting that depends on it less",
}
"""What to do after each verdict."""


@dataclass(frozen=True)
class LimitRow:
    """The target, or one limit, as people read it.

    Attributes
    ----------
    title, value, allowed, margin, state, source, confidence : str
    bad : bool
        Whether it is missed or broken at any contact radius of the band.
    nearness : float
        Margin over the bound, for sorting: negative when broken, infinite where there is no margin.
    """

    title: str
    value: str
    allowed: str
    margin: str
    state: str
    source: str
    confidence: str
    bad: bool
    nearness: float


def next_step(judgement: Judgement) -> str:
    """What to do now."""
    return NEXT[judgement.verdict]


def limit_rows(judgement: Judgement) -> list[LimitRow]:
    """The target, then every limit, in the order of the setup."""
    setup, fused = judgement.weld.setup, FIGURES["nugget_diameter_m"]
    size, target = judgement.weld.figures[fused.key], setup.joint.target_diameter_m
    missed = [(judgement.sensitivity[name][fused.key] or 0.0) < target for name in BAND_VARIANTS]
    first = LimitRow(
        fused.title,
        amounts.figure(fused, size),
        f"min {amounts.figure(fused, target)}",
        amounts.difference(fused, size - target),
        state_words(missed, REACHED, MISSED),
        target_source(setup),
        "",
        any(missed),
        size / target - 1.0,
    )
    return [first, *(_limit_row(judged, setup.ambient_K) for judged in judgement.limits)]


def _limit_row(judged: Judged, ambient_K: float) -> LimitRow:
    value, allowed, margin = limit_words(judged)
    state = state_words(list(judged.broken), KEPT, BROKEN)
    limit, bad = judged.limit, any(judged.broken)
    scale = abs(limit.bound - (ambient_K if limit.what.unit == "K" else 0.0))
    nearness = float("inf") if judged.margin is None or not scale else judged.margin / scale
    if bad and nearness > 0.0:  # broken at another radius, or one that may never be
        nearness = 0.0
    return LimitRow(
        judged.title, value, allowed, margin, state, limit.source, limit.confidence, bad, nearness
    )


def free_rows(judgement: Judgement) -> list[Row]:
    """The figures of a short answer that `limit_rows` does not show."""
    weld = judgement.weld
    shown = {judged.limit.figure for judged in judgement.limits} | {"nugget_diameter_m", "target_diameter_m"}
    return [
        (one.title, f"{amounts.figure(one, value)}{lab_sheet.counted(one, weld.setup)}")
        for key, one in FIGURES.items()
        if one.weight != "plain" and key not in shown and (value := weld.figures.get(key)) is not None
    ]


def state_words(bad: list[bool], good_word: str, bad_word: str) -> str:
    """What holds at the nominal contact radius, and at which other radii it differs."""
    nominal = bad[len(bad) // 2]
    other = [f"x {factor:g}" for factor, one in zip(BAND, bad, strict=True) if one != nominal]
    word = bad_word if nominal else good_word
    return word + (f", not at {' and '.join(other)}" if other else "")


def other_radii() -> str:
    """The contact radii of the band but the nominal one."""
    return " or ".join(f"x {factor:g}" for factor in BAND if factor != 1.0)


def limit_words(judged: Judged) -> tuple[str, str, str]:
    """Value, bound and margin of a limit in the units that people use."""
    limit, one, margin = judged.limit, judged.limit.what, judged.margin
    bound = amounts.figure(one, limit.bound)
    allowed = f"min {bound}" if limit.sense == "at least" else bound
    room = amounts.NOTHING if margin is None or limit.sense == "never" else amounts.difference(one, margin)
    return amounts.figure(one, judged.value), allowed, room


def sensitivity_table(judgement: Judgement) -> tuple[list[str], list[list[str]]]:
    """Headings, the first one empty, and a row for each variant: its name and the headline figures."""
    runs = judgement.sensitivity
    nominal = runs[NOMINAL]
    shown = [
        FIGURES[key]
        for key, value in nominal.items()
        if FIGURES[key].weight == "headline" and FIGURES[key].unit in ("m", "K") and value is not None
    ]
    heads = ["", *(one.short or one.title.lower() for one in shown)]
    rows = [
        [variant_title(name), *(_changed(one, figures[one.key], nominal[one.key]) for one in shown)]
        for name, figures in runs.items()
    ]
    return heads, rows


def sensitivity_note(judgement: Judgement) -> str:
    """Why the source's resistance is not among the variants; empty where it is."""
    if any(name.startswith("source resistance") for name in judgement.sensitivity):
        return ""
    drive = judgement.weld.setup.circuit.source.drive
    why = "the source sets the current" if drive == "current" else "the source has none of its own"
    return f"Source resistance: without influence, {why}."


def variant_title(name: str) -> str:
    """A variant in words."""
    what, _, factor = name.partition(" x ")
    title = {NOMINAL: "as set up", "radius": "contact radius", "force": "tip force"}.get(what, what)
    return f"{title} x {factor}" if factor else title


def _changed(one: Figure, value: float | None, nominal: float | None) -> str:
    if value is None or nominal is None:
        return amounts.NOTHING
    words = amounts.figure(one, value)
    if one.unit == "K":
        step = value - nominal
        change = f"{step:+.1f} K" if abs(step) < 10.0 else f"{step:+.0f} K"
    else:
        change = amounts.change(value, nominal)
    return words if value == nominal or not change else f"{words} ({change})"


def open_questions(judgement: Judgement) -> list[Row]:
    """What the answer hangs on, and what would settle it."""
    return [
        ("Answer", f"{judgement.verdict}: {judgement.reason}"),
        ("What would settle it", next_step(judgement)),
        *evidence_rows(judgement),
    ]


def evidence_rows(judgement: Judgement) -> Iterator[Row]:
    """What the numbers rest on."""
    figures, setup = judgement.weld.figures, judgement.weld.setup
    records = data_sources(setup)
    weak = {kind: sum(r["confidence"] == kind for r in records) for kind in ("memory", "estimated")}
    yield "Data", f"{len(records)} records, {weak['memory']} from memory and {weak['estimated']} estimated"
    if figures["held_past_table"]:
        yield "Hotter than its data", f"{', '.join(figures['held_past_table'])}: last values held"
    if not figures["peak_reached"]:
        yield "Peak", f"not passed when the run ended at {amounts.time(figures['end_time_s'])}"
    yield "Run", _run(figures, judgement.weld.seconds)


def _run(figures: dict[str, Any], seconds: float) -> str:
    size = f"{figures['cells']} cells, {figures['steps']} steps, {seconds:.1f} s"
    residuals = f"{figures['energy_residual']:.0e} of energy, {figures['circuit_residual']:.0e} of circuit"
    return f"{size}; residuals {residuals}"
