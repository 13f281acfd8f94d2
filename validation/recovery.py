"""Invented machines of known inputs: is what `calibrate` says of them, and `pulse` after it, right?

``python -m validation.recovery`` draws machines from what is believed of a bench before anything was
measured, lets each make a cold resistance, a scope trace and coupons with the noise that the fit assumes,
fits them, and asks whether the true inputs lie in their intervals, whether the true weld lies within what
is said of it before and after, and by how much that has narrowed. Machines, trials and fits come from the
same model on the same grid, the built-in one: what is tested is the fit, not the physics. A machine takes
a minute of a core with compiled kernels. Which spot of its pair a weld
is, which polarity tells, is known here: the two differ, and no trial narrows that.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.setup import Setup, default_setup
from nugget.study.calibration.bench import gather
from nugget.study.calibration.fit import calibrate
from nugget.study.calibration.fit_record import machine_toml
from nugget.study.calibration.trial_table import read_trials
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement.samples import Sample, sample
from validation.case import Check, at_least, reported
from validation.invented_trials import HEAD, draw

MACHINES = 20
COUPONS_S = (0.6e-3, 1.2e-3, 2.0e-3)
EACH = 2
"""Six coupons."""
WELDS = 16
"""Welds drawn from what is believed, before and after."""
FIGURES = ("nugget_diameter_m", "can_penetration", "peak_current_A")
NORMAL_95 = 1.96
COVERAGE, SHRINK = 0.9, 3.0
"""Wanted: of intervals that claim 95 %, counted over all fitted inputs and machines; and how much narrower
the diameter is known after a scope trace and six coupons."""


@dataclass(frozen=True)
class Machine:
    """What became of one machine.

    Attributes
    ----------
    seed : int
    why : str
        Why nothing was fitted; empty when something was.
    inside : dict of str to bool
        Whether the true value of each fitted input lies in its interval.
    truth, before, after, widths_before, widths_after : dict of str to float
        Figures of the true weld; mean and standard deviation of what is believed of it.
    """

    seed: int
    why: str
    inside: dict[str, bool]
    truth: dict[str, float]
    before: dict[str, float]
    after: dict[str, float]
    widths_before: dict[str, float]
    widths_after: dict[str, float]

    def off(self, figure: str, fitted: bool) -> float:
        """By how many of its standard deviations a figure was off before, or after the fit."""
        mean, width = (self.after, self.widths_after) if fitted else (self.before, self.widths_before)
        return (self.truth[figure] - mean[figure]) / width[figure]


def recover(
    machines: int = MACHINES, first: int = 0, on_done: Callable[[Machine], None] | None = None
) -> tuple[Machine, ...]:
    """Fit so many machines, with the seeds from `first` on."""
    setup = default_setup()
    spots = [setup.with_({"arrangement.polarity": polarity}) for polarity in ("positive", "negative")]
    before = [_believed(spot) for spot in spots]
    found = []
    for seed in range(first, first + machines):
        found.append(_machine(spots[seed % 2], before[seed % 2], seed))
        if on_done is not None:
            on_done(found[-1])
    return tuple(found)


def _machine(setup: Setup, before: tuple[dict[str, float], dict[str, float]], seed: int) -> Machine:
    random = np.random.default_rng(seed)
    inputs = inputs_of(setup)
    row = np.clip(random.normal(size=len(inputs)), -2.5, 2.5)
    values = dict(zip((one.path for one in inputs.items), inputs.values(row), strict=True))
    truth = _figures(sample(inputs.setup_at(row)))
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        told = {path: value for path, value in values.items() if not path.startswith("cell.interior")}
        drawn = draw(setup, told, random, COUPONS_S, EACH, (), "scope.csv")
        (folder / "trials.csv").write_text("\n".join([HEAD, *drawn.rows]), encoding="utf-8")
        (folder / "scope.csv").write_text(drawn.trace, encoding="utf-8")
        bench = gather(read_trials(folder / "trials.csv", setup), setup, folder)
        fit = calibrate(bench, advice=False)
    if fit.state != "fitted":
        return Machine(seed, fit.why, {}, truth, before[0], before[0], before[1], before[1])
    import tomllib

    inside = {one.item.path: one.low <= values[one.item.path] <= one.high for one in fit.fitted}
    after = _believed(setup.with_(tomllib.loads(machine_toml(fit, "trials.csv"))))
    return Machine(seed, "", inside, truth, before[0], after[0], before[1], after[1])


def _believed(setup: Setup) -> tuple[dict[str, float], dict[str, float]]:
    """Mean and standard deviation of each figure over what is not known of a setup."""
    inputs = inputs_of(setup)
    welds = [sample(inputs.setup_at(row)) for row in inputs.drawn(WELDS, 11)]
    columns = {key: [_figures(one)[key] for one in welds if not one.failed] for key in FIGURES}
    return (
        {key: float(np.mean(column)) for key, column in columns.items()},
        {key: float(np.std(column, ddof=1)) for key, column in columns.items()},
    )


def _figures(one: Sample) -> dict[str, float]:
    return {key: one.figures.get(key, np.nan) for key in FIGURES}


def shrinks(machines: Sequence[Machine], figure: str) -> FloatArray:
    """How many times narrower a figure is known after the fit than before, for each machine."""
    return np.array([one.widths_before[figure] / one.widths_after[figure] for one in machines if not one.why])


def checks_of(machines: Sequence[Machine]) -> list[Check]:
    """Coverage of the inputs and of the figures, and how much narrower these are known."""
    fitted = [one for one in machines if not one.why]
    inside = [hit for one in fitted for hit in one.inside.values()]
    checks = [
        at_least("share of the machines that are fitted", len(fitted) / len(machines), 0.95),
        at_least("share of 95 % intervals that hold the true input", float(np.mean(inside)), COVERAGE),
    ]
    for figure in FIGURES:
        for word, after in (("before", False), ("after", True)):
            off = np.array([one.off(figure, after) for one in fitted])
            name = f"{figure}, {word}: share of 95 % intervals that hold the true weld"
            checks.append(at_least(name, float(np.mean(np.abs(off) <= NORMAL_95)), COVERAGE))
            error = float(np.sqrt(np.mean(off**2)))
            checks.append(
                reported(f"{figure}, {word}: error over what is said", error, "", "root mean square")
            )
    nugget, wall = (float(np.median(shrinks(machines, figure))) for figure in FIGURES[:2])
    checks.append(at_least(f"{FIGURES[0]}: times narrower after the fit", nugget, SHRINK))
    checks.append(reported(f"{FIGURES[1]}: times narrower after the fit", wall))
    return checks


def main(argv: list[str] | None = None) -> int:
    """Print what was found; return 0 when all is within its limits."""
    parser = argparse.ArgumentParser(prog="python -m validation.recovery", description=main.__doc__)
    parser.add_argument("--machines", type=int, default=MACHINES)
    parser.add_argument("--first", type=int, default=0, metavar="SEED")
    args = parser.parse_args(argv)

    def said(one: Machine) -> None:
        held = f"{sum(one.inside.values())} of {len(one.inside)} inputs held" if not one.why else one.why
        size = [1e3 * v["nugget_diameter_m"] for v in (one.truth, one.before, one.after)]
        widths = [1e3 * v["nugget_diameter_m"] for v in (one.widths_before, one.widths_after)]
        off = ", ".join(f"{one.off(figure, True):+.1f}" for figure in FIGURES) if not one.why else ""
        print(
            f"machine {one.seed}: {held}; nugget {size[0]:.2f} mm, believed {size[1]:.2f} +- {widths[0]:.3f}"
            f" before, {size[2]:.2f} +- {widths[1]:.3f} after; off by {off}",
            file=sys.stderr,
            flush=True,
        )

    checks = checks_of(recover(args.machines, args.first, said))
    for check in checks:
        word = "FAIL" if check.failed else "pass"
        print(f"  {word}  {check.name}: {check.value:.3g} {check.unit}; {check.note}")
    return int(any(check.failed for check in checks))


if __name__ == "__main__":
    sys.exit(main())
