"""Fit the knobs: march a design, search a stand-in, march where it matters, until they agree."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.study.calibration.bench import Bench
from nugget.study.calibration.condition import Answer
from nugget.study.calibration.identifiable import (
    Blind,
    blind,
    choose,
    hopeful_information,
    nudged,
    slopes_of,
)
from nugget.study.calibration.knobs import Knob, usual_knobs
from nugget.study.calibration.marcher import Marcher, Points
from nugget.study.calibration.next_trial import Advice, advise
from nugget.study.calibration.observation import Traced
from nugget.study.calibration.refinement import Search
from nugget.study.tasks import Finished

UNLIKELY = 0.05


@dataclass(frozen=True)
class Fitted:
    """One fitted knob.

    Attributes
    ----------
    knob : Knob
    value, low, high : float
        Likeliest value and the ends of its 95 % interval [SI].
    low_open, high_open : bool
        Whether the interval was cut off by the knob's bound.
    """

    knob: Knob
    value: float
    low: float
    high: float
    low_open: bool = False
    high_open: bool = False


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
    blind : tuple of Blind
        Knobs that the data cannot tell, and why.
    correlations : ndarray, shape (p, p)
        Of the logarithms of the fitted knobs, from the Fisher information.
    bounds : ndarray, shape (p,)
        Least standard deviations that the data allow, by the Fisher information, as logarithms.
    before, after : ndarray, shape (m,)
        Outputs of the model with the setup as it is and as fitted; marched, not emulated.
    spread : ndarray, shape (m,)
        Standard deviation of the outputs as the fitted knobs vary.
    gain : float
        By how much the fit raised the log-likelihood.
    unlikely : tuple of str
        Rows that even the fit calls unlikely.
    advice : tuple of Advice
        Trials that would tell most, the best first.
    marches, failed : int
    """

    bench: Bench
    state: str
    why: str
    fitted: tuple[Fitted, ...]
    blind: tuple[Blind, ...]
    correlations: FloatArray
    bounds: FloatArray
    before: FloatArray
    after: FloatArray
    spread: FloatArray
    gain: float
    unlikely: tuple[str, ...]
    advice: tuple[Advice, ...]
    marches: int
    failed: int

    @property
    def overrides(self) -> dict[str, object]:
        """Fitted values, for `Setup.with_`."""
        return {f.knob.path: f.knob.field.exact(f.value) for f in self.fitted}


def calibrate(
    bench: Bench,
    knobs: Sequence[Knob] | None = None,
    executor: Executor | None = None,
    finished: Finished[Answer] | None = None,
    on_done: Callable[[int, int], None] | None = None,
    points: Points | None = None,
    advice: bool = True,
) -> Calibration:
    """Fit `knobs` to what was seen.

    Parameters
    ----------
    bench : Bench
    knobs : sequence of Knob, optional
        The usual ones by default, of which those are fitted that the data can tell.
    executor : Executor, optional
        One march after the other in this process by default.
    finished : Finished, optional
        Marches of an earlier call.
    on_done : callable, optional
        Called with the number of marches done and the number asked for so far.
    points : Points, optional
        Where the same knobs have been marched before for the same trials; more are added.
    advice : bool
        Work out which trial would tell most.

    Raises
    ------
    SolverError
        When the model gives no answer for the setup as it is.
    """
    marcher = Marcher(bench, executor, finished, on_done)
    candidates = tuple(usual_knobs(bench.setup) if knobs is None else knobs)
    own = np.array([knob.place(knob.own) for knob in candidates])
    if knobs is None:
        information = hopeful_information(bench, _sensitivity(marcher, candidates, own)[1])
        chosen = choose(information)
        unseen = blind(candidates, information, chosen)
    else:
        chosen, unseen = list(range(len(candidates))), []
    before = marcher.outputs(candidates, own[None, :])[0]
    if before is None:
        raise SolverError(0.0, f"no answer for the setup as it is: {marcher.reason}")
    some = [candidates[k] for k in chosen]
    if not some:
        return _nothing(bench, "none of the inputs moves what was seen enough", unseen, before, marcher)
    points = Points(some, bench.outputs) if points is None else points
    search = Search(bench, marcher, points)
    search.run()
    if search.trouble:
        return _nothing(bench, search.trouble, unseen, before, marcher, "not converged")
    unseen += [Blind(some[k], "its 95 % interval fills its range") for k in search.surface.held]
    if not search.surface.free:
        return _nothing(bench, "every interval fills the range of its input", unseen, before, marcher)
    return _finished(search, candidates, unseen, before, advice)


