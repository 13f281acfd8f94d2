"""What a search is kept as: one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nugget.constants import VERSION
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.study.charting.hardware_changes import COST_WORDS
from nugget.study.durations.window import Window
from nugget.study.suggestion.candidate import Candidate, Suggestion
from nugget.study.suggestion.trial_plan import Step


def suggestion_record(suggestion: Suggestion, steps: tuple[Step, ...]) -> dict[str, Any]:
    """Everything about a search, JSON-ready."""
    return {
        "safe": suggestion.safe,
        "longest_s": suggestion.longest_s,
        "free": [{"field": f.axis.field.path, "low": f.low, "high": f.high} for f in suggestion.free],
        "candidates": [_candidate(one) for one in suggestion.candidates],
        "crossing": suggestion.crossing,
        "changes": [
            {
                "change": one.change.what,
                "detail": one.change.detail,
                "costs": COST_WORDS[one.change.cost],
                "values": one.change.values,
                "window": _window(one.window),
                "statement": None if one.statement is None else one.statement.record(),
            }
            for one in suggestion.options
        ],
        "trial_plan": [asdict(step) for step in steps],
        "setup": suggestion.setup.document(whole=True),
        "data_sources": data_sources(suggestion.setup),
        "cautions": list(CAUTIONS),
        "version": VERSION,
    }


def _candidate(one: Candidate) -> dict[str, Any]:
    return {
        "train": one.train.name,
        "values": dict(one.values),
        "window": _window(one.nominal),
        "window_shared_with_drawn_benches": _window(one.window),
        "duration_s": one.duration_s,
        "margin": one.margin,
        "safe": one.safe,
        "statement": None if one.statement is None else one.statement.record(),
    }


def _window(window: Window) -> dict[str, Any]:
    return {
        "open": window.open,
        "from_s": window.from_s,
        "until_s": window.until_s,
        "ends_with": window.binding.key if window.binding is not None else None,
        "why": window.why,
    }
