"""Case 4a: the same coupled problem from FiPy's terms and solvers, on the same grid."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from nugget.setup import Setup
from validation.case import Case, Drawing, Outcome, at_most
from validation.peer_comparison import compare, picture
from validation.peers import problems
from validation.peers.problems import Instant

TOLERANCE, SETTLED = 0.005, 0.001
"""What the model may be off by, and by how much at most the last halving of the peer's steps may have moved
anything that is compared: a fifth of that. The steps follow from the peer alone, never from the model."""
HALVINGS = 3


@dataclass(frozen=True)
class Plan:
    """How the peer marches.

    Attributes
    ----------
    times : tuple of float
        Instants that are compared [s].
    sizes : tuple of (float, float)
        Longest steps [s] up to a time [s], before any halving.
    settled_K : float
        Change at which a step of the peer ends. Real contact under flat faces never shrinks, so that what
        a step leaves open would add up: with 0.1 K rises came out 0.4 % too high.
    in_stages : bool
        The two-stage formula instead of backward differences.
    """

    times: tuple[float, ...]
    sizes: tuple[tuple[float, float], ...]
    settled_K: float
    in_stages: bool


PLANS = {
    "series": Plan((1e-3, 2.5e-3, 5.5e-3), ((0.5e-3, 1e-5), (2.6e-3, 8e-6), (1.0, 1.2e-4)), 0.05, True),
    "opposed": Plan((5e-3, 1 / 60, 20e-3), ((1.0, 6e-5),), 0.01, False),
}
"""Over melt the spot runs across a cell of the coarse grid of the series weld in some 10 us. Backward
differences look at the last two steps and lag behind it: with steps of 4 to 5 us its resistance at the end of
the pulse is 0.7 % higher than with half of them, and that is within 0.04 % of what the two-stage formula
says with steps of 8 to 10 us and with half of them. So the series weld is marched by that formula."""


@dataclass(frozen=True)
class Settled:
    """The peer's answer, how often its steps were halved, and what the last halving moved most (a share)."""

    instants: tuple[Instant, ...]
    halved: int
    moved: float


def _given(name: str) -> Setup:
    return problems.series() if name == "series" else problems.opposed()


@lru_cache(maxsize=2)
def _peer(name: str) -> Settled:
    """FiPy's answer: independent of the model's solver, so one run serves every comparison."""
    found, moved = _marched(name, 1.0), np.inf
    for halved in range(1, HALVINGS + 1):
        before, found = found, _marched(name, 0.5**halved)
        moved = max(_moved(a, b) for a, b in zip(before, found, strict=True))
        if moved < SETTLED:
            break
    return Settled(found, halved, moved)


def _moved(one: Instant, other: Instant) -> float:
    """Largest relative change of the rises and of the resistance."""
    a, b = (np.array([*x.rise_K, x.load_ohm]) for x in (one, other))
    return float(np.abs(a[b != 0.0] / b[b != 0.0] - 1.0).max())


def _marched(name: str, share: float) -> tuple[Instant, ...]:
    """FiPy's answer with that share of the planned steps."""
    from validation.peers.fipy_weld import FipyWeld

    given, plan = _given(name), PLANS[name]
    weld = FipyWeld(given, settled_K=plan.settled_K, settled_radius=4e-5)
    grid = weld.grid
    index = [
        (int(np.abs(grid.z - z).argmin()), int(np.abs(grid.r - r).argmin()))
        for r, z in problems.points(given, grid)
    ]
    found: list[Instant] = []
    phases = problems.steps(given, plan.times, [(until, share * size) for until, size in plan.sizes])
    march = weld.march_in_stages if plan.in_stages else weld.march
    for state in march([(phase, n == 0) for n, phase in enumerate(phases)]):
        if any(abs(state.time_s - t) < 1e-9 for t in plan.times):
            rise = np.array([state.temperature[p] for p in index]) - given.ambient_K
            found.append(Instant(state.time_s, rise, state.load_ohm, state.radii_m))
    return tuple(found)


def _run(name: str) -> Outcome:
    given = _given(name)
    grid, ours = problems.by_model(given, PLANS[name].times)
    peer = _peer(name)
    theirs = list(peer.instants)
    note = f"steps halved {peer.halved} times" if peer.halved > 1 else "steps halved once"
    checks = [
        at_most(
            "the peer itself: what its last halving of the steps moved most", peer.moved, SETTLED, "", note
        ),
        *compare(ours, theirs, TOLERANCE),
    ]
    caption = "Rise at the eight points: the model (dots) and FiPy (crosses)."
    drawing = Drawing("points", caption, lambda: picture(ours, theirs, "FiPy"))
    where = problems.described(grid, problems.points(given, grid))
    return Outcome(tuple(checks), (drawing,), where)


_SOURCE = (
    "FiPy's diffusion, transient and source terms and its direct solver on the same grid; properties "
    "straight from the curves, contacts, circuit, Joule heat and both second-order formulas of time "
    "written anew in validation/peers. It checks assembly and simulation, not the discretisation."
)
_WHY = (
    "0.5 % of each rise and of the resistance, a quarter of the whole numerical error that a weld may have: "
    "the grid is the same, so that steps and iterations alone differ. The peer's steps are halved until "
    "a halving moves nothing by more than 0.1 %."
)
CASES = (
    Case(
        key="4-fipy-series",
        title="Series battery weld against an assembly with FiPy",
        claim="Assembly, coupling and simulation of a battery weld (growing spots, melting, battery, "
        "inductance).",
        source=_SOURCE,
        tolerance=_WHY,
        run=lambda: _run("series"),
        quick=False,
    ),
    Case(
        key="4-fipy-opposed",
        title="Opposed coupon against an assembly with FiPy",
        claim="The same for two sheets between flat tips (asperities, melting, mirror plane, sine current).",
        source=_SOURCE,
        tolerance=_WHY,
        run=lambda: _run("opposed"),
        quick=False,
    ),
)
