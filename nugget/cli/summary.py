"""The lab sheet that ``nugget pulse`` prints: one judged weld in words and tables."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from nugget.cli import amounts
from nugget.cli.lab_sheet import (
    hardware_rows,
    interior_rows,
    joint_rows,
    source_rows,
    target_source,
    welded_rows,
)
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.outcome.verdict import BAND, Judged, Judgement

Row = tuple[str, str]

MEANING = {
    "in window": "the joint reaches its target and every limit is kept",
    "too cold": "the joint stays below its target; every limit is kept",
    "too hot": "the joint reaches its target, but a limit is broken",
    "no window": "a limit is broken before the joint reaches its target",
    "uncertain": "the answer depends on something that is not known well enough",
}
NARROWEST, WIDEST = 80, 100
LABEL_COLUMNS = 22
FLAGS = ("strip_melted_through", "expulsion")


def print_summary(judgement: Judgement) -> None:
    """Print the summary to stdout, in 80 to 100 columns, plain when it is not a terminal."""
    columns = min(WIDEST, max(NARROWEST, shutil.get_terminal_size((WIDEST, 24)).columns))
    console = Console(width=columns, markup=False, highlight=False, emoji=False)
    with console.capture() as captured:
        for part in summary(judgement):
            console.print(part)
    for line in captured.get().splitlines():  # rich fills its lines with blanks
        print(line.rstrip())


def summary(judgement: Judgement) -> Iterator[RenderableType]:
    """Yield the parts of the summary, top to bottom."""
    weld = judgement.weld
    figures, setup = weld.figures, weld.setup
    yield Text(setup.title, style="bold")
    yield from _section("What was welded", welded_rows(setup))
    yield from _section("What the source delivered", source_rows(setup, figures))
    yield from _section("Joint", joint_rows(setup, figures))
    inside = figures["interior_peak_K"] is not None
    place = "Interior of the cell" if inside else "Back of the wall"
    yield from _section(place, interior_rows(setup, figures))
    yield from _section("Hardware", hardware_rows(setup, figures))
    yield from _limits(judgement)
    yield from _sensitivity(judgement)
    yield _heading(f"VERDICT: {judgement.verdict.upper()}, {MEANING[judgement.verdict]}")
    yield _indented(Text(judgement.reason))
    yield from _section("Behind the numbers", _evidence(judgement))
    yield _heading("Cautions")
    yield _listed(("-", caution) for caution in CAUTIONS)


def _section(title: str, rows: Iterable[Row]) -> Iterator[RenderableType]:
    kept = list(rows)
    if not kept:
        return
    yield _heading(title)
    table = Table.grid(padding=(0, 2))
    table.add_column(width=LABEL_COLUMNS)
    table.add_column()
    for label, value in kept:
        table.add_row(label, value)
    yield _indented(table)


def _heading(title: str) -> Text:
    return Text("\n" + title, style="bold")


def _indented(part: RenderableType) -> Padding:
    return Padding(part, (0, 0, 0, 2))


def _listed(rows: Iterable[Row]) -> Padding:
    """Marks with hanging text behind them."""
    table = Table.grid(padding=(0, 1))
    table.add_column(no_wrap=True)
    table.add_column()
    for mark, text in rows:
        table.add_row(mark, text)
    return _indented(table)


def _columns(*names: str) -> Table:
    """A table without a frame: the first column is text, the others are figures."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="underline")
    for number, name in enumerate(names):
        table.add_column(name, justify="left" if number == 0 else "right", no_wrap=number > 0)
    return table


def _limits(judgement: Judgement) -> Iterator[RenderableType]:
    yield _heading("Target and limits")
    yield _indented(Text("As set up; `not at` names the contact radius, x 0.8 or x 1.25, that differs."))
    table = _columns("", "value", "allowed", "margin", "source")
    table.add_column("")
    figures, joint = judgement.weld.figures, judgement.weld.setup.joint
    size, target = figures["fused_diameter_m"], joint.target_diameter_m
    band = [figures_of["fused_diameter_m"] or 0.0 for figures_of in _band(judgement)]
    table.add_row(
        "Fused diameter",
        amounts.length(size),
        f"min {amounts.length(target)}",
        f"{(size - target) * 1e3:+.2f} mm",
        "[1]",
        _state([value < target for value in band], "reached", "MISSED"),
    )
    sources = [("[1]", target_source(judgement.weld.setup))]
    for number, judged in enumerate(judgement.limits, start=2):
        value, allowed, margin = _limit_words(judged)
        state = _state(list(judged.broken), "kept", "BROKEN")
        table.add_row(judged.record()["title"], value, allowed, margin, f"[{number}]", state)
        sources.append((f"[{number}]", judged.limit.source))
    yield _indented(table)
    yield _listed(sources)


