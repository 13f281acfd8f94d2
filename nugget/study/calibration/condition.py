"""What the model says about one condition: every duration from one long march and its branches."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import SolverError
from nugget.outcome.cold_resistance import cold_resistance_ohm
from nugget.outcome.melt import MELTED
from nugget.outcome.recorder import Recorder
from nugget.setup import Setup
from nugget.study.durations.branches import BURN_THROUGH, LongPulse, count_s
from nugget.weld.state import WeldState

GRID = 20
"""Durations of the growth curve that are kept: candidates for the next trial."""
BEYOND = 1.4
"""The growth curve reaches this many times the longest trial."""

ONSET_SPREAD = 0.08
"""Weld-to-weld spread of the time at which melting sets in, one standard deviation as a share of
it: surfaces differ. Assumption. Where the joint grows from nothing to most of its size within a
few tenths of a millisecond, this is what an average over welds sees."""
COLDEST = -4.0
"""Level of a cold surface: the heat up to melting is three to four times that of melting."""


@dataclass(frozen=True)
class Ask:
    """What one march has to answer.

    Attributes
    ----------
    setup : Setup
    durations_s : tuple of float
        Of the trials.
    deep_s : tuple of float
        Those of them after which the can's inner face was looked at.
    times_s : tuple of float
        Where current and tip voltage are wanted. Without any, and without durations, nothing is marched.
    """

    setup: Setup
    durations_s: tuple[float, ...]
    deep_s: tuple[float, ...]
    times_s: tuple[float, ...]

    @property
    def grid_s(self) -> FloatArray:
        """Durations of the growth curve [s]."""
        longest_s = self.longest_s
        return np.linspace(longest_s / GRID, longest_s, GRID)

    @property
    def longest_s(self) -> float:
        """Longest pulse that is marched [s]."""
        longest_s = BEYOND * max((*self.durations_s, *self.times_s, 0.0))
        step_s = count_s(self.setup)
        return longest_s if step_s is None else math.ceil(longest_s / step_s - 1e-9) * step_s


@dataclass(frozen=True)
class Answer:
    """Predictions of one condition, JSON-ready.

    Attributes
    ----------
    size_m : tuple of float
        Joint after each trial's duration, averaged over welds (`ONSET_SPREAD`): the fused diameter;
        below zero where nothing fused, by how far the surface was from fusing (see `size_of`).
    wall : tuple of float
        Melted share of the can wall after each duration.
    inner_K : tuple of float
        Peak of the can's inner face; that of the pulse alone where no trial looked inside.
    grid_m, grid_wall : tuple of float
        The same along the growth curve, at cut-off.
    current_A, voltage_V : tuple of float
        At the times asked for.
    print_m : tuple of float
        Diameter of the tip's print after each trial's duration.
    cold_ohm : tuple of float
        From tip to tip before the current warms anything; one number.
    failed : str
        Why there is no answer; empty when there is one.
    """

    size_m: tuple[float, ...] = ()
    wall: tuple[float, ...] = ()
    inner_K: tuple[float, ...] = ()
    grid_m: tuple[float, ...] = ()
    grid_wall: tuple[float, ...] = ()
    current_A: tuple[float, ...] = ()
    voltage_V: tuple[float, ...] = ()
    print_m: tuple[float, ...] = ()
    cold_ohm: tuple[float, ...] = ()
    failed: str = ""


class _Trunk(LongPulse):
    """Also records how far the faying surface is from fusing, where nothing has fused."""

    @staticmethod
    def _record(recorder: Recorder, state: WeldState) -> None:
        LongPulse._record(recorder, state)
        melt = recorder.melt
        level = np.minimum(*melt.side_levels(state, melt.faying)) - MELTED
        inside = melt.grid.r < state.contacts[melt.faying].radius_m
        recorder.rows[-1]["fuse_margin"] = float(level[inside].max(initial=COLDEST))


def answer_from(tree: dict[str, Any]) -> Answer:
    """Rebuild an `Answer` from JSON."""
    runs = {name: tuple(run) for name, run in tree.items() if name != "failed"}
    return Answer(**runs, failed=tree["failed"])


def answer(ask: Ask) -> Answer:
    """March one condition; a march that stops becomes an answer that says so."""
    try:
        cold = (cold_resistance_ohm(ask.setup),)
        if not ask.durations_s and not ask.times_s:
            return Answer(cold_ohm=cold)
        return replace(_read(_Trunk(ask.setup, ask.longest_s), ask), cold_ohm=cold)
    except (SolverError, ArithmeticError) as failure:
        return Answer(failed=str(failure))


def _read(long: _Trunk, ask: Ask) -> Answer:
    needed_s = max(*ask.durations_s, *ask.times_s, 0.0)
    if long.ended and long.ended != BURN_THROUGH and long.searched_s < needed_s:
        return Answer(failed=long.ended)
    history, scale_m = long.history(), scale_of(ask.setup)
    since = history["time_s"] - long.start_s
    growth = np.maximum.accumulate(size_of(history, scale_m))
    through = np.maximum.accumulate(history["can_penetration"])
    size, wall, inner, prints = [], [], [], []
    for duration_s in ask.durations_s:
        # Past a burn-through nothing more is known: what was there then stands.
        run = long.run(min(duration_s, long.searched_s), duration_s in ask.deep_s)
        smeared, sharp = _smeared(duration_s, since, growth), _at(duration_s, since, growth)
        size.append(float(size_of(run.history, scale_m).max()) + smeared[0] - sharp[0])
        prints.append(float(run.figures["tip_contact_diameter_m"]))
        wall.append(float(run.history["can_penetration"].max()))
        inner.append(float(run.history["can_inner_K"].max()) if "can_inner_K" in run.history else 0.0)
    current = np.abs(history["current_A"])
    return Answer(
        tuple(size),
        tuple(wall),
        tuple(inner),
        _smeared(ask.grid_s, since, growth),
        _at(ask.grid_s, since, through),
        _at(ask.times_s, since, current),
        _at(ask.times_s, since, current * history["load_ohm"]),
        tuple(prints),
    )


def _at(
    where: float | tuple[float, ...] | FloatArray, time_s: FloatArray, column: FloatArray
) -> tuple[float, ...]:
    return tuple(float(v) for v in np.interp(np.atleast_1d(where), time_s, column))


def _smeared(where: npt.ArrayLike, time_s: FloatArray, column: FloatArray) -> tuple[float, ...]:
    """As `_at`, averaged over welds whose clocks run `ONSET_SPREAD` apart."""
    away = np.linspace(-2.0, 2.0, 9)
    weight = np.exp(-0.5 * away**2)
    times = np.atleast_1d(where)[:, None] * np.exp(ONSET_SPREAD * away)[None, :]
    found = np.interp(times, time_s, column) @ (weight / weight.sum())
    return tuple(float(v) for v in found)


def scale_of(setup: Setup) -> float:
    """Size [m] that a cold surface is short of a joint: 4 t of the thinner part."""
    strip_m = sum(layer.thickness_m for layer in setup.strip)
    wall_m = sum(layer.thickness_m for layer in setup.base if layer.role == "can")
    return 4.0 * min(strip_m, wall_m)


def size_of(history: dict[str, FloatArray], scale_m: float) -> FloatArray:
    """Fused diameter [m] of each row; where nothing fused, minus what the surface lacks.

    A diameter stands at zero however cold the weld was, which tells a fit nothing. Below zero it
    goes on with the enthalpy that the faying surface lacks, so that the whole is continuous and
    rises with heat: a surface at room temperature stands near minus `scale_m`.
    """
    short = scale_m / -COLDEST * np.clip(history["fuse_margin"], COLDEST, 0.0)
    fused = history["nugget_diameter_m"]
    return np.where(fused > 0.0, fused, short)
