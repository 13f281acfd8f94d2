"""All figures of merit of one march."""

from __future__ import annotations

from typing import Any

from nugget.outcome.reading import Reading
from nugget.outcome.recorder import Recorder
from nugget.outcome.registry import FIGURES


def figures_of(recorder: Recorder, peak_reached: bool) -> dict[str, Any]:
    """Every figure of the registry, JSON-ready, by key."""
    return read_figures(Reading.of(recorder, peak_reached))


def read_figures(reading: Reading, section: str = "") -> dict[str, Any]:
    """Read all figures, or those of one section, off a march.

    Raises
    ------
    InputError
        When the reader of a plugin's figure fails; the line names the plugin.
    """
    return {key: one.value(reading) for key, one in FIGURES.items() if section in ("", one.section)}
