"""What an assessment says, in rows of words: limits with margins and chances, what decides, the next step."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from nugget.merit import amounts
from nugget.merit.figure import FIGURES
from nugget.merit.limit import Limit
from nugget.outcome import report_rows
from nugget.outcome.record import data_sources
from nugget.outcome.report_rows import Row, target_source
from nugget.outcome.verdict import LimitResult
from nugget.study.statement.assessment import Assessment
from nugget.study.statement.chances import JOINT, Chance
from nugget.study.statement.reasons import Said
from nugget.study.statement.statement import Statement

KEPT, BROKEN, REACHED, MISSED = "within limit", "EXCEEDED", "reached", "NOT REACHED"
OFTEN = "TOO OFTEN"
"""State of what holds as set up, and is not met in more welds than the setup allows."""
NEXT = {
    "in window": "weld this strip on a coupon with this setting and peel it, then on an empty can, then on a"
    " fully discharged, undamaged scrap cell",
    "too cold": "see with `nugget chart` whether any longer pulse makes the joint before a limit is met;"
    " some strips need another tip, less force or more voltage instead",
    "too hot": "see with `nugget chart` whether any shorter pulse still makes the joint",
    "hardware limit": "ask less of the hardware, or measure what it may give and put that into the setup",
    "no window": "no length of this pulse will do: `nugget suggest` tries other trains and names changes of"
    " force, tip and source",
    "uncertain": "no measurement of one input decides it: `nugget suggest` looks for a setting that depends"
    " less on what is not known",
}
"""What to do after each verdict."""
MORE_WELDS = (
    "no measurement of one input decides it, but more simulations may: `nugget scatter`, with the same"
    " options, makes this statement from 256 welds and with a smaller error"
)
SOME = 0.02
"""Limits that fewer welds break, or all but fewer, are not explained."""
NAMED = 4
"""Inputs that are named for each figure."""


@dataclass(frozen=True)
class LimitRow:
    """The target, or one limit, as people read it.

    Attributes
    ----------
    title, value, allowed, margin, state, chance, source, confidence : str
    bad : bool
        Whether it is missed or broken as set up, or in more welds than the setup allows.
    nearness : float
        Margin over the bound, for sorting: negative when broken, infinite where there is no margin.
    """

    title: str
    value: str
    allowed: str
    margin: str
    state: str
    chance: str
    source: str
    confidence: str
    bad: bool
    nearness: float


def next_step(
    statement: Statement | Said, command: str = "nugget pulse", calibrate: str = "nugget calibrate"
) -> str:
    """What to do now; `command` and `calibrate` are the commands with all options in force."""
    if not statement.advice:
        return MORE_WELDS if statement.more_welds else NEXT[statement.verdict]
    parts = []
    for one in statement.advice:
        use = one.use.format(command=command, calibrate=calibrate, field=one.fields[0])
        parts.append(f"measure {one.title} ({one.minutes:g} min), then {use}")
    share = statement.advice[-1].decides
    if share == 0.0:
        return f"{parts[0]}: nothing narrows it more, and it need not decide it by itself"
    return f"{'; next '.join(parts)}: that decides it in {100.0 * share:.0f} % of what may come out"


def limit_rows(assessment: Assessment) -> list[LimitRow]:
    """The target, then every limit, in the order of the setup."""
    setup, fused = assessment.weld.setup, FIGURES["nugget_diameter_m"]
    size, target = assessment.weld.figures[fused.key], setup.joint.minimum_diameter_m
    enough, sure = assessment.chance(JOINT), setup.file.uncertainty.joint
    often = enough is not None and enough.share < sure
    first = LimitRow(
        fused.title,
        amounts.figure(fused, size),
        f"min {amounts.figure(fused, target)}",
        amounts.difference(fused, size - target),
        MISSED if size < target else OFTEN if often else REACHED,
        chance_words(enough, missed=True),
        target_source(setup),
        "",
        size < target or often,
        size / target - 1.0,
    )
    return [first, *(_limit_row(assessment, judged) for judged in assessment.limits)]


def _limit_row(assessment: Assessment, judged: LimitResult) -> LimitRow:
    setup = assessment.weld.setup
    value, allowed, margin = limit_words(judged)
    limit, chance = judged.limit, assessment.chance(judged.limit.id)
    often = too_often(assessment, limit)
    bad = judged.broken or often
    scale = abs(limit.bound - (setup.ambient_K if limit.what.unit == "K" else 0.0))
    nearness = float("inf") if judged.margin is None or not scale else judged.margin / scale
    if bad and nearness > 0.0:  # broken in too many welds, or one that may never be
        nearness = 0.0
    state = limit_state(limit, judged.broken, often)
    words = chance_words(chance)
    return LimitRow(
        judged.title, value, allowed, margin, state, words, limit.source, limit.confidence, bad, nearness
    )


def limit_state(limit: Limit, broken: bool, often: bool = False) -> str:
    """The state of a limit in one word or two: as set up, and over all that is not known exactly."""
    if broken:
        return MISSED if limit.sense == "at least" else BROKEN
    return OFTEN if often else KEPT


def too_often(assessment: Assessment, limit: Limit) -> bool:
    """Whether more welds break a limit than the setup allows."""
    chance = assessment.chance(limit.id)
    sure: float = getattr(assessment.weld.setup.file.uncertainty, limit.severity)
    return chance is not None and chance.share > 1.0 - sure


def chance_words(chance: Chance | None, missed: bool = False) -> str:
    """In how many welds a limit is broken, or (`missed`) a target is not reached, with the error."""
    if chance is None:
        return amounts.NOTHING
    share = 1.0 - chance.share if missed else chance.share
    half = 50.0 * (chance.high - chance.low)
    if share < 0.005 and half < 0.5:
        return "under 1 %"
    return f"{100.0 * share:.0f} % (±{max(half, 1.0):.0f})"


def free_rows(assessment: Assessment) -> list[Row]:
    """The figures of a short answer that `limit_rows` does not show."""
    weld = assessment.weld
    shown = {judged.limit.figure for judged in assessment.limits} | {
        "nugget_diameter_m",
        "minimum_diameter_m",
    }
    return [
        (one.title, f"{amounts.figure(one, value)}{report_rows.counted(one, weld.setup)}")
        for key, one in FIGURES.items()
        if one.weight != "plain" and key not in shown and (value := weld.figures.get(key)) is not None
    ]


def limit_words(judged: LimitResult) -> tuple[str, str, str]:
    """Value, bound and margin of a limit in the units that people use."""
    limit, one, margin = judged.limit, judged.limit.what, judged.margin
    bound = amounts.figure(one, limit.bound)
    allowed = {"at least": f"min {bound}", "at most": bound, "never": "never"}[limit.sense]
    room = amounts.NOTHING if margin is None or limit.sense == "never" else amounts.difference(one, margin)
    return amounts.figure(one, judged.value), allowed, room


def depends_rows(assessment: Assessment) -> list[Row]:
    """Which inputs the joint, and each limit that some welds break and others keep, depend on.

    What most welds break comes first; the joint comes before what as many break.
    """
    statement = assessment.statement
    enough = assessment.chance(JOINT)
    missed = {"minimum_diameter": 0.0 if enough is None else 1.0 - enough.share}
    for judged in assessment.limits:
        chance = statement.chance(judged.limit.id)
        if chance is not None and SOME <= chance.share <= 1.0 - SOME:
            missed[judged.limit.id] = chance.share
    called = {judged.limit.id: judged.title for judged in assessment.limits}
    called["minimum_diameter"] = FIGURES["nugget_diameter_m"].title
    rows = []
    for key in sorted(missed, key=missed.__getitem__, reverse=True):
        named = [f"{name} {100.0 * share:.0f} %" for name, share in statement.influence(key)[:NAMED]]
        rows.append((called[key], ", ".join(named) or "none of them"))
    return rows


def open_questions(assessment: Assessment) -> list[Row]:
    """What the answer depends on, and what would settle it."""
    return [
        ("Answer", f"{assessment.verdict}: {assessment.reason}"),
        ("What would settle it", next_step(assessment.statement)),
        *evidence_rows(assessment),
    ]


def evidence_rows(assessment: Assessment) -> Iterator[Row]:
    """What the numbers rest on."""
    figures, setup = assessment.weld.figures, assessment.weld.setup
    records = data_sources(setup)
    weak = {kind: sum(r["confidence"] == kind for r in records) for kind in ("memory", "estimated")}
    yield "Data", f"{len(records)} records, {weak['memory']} from memory and {weak['estimated']} estimated"
    if figures["held_past_table"]:
        yield "Beyond property tables", f"{', '.join(figures['held_past_table'])}: last value used"
    if not figures["peak_reached"]:
        yield "Peak", f"not passed when the run ended at {amounts.time(figures['end_time_s'])}"
    yield "Run", _run(figures, assessment.weld.seconds)


def _run(figures: dict[str, Any], seconds: float) -> str:
    size = f"{figures['cells']} cells, {figures['steps']} steps, {seconds:.1f} s"
    residuals = f"{figures['energy_residual']:.0e} of energy, {figures['circuit_residual']:.0e} of circuit"
    return f"{size}; residuals {residuals}"
