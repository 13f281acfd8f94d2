"""What a search is kept as: one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nugget.constants import VERSION
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.study.durations.window import Window
from nugget.study.suggestion.candidate import Candidate, Suggestion
from nugget.study.suggestion.trial_plan import Step


def suggestion_record(suggestion: Suggestion, steps: tuple[Step, ...]) -> dict[str, Any]:
    """Everything about a search, JSON-ready."""
    return {
        "safe": suggestion.safe,
        "contact_band": suggestion.band,
        "longest_s": suggestion.longest_s,
        "free": [{"field": f.axis.field.path, "low": f.low, "high": f.high} for f in suggestion.free],
        "candidates": [_candidate(one) for one in suggestion.candidates],
        "crossing": suggestion.crossing,
        "hardware": [
            {
                "change": trial.change.what,
                "values": trial.change.values,
                "nominal": _window(trial.window),
                "at_all_contact_radii": _window(shared),
                "sentence": trial.sentence,
            }
            for trial, shared in suggestion.hardware
        ],
        "safe_with_contact_known_within": None
        if suggestion.known is None
        else {"factor": suggestion.known[0], **_window(suggestion.known[1])},
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
        "nominal": _window(one.nominal),
        "at_all_contact_radii": _window(one.window),
        "recommended_s": one.duration_s if one.window.open else None,
        "margin": one.margin,
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