def _sensitivity(marcher: Marcher, knobs: Sequence[Knob], place: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Outputs (m,) at a place and their slopes (m, p), by marching."""
    places = nudged(place)
    outputs = marcher.outputs(knobs, places)
    if outputs[0] is None:
        raise SolverError(0.0, f"no answer for the setup as it is: {marcher.reason}")
    return outputs[0], slopes_of(places, outputs)


def _nothing(
    bench: Bench,
    why: str,
    unseen: Sequence[Blind],
    before: FloatArray,
    marcher: Marcher,
    state: str = "says nothing",
) -> Calibration:
    none = np.zeros((0, 0))
    flat = np.zeros_like(before)
    return Calibration(
        bench, state, why, (), tuple(unseen), none, none[0:0].ravel(), before, before, flat, 0.0, (), (),
        marcher.done, marcher.failed,
    )  # fmt: skip


def _finished(
    search: Search, candidates: Sequence[Knob], unseen: list[Blind], before: FloatArray, advice: bool
) -> Calibration:
    bench, surface, best, marcher = search.bench, search.surface, search.best, search.marcher
    free = surface.free
    best = np.round(best, 4)
    after = marcher.outputs(search.knobs, best[None, :])[0]
    assert after is not None
    fitted = []
    for knob_number, (low, high) in zip(free, search.sides, strict=True):
        knob = search.knobs[knob_number]
        fitted.append(
            Fitted(
                knob,
                knob.value(best[knob_number]),
                knob.value(low.place[knob_number]),
                knob.value(high.place[knob_number]),
                low.open,
                high.open,
            )
        )
    information = surface.information(best)
    covariance = np.linalg.pinv(information, hermitian=True)
    deviation = np.sqrt(np.diag(covariance))
    slopes = surface.emulator.slopes(best)[:, free]
    spread = np.sqrt(np.einsum("mi,ij,mj->m", slopes, covariance, slopes))
    both = bench.log_likelihood(np.array([before, after]))
    told: tuple[Advice, ...] = ()
    if advice:
        extra = [b.knob for b in unseen if b.knob in candidates and b.knob not in search.knobs]
        places = np.array([knob.place(knob.own) for knob in extra])
        told = advise(
            bench,
            [*(search.knobs[k] for k in free), *extra],
            after,
            np.hstack([slopes, _extra_slopes(search, best, extra, places)]),
        )
    return Calibration(
        bench=bench,
        state="fitted",
        why="",
        fitted=tuple(fitted),
        blind=tuple(unseen),
        correlations=covariance / np.outer(deviation, deviation),
        bounds=deviation * np.array([search.knobs[k].width for k in free]),
        before=before,
        after=after,
        spread=spread,
        gain=float(both[1] - both[0]),
        unlikely=tuple(_unlikely(bench, after)),
        advice=told,
        marches=marcher.done,
        failed=marcher.failed,
    )


def _extra_slopes(search: Search, best: FloatArray, extra: Sequence[Knob], places: FloatArray) -> FloatArray:
    """Slopes (m, q) of knobs that were not fitted, marched at the optimum of those that were."""
    if not extra:
        return np.empty((search.points.outputs.shape[1], 0))
    around = nudged(places)
    whole = np.hstack([np.repeat(best[None, :], len(around), axis=0), around])
    outputs = search.marcher.outputs([*search.knobs, *extra], whole)
    return (
        slopes_of(around, outputs)
        if outputs[0] is not None
        else np.zeros((len(search.bench.scales()), len(extra)))
    )


def _unlikely(bench: Bench, outputs: FloatArray) -> list[str]:
    """Rows whose outcome the fitted model gives a chance below `UNLIKELY`."""
    found: list[str] = []
    for one in bench.observations:
        if isinstance(one, Traced):
            worst = float(np.abs(np.array(one.values) - outputs[list(one.outputs)]).max()) / one.noise
            surprising = worst > 2.0 * np.hypot(1.0, one.gain_share / one.noise_share)
        elif one.value is not None:
            surprising = abs(one.value - outputs[one.output]) > 2.0 * one.spread
        else:
            share = one.shares(outputs[one.output : one.output + 1])[one.seen][0]
            surprising = float(share) < UNLIKELY
        if surprising and one.words not in found:
            found.append(one.words)
    return found
