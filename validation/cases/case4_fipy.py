"""Case 4a: the same coupled problem from FiPy's terms and solvers, on the same grid."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from validation.case import Case, Drawing, Outcome
from validation.peer_comparison import compare, picture
from validation.peers import problems
from validation.peers.problems import Instant

TOLERANCE = 0.005


SERIES = (1e-3, 2.5e-3, 5.5e-3), ((0.5e-3, 5e-6), (2.6e-3, 4e-6), (1.0, 6e-5))
"""Instants, and longest steps up to a time: over melt the spot runs across a cell of this coarse grid in
some 10 us. Backward differences look at the last two steps and lag behind it: with steps of 12 to 20 us
the tip's contact came out at 270.0 um after 2.5 ms and the resistance 1 % too high, with half of them
0.3 % and with these 0.5 %: what each step leaves open adds up too. The two-stage formula with the long
steps ends 0.2 % below the model's."""
SETTLED_K = {"series": 0.1, "opposed": 0.01}
"""Change at which the peer ends a step. Real contact under flat faces never shrinks, so that what a step
leaves open would add up: with 0.1 K rises came out 0.4 % too high."""
OPPOSED = (5e-3, 1 / 60, 20e-3), ((1.0, 3e-5),)


@lru_cache(maxsize=2)
def _peer(name: str) -> tuple[Instant, ...]:
    """FiPy's answer: independent of the model's solver, so one run serves every comparison."""
    from validation.peers.fipy_weld import FipyWeld

    given = problems.series() if name == "series" else problems.opposed()
    times, sizes = SERIES if name == "series" else OPPOSED
    weld = FipyWeld(given, settled_K=SETTLED_K[name])
    grid = weld.grid
    index = [
        (int(np.abs(grid.z - z).argmin()), int(np.abs(grid.r - r).argmin()))
        for r, z in problems.points(given, grid)
    ]
    found: list[Instant] = []
    phases = problems.steps(given, times, sizes)
    for state in weld.march([(phase, n == 0) for n, phase in enumerate(phases)]):
        if any(abs(state.time_s - t) < 1e-9 for t in times):
            rise = np.array([state.temperature[p] for p in index]) - given.ambient_K
            found.append(Instant(state.time_s, rise, state.load_ohm, state.radii_m))
    return tuple(found)


def _run(name: str) -> Outcome:
    given = problems.series() if name == "series" else problems.opposed()
    times, _ = SERIES if name == "series" else OPPOSED
    grid, ours = problems.by_model(given, times)
    theirs = list(_peer(name))
    caption = "Rise at the eight points: the model (dots) and FiPy (crosses)."
    drawing = Drawing("points", caption, lambda: picture(ours, theirs, "FiPy"))
    where = problems.described(grid, problems.points(given, grid))
    return Outcome(tuple(compare(ours, theirs, TOLERANCE)), (drawing,), where)


_SOURCE = (
    "FiPy's diffusion, transient and source terms and its direct solver on the same grid; properties "
    "straight from the curves, contacts, circuit, Joule heat and second-order backward differentiation "
    "written anew in validation/peers. It checks assembly and simulation, not the discretisation."
)
_WHY = (
    "0.5 % of each rise and of the resistance, a quarter of the whole numerical error that a weld may have: "
    "the grid is the same, so that steps and iterations alone differ."
)
CASES = (
    Case(
        key="4-fipy-series",
        title="Series battery weld against an assembly with FiPy",
        claim="Assembly, coupling and simulation of the default weld (growing spots, melting, battery, "
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
