"""Fit what is uncertain about a bench to trials: what is known afterwards, what each kind of trial told."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import InputError, SolverError
from nugget.setup import Setup, find_field
from nugget.study.calibration.bench import EVIDENCE, Bench
from nugget.study.calibration.condition import Answer
from nugget.study.calibration.marcher import Marcher
from nugget.study.calibration.next_trial import Advice, advise
from nugget.study.calibration.observation import Traced
from nugget.study.calibration.posterior import Posterior, hanging, partners
from nugget.study.inputs.uncertain import FARTHEST, Inputs, Uncertain, inputs_of
from nugget.study.tasks import Finished

UNLIKELY = 0.05
NARROWED = 0.9
"""An input is told when no more than this share of its spread is left ..."""
MOVED = 1.0
"""... or when it lies this many standard deviations from where it was believed."""
NORMAL_95 = 1.96
OF_THE_BENCH = ("contact.", "leads.", "numerics.", "source.", "switch.")
"""What a bench has, whatever is welded on it. Force, strip, tip and cell are chosen anew: a machine file that
held them, though they are hardly narrowed, would overrule what is chosen."""
TOGETHER_ONLY = "known only together with others"


@dataclass(frozen=True)
class Fitted:
    """One input that the trials told something about.

    Attributes
    ----------
    item : Uncertain
        As it was believed before.
    value, low, high : float
        Likeliest value and the ends of its 95 % interval [SI].
    place, deviation : float
        Value and standard deviation in standard deviations of what was believed before.
    """

    item: Uncertain
    value: float
    low: float
    high: float
    place: float
    deviation: float

    @property
    def log_deviation(self) -> float:
        """Standard deviation of the logarithm of the value: by its slope, or the farther end of the interval.

        Near an end of a range the slope is small, and the interval reaches far towards the middle.
        """
        by_slope = self.item.log_slope(self.place) * self.deviation
        if self.low <= 0.0:
            return by_slope
        ends = max(math.log(self.high / self.value), math.log(self.value / self.low)) / NORMAL_95
        return max(by_slope, ends)

    @property
    def at_its_end(self) -> bool:
        """Whether the value lies where nothing is believed to lie any more: setup or table are wrong."""
        return abs(self.place) > FARTHEST - 0.2


@dataclass(frozen=True)
class Unidentified:
    """An input that the data cannot tell, and why."""

    item: Uncertain
    reason: str


@dataclass(frozen=True)
class Told:
    """What one kind of trial alone would have told: inputs by what it leaves of their spreads."""

    title: str
    left: tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class Calibration:
    """A finished fit.

    Attributes
    ----------
    bench : Bench
    state : {"fitted", "says nothing", "not converged"}
    why : str
        In words, for the last two.
    fitted : tuple of Fitted
        Empty unless `state` is ``fitted``.
    alongside : tuple of Fitted
        Inputs that these trials leave about as uncertain as they were, and that are handed on all the same:
        what an earlier fit told, and what hangs together with others. Of resistances in series the data tell
        the sum, and that is known only with all of them.
    unidentified : tuple of Unidentified
        Inputs that the data cannot tell, and why.
    told : tuple of Told
        Each kind of trial by itself.
    correlations : ndarray, shape (p, p)
        Of the `carried` inputs.
    before, after : ndarray, shape (m,)
        Outputs of the model with the setup as it is and as fitted; simulated.
    spread : ndarray, shape (m,)
        Standard deviation of the outputs over what the fit leaves open.
    gain : float
        By how much the fit raised the log-likelihood.
    unlikely : tuple of str
        Rows that even the fit calls unlikely.
    advice : tuple of Advice
        The most informative next trials, the best first.
    unevenness : float
        By how much a simulation scatters about the fit's response, as a share of the spread of what was
        seen (root mean square); counted in all intervals.
    simulations, failed : int
    """

    bench: Bench
    state: str
    why: str
    fitted: tuple[Fitted, ...]
    alongside: tuple[Fitted, ...]
    unidentified: tuple[Unidentified, ...]
    told: tuple[Told, ...]
    correlations: FloatArray
    before: FloatArray
    after: FloatArray
    spread: FloatArray
    gain: float
    unlikely: tuple[str, ...]
    advice: tuple[Advice, ...]
    unevenness: float
    simulations: int
    failed: int

    @property
    def carried(self) -> tuple[Fitted, ...]:
        """What a machine file holds: fitted inputs, and behind them those that go along with them."""
        return (*self.fitted, *self.alongside)

    @property
    def overrides(self) -> dict[str, object]:
        """Values of the carried inputs, for `Setup.with_`."""
        return {f.item.path: f.item.field.exact(f.value) for f in self.carried}


def calibrate(
    bench: Bench,
    tolerances: Sequence[str] = (),
    only: Sequence[str] = (),
    executor: Executor | None = None,
    finished: Finished[Answer] | None = None,
    on_done: Callable[[int, int], None] | None = None,
    advice: bool = True,
) -> Calibration:
    """Fit the uncertain inputs of a bench to what was seen.

    Parameters
    ----------
    bench : Bench
    tolerances : sequence of str
        How well inputs are known before, over what the setup says: ``FIELD=WIDTH``.
    only : sequence of str
        Fields that are fitted, all others held; all that are uncertain by default.
    executor : Executor, optional
        One simulation after the other in this process by default.
    finished : Finished, optional
        Marches of an earlier call.
    on_done : callable, optional
        Called with the number of simulations done and the number asked for so far.
    advice : bool
        Work out the most informative next trials.

    Raises
    ------
    InputError
    SolverError
        When the model gives no answer for the setup as it is.
    """
    inputs = _chosen(bench, tolerances, only)
    marcher = Marcher(bench, executor, finished, on_done)
    before = marcher.as_set_up()
    if before is None:
        raise SolverError(0.0, f"no answer for the setup as it is: {marcher.reason}")
    found = Posterior(bench, inputs, marcher)
    state, why = ("not converged", found.trouble) if found.trouble else ("fitted", "")
    shares, place = found.shares(), inputs.root @ found.place
    told = [k for k in range(len(shares)) if shares[k] <= NARROWED or abs(place[k]) > MOVED]
    if state == "fitted" and not told:
        state, why = "says nothing", "none of the inputs is known better for it"
    root = inputs.root
    covariance: FloatArray = np.asarray(root @ found.covariance @ root.T, dtype=np.float64)
    carried = [*told, *_alongside(inputs, covariance, told)]
    fitted = [_fitted(inputs.items[k], float(place[k]), float(shares[k])) for k in carried]
    held = _held(bench, tolerances, inputs)
    fitted += [_fitted(one, 0.0, 1.0) for one in held.items]
    deviations = np.sqrt(np.diag(covariance))[carried]
    own = covariance[np.ix_(carried, carried)] / np.outer(deviations, deviations)
    likelihood = bench.log_likelihood(np.array([before, found.outputs]))
    calibration = Calibration(
        bench=bench,
        state=state,
        why=why,
        fitted=tuple(fitted[: len(told)]) if state == "fitted" else (),
        alongside=tuple(fitted[len(told) :]) if state == "fitted" else (),
        unidentified=_unidentified(found, carried, len(told), covariance),
        told=_told(found),
        correlations=_side_by_side(own, np.array(held.correlation)),
        before=before,
        after=found.outputs,
        spread=np.sqrt(np.einsum("mi,ij,mj->m", found.slopes, found.covariance, found.slopes)),
        gain=float(likelihood[1] - likelihood[0]),
        unlikely=tuple(_unlikely(bench, found.outputs, found.missed)),
        unevenness=found.unevenness,
        advice=(),
        simulations=marcher.done,
        failed=marcher.failed,
    )
    if not advice or state != "fitted":
        return calibration
    return replace(calibration, advice=advise(bench, inputs, found.outputs, found.slopes, found.covariance))


def _chosen(bench: Bench, tolerances: Sequence[str], only: Sequence[str]) -> Inputs:
    """The uncertain inputs, or some of them."""
    inputs = inputs_of(bench.setup, tolerances)
    if not only:
        return inputs
    paths = [find_field(bench.setup, name, "fit").path for name in only]
    known = [one.path for one in inputs.items]
    for path in paths:
        if path not in known:
            raise InputError(
                f"fit {path}", "no spread", f"a field out of {', '.join(known)}, or a spread of its own"
            )
    return inputs.some([known.index(path) for path in dict.fromkeys(paths)])


def _fitted(item: Uncertain, place: float, deviation: float) -> Fitted:
    low, value, high = (item.value(place + sign * NORMAL_95 * deviation) for sign in (-1.0, 0.0, 1.0))
    return Fitted(item, value, low, high, place, deviation)


def _alongside(inputs: Inputs, covariance: FloatArray, told: Sequence[int]) -> list[int]:
    """Which inputs go into a machine file beside those that were told."""
    fields = _earlier(inputs.setup)
    known = [k for k, one in enumerate(inputs.items) if one.path in fields]
    own = [k for k in hanging(covariance) if inputs.items[k].path.startswith(OF_THE_BENCH)]
    return [k for k in sorted({*known, *own}) if k not in told]


def _held(bench: Bench, tolerances: Sequence[str], inputs: Inputs) -> Inputs:
    """What an earlier fit told and this one leaves out: it stays as it was."""
    fields, paths = _earlier(bench.setup), [one.path for one in inputs.items]
    every = inputs_of(bench.setup, tolerances)
    return every.some(
        [k for k, one in enumerate(every.items) if one.path in fields and one.path not in paths]
    )


def _earlier(setup: Setup) -> tuple[str, ...]:
    """Fields that an earlier fit told."""
    earlier = setup.file.uncertainty.fitted
    return () if earlier is None else tuple(earlier.fields)


def _side_by_side(one: FloatArray, other: FloatArray) -> FloatArray:
    """Correlations of inputs of two kinds that are independent of each other."""
    found = np.eye(len(one) + len(other))
    found[: len(one), : len(one)] = one
    if len(other):
        found[len(one) :, len(one) :] = other
    return found


def _unidentified(
    found: Posterior, carried: Sequence[int], count: int, covariance: FloatArray
) -> tuple[Unidentified, ...]:
    """Say why inputs stay as uncertain as they were: all but the first `count` of those carried."""
    unidentified, told, hung = [], carried[:count], hanging(covariance)
    for k, item in enumerate(found.inputs.items):
        if k in told:
            continue
        other = partners(covariance, k, told)
        if k in carried and k in hung:
            unidentified.append(Unidentified(item, TOGETHER_ONLY))
        elif not found.active[k] or other is None:
            unidentified.append(Unidentified(item, "too small an effect on the observations"))
        else:
            title = found.inputs.items[other].title
            unidentified.append(Unidentified(item, f"not distinguishable from {title}"))
    return tuple(unidentified)


def _told(found: Posterior) -> tuple[Told, ...]:
    bench, kinds = found.bench, [found.bench.kind_of(one) for one in found.bench.observations]
    told = []
    for kind, title in EVIDENCE.items():
        if kind not in kinds:
            continue
        some = [one for one, its in zip(bench.observations, kinds, strict=True) if its == kind]
        information = replace(bench, observations=tuple(some)).information(found.outputs, found.slopes)
        shares = found.shares(information)
        order = [int(k) for k in np.argsort(shares) if shares[k] <= NARROWED]
        left = tuple((found.inputs.items[k].title, float(shares[k])) for k in order)
        told.append(Told(title, left))
    return tuple(told)


def _unlikely(bench: Bench, outputs: FloatArray, missed: FloatArray) -> list[str]:
    """Rows whose outcome the fitted model gives a chance below `UNLIKELY`."""
    found: list[str] = []
    for one in bench.observations:
        if isinstance(one, Traced):
            away, at = np.array(one.values), list(one.outputs)
            worst = float((np.abs(away - outputs[at]) / np.hypot(one.noise, missed[at])).max())
            surprising = worst > 2.0 * np.hypot(1.0, one.gain_share / one.noise_share)
        elif one.value is not None:
            surprising = abs(one.value - outputs[one.output]) > 2.0 * math.hypot(
                one.spread, missed[one.output]
            )
        else:
            share = one.shares(outputs[one.output : one.output + 1])[one.seen][0]
            surprising = float(share) < UNLIKELY
        if surprising and one.words not in found:
            found.append(one.words)
    return found
