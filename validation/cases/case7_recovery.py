"""Case 7: calibration finds the known inputs of invented machines, and its intervals tell the truth."""

from __future__ import annotations

from validation.case import Case, Outcome


def run_recovery() -> Outcome:
    from validation.recovery import checks_of, recover

    return Outcome(tuple(checks_of(recover())))


CASES = (
    Case(
        key="7-recovery",
        title="Calibration of invented machines",
        claim="Of machines drawn from what is believed of a bench, a cold resistance, a scope trace and six "
        "coupons tell the truth: the true inputs, and the figures of the true weld, lie inside their 95 % "
        "intervals as often as these say, and the nugget's diameter is known much better than before.",
        source="Machines and trials drawn from the model itself, on the grid that they are fitted on, the "
        "polarity of the spot known; seeds 0 to 19.",
        tolerance="At least 90 % of the 95 % intervals hold the true value (of 20 machines 19 are expected, "
        "with a spread of 1); the median width falls to a third.",
        run=run_recovery,
        quick=False,
    ),
)
