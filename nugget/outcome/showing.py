"""A weld in a few lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nugget.constants import ZERO_CELSIUS_K

if TYPE_CHECKING:
    from nugget.outcome.verdict import Judgement
    from nugget.outcome.weld import Weld

KEY = (
    ("fused_diameter_m", "fused diameter", 1e3, 0.0, "{:.2f} mm"),
    ("target_diameter_m", "weld-size target", 1e3, 0.0, "{:.2f} mm"),
    ("peak_current_A", "peak current", 1.0, 0.0, "{:.0f} A"),
    ("weld_energy_J", "energy in the weld", 1.0, 0.0, "{:.3g} J"),
    ("can_penetration", "melted share of the wall", 100.0, 0.0, "{:.0f} %"),
    ("can_inner_peak_K", "inner face of the wall, peak", 1.0, -ZERO_CELSIUS_K, "{:.0f} °C"),
    ("interior_peak_K", "top of the roll, peak", 1.0, -ZERO_CELSIUS_K, "{:.0f} °C"),
)
"""Figure, title, factor, offset and form of what a short answer shows."""


def key_figures(weld: Weld) -> list[tuple[str, str]]:
    """Return title and value of the figures that a short answer shows."""
    found = []
    for name, title, factor, offset, form in KEY:
        value = weld.figures.get(name)
        if value is not None:
            found.append((title, form.format(float(value) * factor + offset)))
    return found


def weld_text(weld: Weld) -> str:
    """Return a weld in a few lines."""
    facts = [f"{title} {value}" for title, value in key_figures(weld)]
    fields = (
        "" if weld.figures.get("peak_reached", True) else "\n  ended before the interior had passed its peak"
    )
    return f"<Weld {weld.setup.title!r}>\n  " + "\n  ".join(facts) + fields


def judgement_text(judgement: Judgement) -> str:
    """Return a judgement in a few lines."""
    return f"<Judgement {judgement.weld.setup.title!r}: {judgement.verdict}>\n  {judgement.reason}"
