"""A weld in a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nugget.merit import amounts
from nugget.merit.figure import FIGURES

if TYPE_CHECKING:
    from nugget.outcome.weld import Weld


def key_figures(weld: Weld) -> list[tuple[str, str]]:
    """Return title and value of the figures that a short answer shows."""
    shown = ((one, weld.figures.get(key)) for key, one in FIGURES.items() if one.weight != "plain")
    return [(one.title.lower(), amounts.figure(one, value)) for one, value in shown if value is not None]


def weld_text(weld: Weld) -> str:
    """Return a weld in a few lines."""
    facts = [f"{title} {value}" for title, value in key_figures(weld)]
    fields = (
        "" if weld.figures.get("peak_reached", True) else "\n  ended before the interior had passed its peak"
    )
    return f"<Weld {weld.setup.title!r}>\n  " + "\n  ".join(facts) + fields