def _band(judgement: Judgement) -> list[dict[str, float | None]]:
    return [judgement.sensitivity[name] for name in ("radius x 0.8", "nominal", "radius x 1.25")]


def _state(bad: list[bool], good_word: str, bad_word: str) -> str:
    """What holds at the nominal contact radius, and at which other radii it differs."""
    nominal = bad[1]
    other = [f"x {factor:g}" for factor, one in zip(BAND, bad, strict=True) if one != nominal]
    word = bad_word if nominal else good_word
    return word + (f", not at {' and '.join(other)}" if other else "")


def _limit_words(judged: Judged) -> tuple[str, str, str]:
    """Value, bound and margin of a limit in the units that people use."""
    key, value, margin, bound = judged.limit.key, judged.value, judged.margin, judged.limit.value
    if key in FLAGS:
        return ("yes" if value else "no"), "no", amounts.NOTHING
    words: Callable[[float], str] = {"K": amounts.celsius, "A": amounts.ampere}.get(
        judged.limit.unit, amounts.dose if key == "interior_dose" else amounts.share
    )
    least = "min " if key == "load_share" else ""
    if value is None or margin is None:
        return amounts.NOTHING, least + words(bound), amounts.NOTHING
    room = f"{margin:.0f} K" if judged.limit.unit == "K" else words(margin)
    return words(value), least + words(bound), "+" + room if margin >= 0.0 else room


def _sensitivity(judgement: Judgement) -> Iterator[RenderableType]:
    yield _heading("Sensitivity: what the answer depends on")
    runs = judgement.sensitivity
    nominal = runs["nominal"]
    columns = [("fused diameter", "fused_diameter_m"), ("roll top, peak", "interior_peak_K")]
    columns += [("inner face, peak", "can_inner_peak_K")]
    shown = [(title, key) for title, key in columns if nominal[key] is not None]
    table = _columns("", *(title for title, _ in shown))
    for name, figures in runs.items():
        table.add_row(_variant(name), *(_changed(key, figures[key], nominal[key]) for _, key in shown))
    yield _indented(table)
    if not any(name.startswith("source resistance") for name in runs):
        drive = judgement.weld.setup.circuit.source.drive
        why = "the source sets the current" if drive == "current" else "the source has none of its own"
        yield _indented(Text(f"Source resistance: without influence, {why}."))


def _variant(name: str) -> str:
    what, _, factor = name.partition(" x ")
    title = {"nominal": "as set up", "radius": "contact radius", "force": "tip force"}.get(what, what)
    return f"{title} x {factor}" if factor else title


def _changed(key: str, value: float | None, nominal: float | None) -> str:
    if value is None or nominal is None:
        return amounts.NOTHING
    if key.endswith("_K"):
        step = value - nominal
        words, change = amounts.celsius(value), f"{step:+.1f} K" if abs(step) < 10.0 else f"{step:+.0f} K"
    else:
        words, change = amounts.length(value), amounts.change(value, nominal)
    return words if value == nominal or not change else f"{words} ({change})"


def _evidence(judgement: Judgement) -> Iterator[Row]:
    figures, setup = judgement.weld.figures, judgement.weld.setup
    records = data_sources(setup)
    weak = {kind: sum(r["confidence"] == kind for r in records) for kind in ("memory", "estimated")}
    yield (
        "Data",
        f"{len(records)} records, {weak['memory']} from memory and {weak['estimated']} estimated;"
        " --json lists them with their sources",
    )
    if figures["held_past_table"]:
        yield "Hotter than its data", f"{', '.join(figures['held_past_table'])}: last values held"
    if not figures["peak_reached"]:
        yield "Peak", f"not passed when the run ended at {amounts.time(figures['end_time_s'])}"
    yield "March", _march(figures, judgement.weld.seconds)


def _march(figures: dict[str, Any], seconds: float) -> str:
    size = f"{figures['cells']} cells, {figures['steps']} steps, {seconds:.1f} s"
    residuals = f"{figures['energy_residual']:.0e} of energy, {figures['circuit_residual']:.0e} of circuit"
    return f"{size}; residuals {residuals}"
