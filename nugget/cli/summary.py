"""The lab sheet that ``nugget pulse`` prints: one judged weld in words and tables."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator
from typing import Any

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from nugget.cli.lab_sheet import circuit_rows, face_rows, figure_rows, target_source, welded_rows
from nugget.merit import amounts
from nugget.merit.figure import FIGURES, Figure
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.outcome.registry import SECTIONS
from nugget.outcome.verdict import BAND, BAND_VARIANTS, MEANING, NOMINAL, Judged, Judgement
from nugget.setup import Setup

Row = tuple[str, str]

NARROWEST, WIDEST = 80, 100
LABEL_COLUMNS = 22


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
    for section in dict.fromkeys([*SECTIONS, *(one.section for one in FIGURES.values())]):
        if section != "march":
            yield from _section(_title(section, figures), _rows(section, setup, figures))
    yield from _limits(judgement)
    yield from _sensitivity(judgement)
    yield _heading(f"VERDICT: {judgement.verdict.upper()}, {MEANING[judgement.verdict]}")
    yield _indented(Text(judgement.reason))
    yield from _section("Behind the numbers", _evidence(judgement))
    yield _heading("Cautions")
    yield _listed(("-", caution) for caution in CAUTIONS)


def _title(section: str, figures: dict[str, Any]) -> str:
    if section == "interior" and figures["interior_peak_K"] is None:
        return "Back of the wall"
    return SECTIONS.get(section, section.capitalize())


def _rows(section: str, setup: Setup, figures: dict[str, Any]) -> Iterator[Row]:
    """What a section says of the setup, then the figures that stand in it."""
    if section == "weld":
        yield from welded_rows(setup)
    if section == "source":
        yield from circuit_rows(setup)
    if section == "interior":
        yield from face_rows(figures)
    yield from figure_rows(section, setup, figures)


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
    yield _indented(Text(f"As set up; `not at` names the contact radius, {_others()}, that differs."))
    table = _columns("", "value", "allowed", "margin", "source")
    table.add_column("")
    setup, fused = judgement.weld.setup, FIGURES["nugget_diameter_m"]
    size, target = judgement.weld.figures[fused.key], setup.joint.target_diameter_m
    band = [judgement.sensitivity[name][fused.key] or 0.0 for name in BAND_VARIANTS]
    table.add_row(
        fused.title,
        amounts.figure(fused, size),
        f"min {amounts.figure(fused, target)}",
        amounts.difference(fused, size - target),
        "[1]",
        _state([value < target for value in band], "reached", "MISSED"),
    )
    sources = [("[1]", target_source(setup))]
    for number, judged in enumerate(judgement.limits, start=2):
        value, allowed, margin = _limit_words(judged)
        state = _state(list(judged.broken), "kept", "BROKEN")
        table.add_row(judged.title, value, allowed, margin, f"[{number}]", state)
        sources.append((f"[{number}]", judged.limit.source))
    yield _indented(table)
    yield _listed(sources)


def _state(bad: list[bool], good_word: str, bad_word: str) -> str:
    """What holds at the nominal contact radius, and at which other radii it differs."""
    nominal = bad[1]
    other = [f"x {factor:g}" for factor, one in zip(BAND, bad, strict=True) if one != nominal]
    word = bad_word if nominal else good_word
    return word + (f", not at {' and '.join(other)}" if other else "")


def _others() -> str:
    return " or ".join(f"x {factor:g}" for factor in BAND if factor != 1.0)


def _limit_words(judged: Judged) -> tuple[str, str, str]:
    """Value, bound and margin of a limit in the units that people use."""
    limit, one, margin = judged.limit, judged.limit.what, judged.margin
    bound = amounts.figure(one, limit.bound)
    allowed = f"min {bound}" if limit.sense == "at least" else bound
    room = amounts.NOTHING if margin is None or limit.sense == "never" else amounts.difference(one, margin)
    return amounts.figure(one, judged.value), allowed, room


def _sensitivity(judgement: Judgement) -> Iterator[RenderableType]:
    yield _heading("Sensitivity: what the answer depends on")
    runs = judgement.sensitivity
    nominal = runs[NOMINAL]
    shown = [
        FIGURES[key]
        for key, value in nominal.items()
        if FIGURES[key].weight == "headline" and FIGURES[key].unit in ("m", "K") and value is not None
    ]
    table = _columns("", *(one.short or one.title.lower() for one in shown))
    for name, figures in runs.items():
        table.add_row(_variant(name), *(_changed(one, figures[one.key], nominal[one.key]) for one in shown))
    yield _indented(table)
    if not any(name.startswith("source resistance") for name in runs):
        drive = judgement.weld.setup.circuit.source.drive
        why = "the source sets the current" if drive == "current" else "the source has none of its own"
        yield _indented(Text(f"Source resistance: without influence, {why}."))


def _variant(name: str) -> str:
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
