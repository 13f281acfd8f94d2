"""The cross-check of one weld: what is compared, and what is allowed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from nugget.crosscheck.recording import recorded
from nugget.crosscheck.repetition import Repetition
from nugget.errors import NuggetError
from nugget.grid.stack import Grid
from nugget.setup import Setup
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState

ALLOWED = 0.01
"""Largest difference allowed: half of the whole numerical error that a weld may have (theory: numerics)."""
SMALLEST_RISE_K = 1.0
"""Rises are compared to their own largest value, and to no less than this."""


@dataclass(frozen=True)
class Difference:
    """One quantity of both simulations, at the instant at which they are furthest apart.

    Attributes
    ----------
    name, unit : str
    time_s : float
    ours, theirs : float
        From the simulation and from FiPy, in `unit`.
    share : float
        Their difference, as a share of the largest value that the quantity takes in the weld (of the
        value itself for the load).
    """

    name: str
    unit: str
    time_s: float
    ours: float
    theirs: float
    share: float

    @property
    def passed(self) -> bool:
        """Whether the difference is allowed; what is not a number never is."""
        return self.share <= ALLOWED


@dataclass(frozen=True)
class CrossCheck:
    """What repeating a weld with FiPy found.

    Attributes
    ----------
    differences : tuple of Difference
    steps : int
        Steps of the simulation; every one was repeated.
    until_s : float
        Time of the last one.
    """

    differences: tuple[Difference, ...]
    steps: int
    until_s: float

    @property
    def worst(self) -> Difference:
        """The largest difference."""
        return max(self.differences, key=lambda d: np.inf if np.isnan(d.share) else d.share)

    @property
    def passed(self) -> bool:
        """Whether every difference is allowed."""
        return all(d.passed for d in self.differences)

    def record(self) -> dict[str, Any]:
        """Return the check as plain data."""
        return {
            "allowed_share": ALLOWED,
            "steps": self.steps,
            "until_s": self.until_s,
            "differences": [vars(d) for d in self.differences],
        }


class CrossCheckError(NuggetError):
    """The repeated weld differs from the simulation by more than is allowed.

    Parameters
    ----------
    check : CrossCheck
    """

    def __init__(self, check: CrossCheck) -> None:
        self.check = check
        d = check.worst
        super().__init__(
            f"the cross-check with FiPy failed: {d.name} differs by {100.0 * d.share:.3g} % at"
            f" {d.time_s * 1e3:.4g} ms ({d.ours:.4g} against {d.theirs:.4g} {d.unit}),"
            f" {100.0 * ALLOWED:g} % is allowed; do not rely on this prediction"
        )

    def __reduce__(self) -> tuple[type, tuple[CrossCheck]]:
        return type(self), (self.check,)


@dataclass
class _Series:
    """One quantity of both simulations, step by step."""

    unit: str
    relative: bool = False
    times: list[float] = field(default_factory=list)
    ours: list[float] = field(default_factory=list)
    theirs: list[float] = field(default_factory=list)

    def add(self, time_s: float, ours: float, theirs: float) -> None:
        self.times.append(time_s)
        self.ours.append(ours)
        self.theirs.append(theirs)

    def difference(self, name: str, least: float) -> Difference:
        ours, theirs = np.array(self.ours), np.array(self.theirs)
        scale = np.abs(ours) if self.relative else np.full_like(ours, max(np.abs(ours).max(), least))
        share = np.abs(theirs - ours) / scale
        at = int(np.argmax(np.where(np.isnan(share), np.inf, share)))
        return Difference(
            name, self.unit, self.times[at], float(ours[at]), float(theirs[at]), float(share[at])
        )


class _Comparison:
    """Collects what both simulations say."""

    def __init__(self, setup: Setup, grid: Grid) -> None:
        self.ambient_K, self.active = setup.ambient_K, grid.active
        self.probes = _probes(grid)
        self.load, self.current = _Series("ohm", relative=True), _Series("A")
        self.potential, self.hottest = _Series("V"), _Series("K")
        self.most_ohm = 0.0
        self.rises = {name: _Series("K") for name in self.probes}
        self.made, self.stored = _Series("J"), _Series("J")

    def add(self, state: WeldState, stored_J: float, theirs: Repetition) -> None:
        """Compare after one step; `stored_J` is the simulation's gain of enthalpy."""
        time = state.time_s
        if state.electric is not None and theirs.ampere is not None:
            self.load.add(time, state.load_ohm, theirs.load_ohm)
            self.current.add(time, state.circuit.current_A, theirs.current_A)
            self.most_ohm = max(self.most_ohm, state.electric.resistance_ohm)
            volts = theirs.ampere.potential_V
            apart = np.where(np.isnan(volts), -1.0, np.abs(volts - state.electric.potential))
            at = np.unravel_index(int(apart.argmax()), apart.shape)
            self.potential.add(time, float(state.electric.potential[at]), float(volts[at]))
        T, other = (np.where(self.active, t, -np.inf) for t in (state.temperature, theirs.T))
        self.hottest.add(time, float(T.max()) - self.ambient_K, float(other.max()) - self.ambient_K)
        for name, rows in self.probes.items():
            ours, their = (float(t[rows].max()) - self.ambient_K for t in (T, other))
            self.rises[name].add(time, ours, their)
        self.made.add(time, state.energy.load_J, theirs.heat_J)
        self.stored.add(time, stored_J, theirs.stored_J)

    def differences(self) -> tuple[Difference, ...]:
        """Every quantity where the two are furthest apart."""
        found: list[Difference] = []
        if self.load.times:
            found.append(self.load.difference("load that the source sees", 0.0))
            found.append(self.potential.difference("potential per ampere", self.most_ohm))
            found.append(self.current.difference("current", 0.0))
        found.append(self.hottest.difference("rise of the hottest point", SMALLEST_RISE_K))
        found += [series.difference(f"rise, {name}", SMALLEST_RISE_K) for name, series in self.rises.items()]
        found.append(self.made.difference("heat made", 0.0))
        found.append(self.stored.difference("heat stored", 0.0))
        return tuple(found)


