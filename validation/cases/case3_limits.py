"""Case 3, limits: each one breaks just beyond its bound, and not just within."""

from __future__ import annotations

from dataclasses import replace

from nugget.outcome.weld import run_weld
from validation.bench import bench
from validation.case import Case, Check, Outcome, at_least, holds

NEAR = 1e-3


def run_limits() -> Outcome:
    setup = bench(["numerics.refinement=0.3"])
    figures = run_weld(setup).figures
    checks: list[Check] = []
    for limit in setup.limits:
        value = limit.value_in(figures)
        if value is None or (value == 0.0 and limit.sense != "never"):
            continue
        if limit.sense == "never":
            checks.append(holds(f"{limit.id}: breaks when it happens", limit.breaks(1.0)))
            checks.append(holds(f"{limit.id}: keeps when it does not", not limit.breaks(0.0)))
            continue
        step = NEAR * abs(value)
        tighter = value + step if limit.sense == "at least" else value - step
        looser = value - step if limit.sense == "at least" else value + step
        told = f"{limit.figure} {value:.6g}, {limit.sense}"
        breaks = replace(limit, value=tighter).breaks(value)
        keeps = not replace(limit, value=looser).breaks(value)
        checks.append(holds(f"{limit.id}: breaks when 0.1 % tighter than the weld", breaks, told))
        checks.append(holds(f"{limit.id}: keeps when 0.1 % looser", keeps, told))
    checks.append(at_least("limits that this weld puts to the test", len(checks) / 2, 4))
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="3-limits",
        title="Limits break at their bound",
        claim="Every limit that applies to the bench breaks just beyond its bound, not just within.",
        source="Definition of a limit (theory: verdict); the figures are those of a real simulation.",
        tolerance="Must hold, with bounds a thousandth beside the figures of the weld.",
        run=run_limits,
    ),
)
