"""What a fit is kept as: a TOML file to lay over setups, and one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nugget.outcome.record import CAUTIONS
from nugget.setup.toml import to_toml
from nugget.study.calibration.bench import GRID_SIZE, SIZE
from nugget.study.calibration.fit import Calibration, Fitted
from nugget.study.calibration.observation import Traced

LEAST_DEVIATION = 1e-3
"""No input is believed to be known better than this, as a logarithm."""
MOST_DEVIATION = 2.3
"""A machine file can say no more: a factor of a hundred both ways."""


def machine_toml(calibration: Calibration, trials: str) -> str:
    """Return the fitted values as TOML to be laid over a setup.

    Parameters
    ----------
    calibration : Calibration
        Whose state is ``fitted``.
    trials : str
        Name of the file of trials, for the comment.
    """
    from nugget.constants import VERSION

    count = sum(trial.count for case in calibration.bench.cases for trial in case.trials)
    lines = [
        f"# What `nugget calibrate` found from {trials} ({count} welds), nugget {VERSION}.",
        "# Lay it over a setup of the same machine: nugget pulse SETUP.toml --machine THIS.toml",
        "# Behind each value: its 95 % interval, and what the setup had.",
    ]
    table = ""
    for fitted in sorted(calibration.carried, key=lambda f: f.item.path):
        section, _, key = fitted.item.path.rpartition(".")
        if section != table:
            lines += ["", f"[{section}]"]
            table = section
        lines.append(f"{key} = {to_toml(_handy(fitted))}  # {interval_text(fitted)}; was {_own(fitted)}")
    return "\n".join([*lines, *_left_open(calibration)]) + "\n"


def _left_open(calibration: Calibration) -> list[str]:
    """What the fit left open, for every statement about a weld of this machine."""
    fields = [one.item.path for one in calibration.carried]
    found = [max(one.log_deviation, LEAST_DEVIATION) for one in calibration.carried]
    deviations = [float(f"{min(one, MOST_DEVIATION):.4g}") for one in found]
    # Digits enough for sums that are known far better than their parts.
    rows = [[round(float(x), 7) for x in row] for row in calibration.correlations]
    return [
        "",
        "[uncertainty.fitted]",
        f"fields = {to_toml(fields)}",
        f"deviations = {to_toml(deviations)}",
        f"correlations = {to_toml(rows)}",
    ]


def interval_text(fitted: Fitted) -> str:
    """The 95 % interval in words."""
    axis = fitted.item.axis
    low, high = axis.text(fitted.low), axis.text(fitted.high)
    number, _, unit = low.partition(" ")
    return f"{number} to {high}" if unit and high.endswith(unit) else f"{low} to {high}"


def _own(fitted: Fitted) -> str:
    return f"{fitted.item.axis.text(fitted.item.own)} ({fitted.item.text})"


def _handy(fitted: Fitted) -> object:
    """The value as a setup file holds it, in the unit that people use."""
    axis = fitted.item.axis
    shown = float(f"{axis.shown(fitted.value):.5g}")
    return f"{shown:g} {axis.unit}" if axis.unit else shown


def calibration_record(calibration: Calibration) -> dict[str, Any]:
    """Everything about a fit, JSON-ready."""
    from nugget.constants import VERSION

    return {
        "state": calibration.state,
        "why": calibration.why,
        "fitted": [_input(one) for one in calibration.fitted],
        "alongside": [_input(one) for one in calibration.alongside],
        "correlations": calibration.correlations.tolist(),
        "not_identified": [{"field": b.item.path, "reason": b.reason} for b in calibration.unidentified],
        "told": [{"by": one.title, "spread_left": dict(one.left)} for one in calibration.told],
        "log_likelihood_gained": calibration.gain,
        "unlikely_rows": list(calibration.unlikely),
        "trials_that_would_tell_most": [asdict(advice) for advice in calibration.advice],
        "conditions": _conditions(calibration),
        "observations": _observations(calibration),
        "assumptions": asdict(calibration.bench.judging),
        "unevenness": calibration.unevenness,
        "simulations": calibration.simulations,
        "simulations_failed": calibration.failed,
        "cautions": list(CAUTIONS),
        "version": VERSION,
    }


def _input(one: Fitted) -> dict[str, Any]:
    return {
        "field": one.item.path,
        "unit": one.item.field.unit,
        "value": one.value,
        "low": one.low,
        "high": one.high,
        "own": one.item.own,
        "standard_deviations_moved": one.place,
        "spread_left": one.deviation,
    }


def _conditions(calibration: Calibration) -> list[dict[str, Any]]:
    found = []
    for case in calibration.bench.cases:
        grid, size = list(case.outputs(GRID_SIZE)), list(case.outputs(SIZE))
        found.append(
            {
                "name": case.condition.name,
                "changes": dict(case.condition.changes),
                "minimum_diameter_m": case.condition.setup.joint.minimum_diameter_m,
                "durations_s": list(case.durations_s),
                "size_m": calibration.after[size].tolist(),
                "size_before_m": calibration.before[size].tolist(),
                "growth_s": case.ask(case.condition.setup).grid_s.tolist() if case.marched else [],
                "growth_m": calibration.after[grid].tolist(),
                "growth_before_m": calibration.before[grid].tolist(),
                "growth_deviation_m": calibration.spread[grid].tolist(),
            }
        )
    return found


def _observations(calibration: Calibration) -> list[dict[str, Any]]:
    """What was seen, beside what the fitted model says: classes with their probabilities."""
    found: list[dict[str, Any]] = []
    for one in calibration.bench.observations:
        if isinstance(one, Traced):
            outputs = calibration.after[list(one.outputs)]
            found.append({"row": one.words, "seen": list(one.values), "predicted": outputs.tolist()})
            continue
        output = calibration.after[one.output : one.output + 1]
        chances = [float(share[0]) for share in one.shares(output)] if one.edges else []
        found.append(
            {
                "row": one.words,
                "seen": one.value if one.value is not None else one.seen,
                "predicted": float(output[0]),
                "spread": one.spread,
                "count": one.count,
                "class_edges": list(one.edges),
                "class_chances": chances,
            }
        )
    return found
