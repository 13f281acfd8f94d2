"""What ``nugget pulse`` prints of a judged weld: the answer on one page, or the whole report."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Iterator

from rich.console import Console, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from nugget.outcome import report_rows
from nugget.outcome.record import CAUTIONS
from nugget.outcome.report_rows import Row
from nugget.outcome.verdict import MEANING
from nugget.study.statement import judged_rows
from nugget.study.statement.assessment import Assessment
from nugget.study.statement.judged_rows import LimitRow

Commands = tuple[str, str]

COMMANDS = ("nugget pulse", "nugget calibrate")
NARROWEST, WIDEST = 80, 100
LABEL_COLUMNS = 22
LINES = 47
"""Of the short page, so that it fits 50 with the names of the files that were written."""
LEAST_SENSITIVITY = 5
"""Lines of the short page that limits leave to what the answer depends on, unless they are exceeded."""


def print_summary(assessment: Assessment, in_full: bool = False, commands: Commands = COMMANDS) -> None:
    """Print to stdout, in 80 to 100 columns, plain when it is not a terminal.

    Parameters
    ----------
    assessment : Assessment
    in_full : bool
        The report with all figures, sources and cautions instead of one page.
    commands : (str, str)
        This command and `nugget calibrate` with all options in force, to be shown.
    """
    columns = min(WIDEST, max(NARROWEST, shutil.get_terminal_size((WIDEST, 24)).columns))
    console = Console(width=columns, markup=False, highlight=False, emoji=False)
    with console.capture() as captured:
        sheet = whole_sheet(assessment, commands) if in_full else one_page(assessment, console, commands)
        for part in sheet:
            console.print(part)
    for line in captured.get().splitlines():  # rich fills its lines with blanks
        print(line.rstrip())


def one_page(
    assessment: Assessment, console: Console, commands: Commands = COMMANDS
) -> Iterator[RenderableType]:
    """Yield what has to be known before a pulse is fired, in 50 lines.

    Limits with much room, and then sensitivities, are left out where lines run out; a limit that is
    exceeded, or exceeded in too many welds, never is.
    """
    setup = assessment.weld.setup
    top = [
        *_answer(assessment, commands),
        *_section("Setting", report_rows.setting_rows(setup), indent=False),
        *_section("Figures without a limit", judged_rows.free_rows(assessment), indent=False),
    ]
    room = LINES - _height(console, top)
    rows = sorted(judged_rows.limit_rows(assessment), key=lambda row: (not row.bad, row.nearness))
    depends = judged_rows.depends_rows(assessment)
    least = LEAST_SENSITIVITY if depends else 0
    shown = len(rows)
    while shown > sum(row.bad for row in rows) and _height(console, _near_limits(rows, shown)) > room - least:
        shown -= 1
    limits = list(_near_limits(rows, shown))
    room -= _height(console, limits)
    while depends and _height(console, _section("Sensitivity", depends, indent=False)) > room:
        depends.pop()
    yield from (*top, *limits, *_section("Sensitivity", depends, indent=False))


def _height(console: Console, parts: Iterable[RenderableType]) -> int:
    """Lines that these parts take."""
    return sum(len(console.render_lines(part, pad=False)) for part in parts)


def whole_sheet(assessment: Assessment, commands: Commands = COMMANDS) -> Iterator[RenderableType]:
    """Yield the parts of the report, top to bottom."""
    yield from _answer(assessment, commands)
    weld = assessment.weld
    for _, title, rows in report_rows.sections(weld.setup, weld.figures):
        yield from _section(title, rows)
    yield from _limits(assessment)
    yield from _section("Sensitivity", judged_rows.depends_rows(assessment))
    yield from _section("Data and numerics", judged_rows.evidence_rows(assessment))
    yield _heading("Cautions")
    yield _listed(("-", caution) for caution in CAUTIONS)


def _answer(assessment: Assessment, commands: Commands) -> Iterator[RenderableType]:
    """Verdict, reason and next step."""
    yield Text(assessment.weld.setup.title, style="bold")
    yield Text(f"VERDICT: {assessment.verdict.upper()}, {MEANING[assessment.verdict]}", style="bold")
    yield _indented(Text(assessment.reason))
    yield _listed([("Next:", judged_rows.next_step(assessment.statement, *commands)), ("", CAUTIONS[0])])


def _section(title: str, rows: Iterable[Row], indent: bool = True) -> Iterator[RenderableType]:
    kept = list(rows)
    if not kept:
        return
    yield _heading(title) if indent else Text(title, style="bold")
    table = Table.grid(padding=(0, 2))
    table.add_column(width=LABEL_COLUMNS if indent else None)
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


def _near_limits(rows: list[LimitRow], most: int) -> Iterator[RenderableType]:
    """The first `most` limits, and how many more there are."""
    yield Text("Minimum diameter and limits as set up, the smallest margin first", style="bold")
    table = _columns("", "value", "allowed", "margin", "not met in")
    table.add_column("")
    for row in rows[:most]:
        table.add_row(row.title, row.value, row.allowed, row.margin, row.chance, row.state)
    if rows[most:]:
        table.add_row(f"{len(rows[most:])} more", "", "", "", "", judged_rows.KEPT)
    yield _indented(table)


def _limits(assessment: Assessment) -> Iterator[RenderableType]:
    yield _heading("Minimum diameter and limits")
    said = "Values as set up; `not met in`: the share of welds, over all that is not known exactly."
    yield _indented(Text(said))
    table = _columns("", "value", "allowed", "margin", "not met in", "source")
    table.add_column("")
    sources = []
    for number, row in enumerate(judged_rows.limit_rows(assessment), start=1):
        table.add_row(row.title, row.value, row.allowed, row.margin, row.chance, f"[{number}]", row.state)
        sources.append((f"[{number}]", row.source))
    yield _indented(table)
    yield _listed(sources)
