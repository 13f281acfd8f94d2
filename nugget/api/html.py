"""Results as a notebook shows them: a table and a picture, every text escaped."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING

from nugget.outcome.weld_text import key_figures
from nugget.pages.render import render
from nugget.study.statement import judged_rows

if TYPE_CHECKING:
    from nugget.api.results import Assessment, Weld

DPI = 90
TEMPLATE = "notebook.html"


def weld_html(weld: Weld) -> str:
    """Return the key figures of a weld and its section."""
    return render(
        TEMPLATE,
        title=weld.setup.title,
        verdict="",
        reason="",
        figures=key_figures(weld),
        limits=[],
        picture=_picture(weld),
    )


def assessment_html(assessment: Assessment) -> str:
    """Return verdict, reason, limits with their margins, key figures and the section."""
    weld = assessment.weld
    return render(
        TEMPLATE,
        title=weld.setup.title,
        verdict=assessment.verdict,
        reason=assessment.reason,
        figures=key_figures(weld),
        limits=judged_rows.limit_rows(assessment),
        picture=_picture(weld),
    )


def _picture(weld: Weld) -> str:
    """The section as a PNG in base 64."""
    stream = io.BytesIO()
    weld.plot_section().savefig(stream, format="png", dpi=DPI)
    return base64.b64encode(stream.getvalue()).decode("ascii")
