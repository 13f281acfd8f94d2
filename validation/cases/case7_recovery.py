"""Case 7: calibration finds the known values of invented machines, and its intervals tell the truth."""

from __future__ import annotations

from validation.case import Case, Outcome


def run_recovery() -> Outcome:
    from validation.recovery import MACHINES, REPEATS, checks_of, recover

    checks = [check for machine in MACHINES for check in checks_of(machine.title, recover(machine), REPEATS)]
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="7-recovery",
        title="Calibration of invented machines",
        claim="A fit to invented trials with noise finds the values behind them: each lies inside its own "
        "95 % interval as often as the interval says, and the interval is not much wider than the data force "
        "it to be.",
        source="Trials drawn from the model itself with known values; 100 seeds for each machine.",
        tolerance="90 to 99 of 100 intervals hold the true value (a count of 95 spreads by 2.2); "
        "median width at most three times the Fisher bound.",
        run=run_recovery,
        quick=False,
    ),
)