def _probes(grid: Grid) -> dict[str, Any]:
    """Named places: both sides of each contact on the axis, the hottest cell at the top of each
    layer below the strip, and at the bottom of the can."""
    found: dict[str, Any] = {}
    for i in grid.interfaces:
        found[f"{i.name} contact, above, on the axis"] = (i.above, slice(0, 1))
        if not i.mirrored:
            found[f"{i.name} contact, below, on the axis"] = (i.below, slice(0, 1))
    outer = {"strip", "tip", "shank", "lower tip", "lower shank"}
    for layer in reversed(grid.layer_rows):
        if layer.role not in outer:
            found[f"{layer.role}, top row"] = (layer.end - 1, slice(None))
            if layer.role == "can":
                found[f"{layer.role}, bottom row"] = (layer.start, slice(None))
    return found


def cross_check(
    setup: Setup,
    on_step: Callable[[WeldState], None] | None = None,
    model: WeldModel | None = None,
) -> CrossCheck:
    """Simulate a weld, repeat every step of it with FiPy, and compare.

    Grid, steps and contacts (covered share, resistances) are those of the simulation; properties, assembly,
    Joule heat, circuit and losses are written anew, and FiPy discretises and solves. The repetition
    carries on from its own fields, so that what it does differently adds up. What it sees beside slips in
    the equations: how far a stage of the simulation stops from its solution, which `numerics.tolerance` sets.
    What it cannot see: a contact that is wrong, a grid that is too coarse, a material's data.

    Parameters
    ----------
    setup : Setup
    on_step : callable, optional
        Called with every state of the simulation once it has been repeated.
    model : WeldModel, optional
        The model to check, made from `setup` by default.

    Returns
    -------
    CrossCheck

    Raises
    ------
    CrossCheckError
        If anything differs by more than 1 %; its ``check`` holds all differences.
    SolverError
        If the simulation, or its repetition, does not converge.
    NuggetError
        If FiPy is missing.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.default_setup(["pulse.0.duration=0.2 ms", "numerics.refinement=0.3"])
    >>> nugget.cross_check(setup).passed
    True
    """
    model = WeldModel(setup) if model is None else model
    repetition = Repetition(setup, model.grid)
    comparison = _Comparison(setup, model.grid)
    initial_J, steps, until_s = model.stored(model.initial()), 0, 0.0
    for step in recorded(model):
        repetition.step(step)
        comparison.add(step.after, model.stored(step.after.enthalpy) - initial_J, repetition)
        steps, until_s = steps + 1, step.after.time_s
        if on_step is not None:
            on_step(step.after)
    check = CrossCheck(comparison.differences(), steps, until_s)
    if not check.passed:
        raise CrossCheckError(check)
    return check
