"""Results as a notebook shows them: a table and a picture, every text escaped."""

from __future__ import annotations

import base64
import html
import io
from collections.abc import Iterable
from typing import TYPE_CHECKING

from nugget.merit import amounts
from nugget.outcome.weld_text import key_figures

if TYPE_CHECKING:
    from nugget.api.results import Judgement, Weld

DPI = 90
CAUTION = "A predicted weld is not a safe weld."


def weld_html(weld: Weld) -> str:
    """Return the key figures of a weld and its section."""
    rows = [(title, value, "") for title, value in key_figures(weld)]
    return f"<h4>{html.escape(weld.setup.title)}</h4>{_table(rows)}{_picture(weld)}"


def judgement_html(judgement: Judgement) -> str:
    """Return verdict, reason, limits with their margins, key figures and the section."""
    weld = judgement.weld
    rows = [(title, value, "") for title, value in key_figures(weld)]
    for judged in judgement.limits:
        limit, chance = judged.limit, judgement.chance(judged.limit.id)
        state = "exceeded" if judged.broken else "within limit"
        if chance is not None:
            state += f"; exceeded in {100.0 * chance.share:.0f} % of welds"
        value = "does not apply" if judged.value is None else amounts.figure(limit.what, judged.value)
        bound = "" if limit.sense == "never" else f" {amounts.figure(limit.what, limit.bound)}"
        rows.append((f"limit {judged.title}: {limit.sense}{bound}", value, state))
    head = f"<h4>{html.escape(weld.setup.title)}: {html.escape(judgement.verdict)}</h4>"
    return f"{head}<p>{html.escape(judgement.reason)}. {CAUTION}</p>{_table(rows)}{_picture(weld)}"


def _table(rows: Iterable[tuple[str, str, str]]) -> str:
    cells = "".join(f"<tr>{''.join(f'<td>{html.escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table>{cells}</table>"


def _picture(weld: Weld) -> str:
    """The section as an inline PNG."""
    stream = io.BytesIO()
    weld.plot_section().savefig(stream, format="png", dpi=DPI)
    coded = base64.b64encode(stream.getvalue()).decode("ascii")
    return f'<img alt="section of the weld" src="data:image/png;base64,{coded}">'
