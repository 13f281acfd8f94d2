"""Trials and traces together: what to ask the model, and how likely its answers make what was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.setup import Setup
from nugget.study.calibration.condition import GRID, Answer, Ask
from nugget.study.calibration.observation import (
    Judging,
    Observation,
    Traced,
    cold_observation,
    observations_of,
)
from nugget.study.calibration.observation_table import Together
from nugget.study.calibration.scope import Scope, read_scope
from nugget.study.calibration.trial_table import Condition, Trial, conditions_of
from nugget.study.inputs.uncertain import Inputs
from nugget.study.statement.statement import coarse

EVIDENCE = {
    "trace": "scope traces",
    "cold": "cold resistances",
    "peel": "peels and pulls",
    "inside": "what the can's inner face shows",
    "print": "prints",
}
PROBED = 20
"""Instants at which a scope trace that nobody took is imagined, to say what it would tell."""


@dataclass(frozen=True)
class Case:
    """One condition: its trials, its traces, and where its outputs stand among all.

    Attributes
    ----------
    condition : Condition
    trials : tuple of Trial
    scopes : tuple of Scope
    durations_s, deep_s, times_s : tuple of float
        As in `nugget.study.calibration.condition.Ask`; the last `PROBED` times are the imagined trace's.
    start : int
        Number of its first output.
    """

    condition: Condition
    trials: tuple[Trial, ...]
    scopes: tuple[Scope, ...]
    durations_s: tuple[float, ...]
    deep_s: tuple[float, ...]
    times_s: tuple[float, ...]
    start: int

    @property
    def counts(self) -> tuple[int, ...]:
        """Lengths of the runs of outputs, in the order of `SIZE` to `COLD`."""
        trials, times = len(self.durations_s), len(self.times_s)
        grid = GRID if self.marched else 0
        return (trials, trials, trials, grid, grid, times, times, trials, 1)

    @property
    def marched(self) -> bool:
        """Whether there is a weld; a resistance alone needs none."""
        return bool(self.durations_s)

    def outputs(self, run: int) -> range:
        """Numbers of the outputs of one run, in the order of `counts`."""
        first = self.start + sum(self.counts[:run])
        return range(first, first + self.counts[run])

    def ask(self, setup: Setup) -> Ask:
        """What to ask of `setup`, which is that of the condition with its inputs off by something."""
        return Ask(setup, self.durations_s, self.deep_s, self.times_s)


SIZE, WALL, INNER, GRID_SIZE, GRID_WALL, CURRENT, VOLTAGE, PRINT, COLD = range(9)


@dataclass(frozen=True)
class Bench:
    """Everything that was seen.

    Attributes
    ----------
    setup : Setup
    cases : tuple of Case
    observations : tuple of Observation and Traced
    judging : Judging
    """

    setup: Setup
    cases: tuple[Case, ...]
    observations: tuple[Observation | Traced, ...]
    judging: Judging

    @property
    def outputs(self) -> int:
        """How many numbers the model gives."""
        last = self.cases[-1]
        return last.start + sum(last.counts)

    def asks(self, inputs: Inputs, deviations: FloatArray, quick: bool = False) -> list[Ask]:
        """One for each case, with the inputs at their `deviations`; `quick` on a coarser grid."""
        found = []
        for case in self.cases:
            setup = inputs.moved(case.condition.setup, deviations)
            found.append(case.ask(coarse(setup) if quick else setup))
        return found

    def vector(self, answers: Sequence[Answer]) -> FloatArray | None:
        """All outputs in a row; None when the model gave no answer somewhere."""
        if any(one.failed for one in answers):
            return None
        parts = [
            (
                a.size_m,
                a.wall,
                a.inner_K,
                a.grid_m,
                a.grid_wall,
                a.current_A,
                a.voltage_V,
                a.print_m,
                a.cold_ohm,
            )
            for a in answers
        ]
        return np.array([value for part in parts for run in part for value in run])

    def log_likelihood(self, outputs: FloatArray) -> FloatArray:
        """Of all observations, for outputs of shape (n, m); shape (n,)."""
        return self._together.log_likelihood(outputs)

    @cached_property
    def _together(self) -> Together:
        return Together.of(self.observations)

    def information(self, outputs: FloatArray, slopes: FloatArray) -> FloatArray:
        """Fisher information matrix of the inputs, from outputs (m,) and their slopes (m, p)."""
        total = np.zeros((slopes.shape[1], slopes.shape[1]))
        for one in self.observations:
            total += one.information(outputs, slopes)
        return total

    def hopeful(self, slopes: FloatArray) -> FloatArray:
        """As `information`, if every classed output stood at its threshold: where is not known yet."""
        total = np.zeros((slopes.shape[1], slopes.shape[1]))
        for one in self.observations:
            total += one.hopeful(slopes)
        return total

    def kind_of(self, one: Observation | Traced) -> str:
        """What kind of evidence an observation is, a key of `EVIDENCE`."""
        if isinstance(one, Traced):
            return "trace"
        for case in self.cases:
            if one.output in case.outputs(COLD):
                return "cold"
            if one.output in case.outputs(PRINT):
                return "print"
            if one.output in case.outputs(INNER) or one.output in case.outputs(WALL):
                return "inside"
        return "peel"


def gather(
    trials: Sequence[Trial],
    setup: Setup,
    folder: Path = Path(),
    scopes: Sequence[Path] = (),
    judging: Judging | None = None,
) -> Bench:
    """Read the traces that trials name, and put everything together.

    Parameters
    ----------
    trials : sequence of Trial
    setup : Setup
    folder : Path
        Where the traces that trials name are looked for.
    scopes : sequence of Path
        Further traces, of the setup as it is.
    judging : Judging, optional
    """
    judging = Judging() if judging is None else judging
    extra = [Trial(path.name, (), setup.train[-1].duration_s, trace=str(path.absolute())) for path in scopes]
    rows = [*trials, *extra]
    cases: list[Case] = []
    observations: list[Observation | Traced] = []
    for changes, condition in conditions_of(rows, setup).items():
        own = tuple(trial for trial in rows if trial.changes == changes)
        traced = [trial for trial in own if trial.trace]
        pairs = [(trial, read_scope(folder / trial.trace, trial.duration_s)) for trial in traced]
        durations = tuple(sorted({trial.duration_s for trial in own if trial.welded}))
        deep = tuple(sorted({trial.duration_s for trial in own if trial.inside}))
        before_s = condition.setup.train_s - condition.setup.train[-1].duration_s
        times = [t - before_s for _, scope in pairs for t in scope.time_s]
        times += [max(durations) * (k + 0.5) / PROBED for k in range(PROBED if durations else 0)]
        start = cases[-1].start + sum(cases[-1].counts) if cases else 0
        case = Case(condition, own, tuple(s for _, s in pairs), durations, deep, tuple(times), start)
        cases.append(case)
        for trial in own:
            if trial.resistance_ohm is not None:
                observations.append(cold_observation(trial, case.outputs(COLD)[0], judging))
            if trial.welded:
                at = durations.index(trial.duration_s)
                size, wall, inner, mark = (case.outputs(run)[at] for run in (SIZE, WALL, INNER, PRINT))
                observations += observations_of(trial, condition.setup, (size, wall, inner, mark), judging)
        observations += _traced(case, judging)
    return Bench(setup, tuple(cases), tuple(observations), judging)


def _traced(case: Case, judging: Judging) -> list[Traced]:
    found, first = [], 0
    for scope in case.scopes:
        for run, signal in ((CURRENT, scope.current_A), (VOLTAGE, scope.voltage_V)):
            outputs = case.outputs(run)[first : first + len(signal)]
            if signal:
                found.append(Traced(outputs, signal, judging.gain_share, judging.noise_share, scope.name))
        first += len(scope.time_s)
    return found
