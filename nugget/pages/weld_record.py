"""The record of one judged weld: everything that is known about it, in one file."""

from __future__ import annotations

from dataclasses import dataclass

from nugget.merit import amounts
from nugget.merit.figure import FIGURES
from nugget.outcome import report_rows
from nugget.outcome.record import data_sources
from nugget.outcome.verdict import MEANING
from nugget.outcome.weld import Weld
from nugget.pages.frames import section_of
from nugget.pages.history_plots import history_plots
from nugget.pages.line_plot import number
from nugget.pages.render import Origin, input_hash, render
from nugget.study.statement import judged_rows
from nugget.study.statement.assessment import Assessment

KIND = "Weld record"
DRAWN = "source_energy_J"


@dataclass(frozen=True)
class Energy:
    """One part of what was drawn from the source."""

    title: str
    value: str
    percent: float


def tone_of(verdict: str) -> str:
    """How a page sets a verdict off: what holds, what is open, what fails."""
    return {"in window": "holds", "uncertain": "open"}.get(verdict, "fails")


def record_page(assessment: Assessment, origin: Origin | None = None) -> str:
    """Return the weld record as one page of HTML.

    Parameters
    ----------
    assessment : Assessment
        With fields in time, when `nugget.study.statement.assessment.judge` was asked for frames; else the
        section is shown at the moments that every weld keeps.
    origin : Origin, optional
        What the setup was read from.
    """
    weld = assessment.weld
    setup = weld.setup
    return render(
        "weld_record.html",
        kind=KIND,
        title=setup.title,
        verdict=assessment.verdict,
        tone=tone_of(assessment.verdict),
        meaning=MEANING[assessment.verdict],
        reason=assessment.reason,
        next=judged_rows.next_step(assessment.statement),
        setting=report_rows.setting_rows(setup),
        section=section_of(weld),
        limits=judged_rows.limit_rows(assessment),
        uncertain=judged_rows.open_questions(assessment),
        depends=judged_rows.depends_rows(assessment),
        plots=history_plots(weld),
        sections=[one for one in report_rows.sections(setup, weld.figures) if one[0] != "weld"],
        energies=energies(weld),
        data=data_sources(setup),
        resolved=setup.to_toml(),
        origin=origin or Origin(),
        hash=input_hash(setup),
        number=number,
    )


def energies(weld: Weld) -> list[Energy]:
    """Every energy that the source delivered, by its figure, as a share of what was drawn."""
    drawn = weld.figures[DRAWN] or 0.0
    found = []
    for key, one in FIGURES.items():
        value = weld.figures.get(key)
        if one.unit == "J" and one.section == "source" and value is not None:
            words = f"{amounts.figure(one, value)}{report_rows.counted(one, weld.setup)}"
            share = 100.0 * abs(value) / drawn if drawn > 0.0 else 0.0
            found.append(Energy(one.title, words, round(min(share, 100.0), 1)))
    return found
