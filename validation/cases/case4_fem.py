"""Case 4b: the same coupled problem with finite elements on a mesh of their own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from nugget.setup.description import Setup
from validation.case import Case, Drawing, Outcome
from validation.cases.case4_fipy import compare, picture
from validation.peers import problems
from validation.peers.problems import Instant

BAR = 0.02


def _march(
    given: Setup,
    times: tuple[float, ...],
    sizes: tuple[tuple[float, float], ...],
    places: list[tuple[float, float]],
    fineness: float,
) -> tuple[list[Instant], int]:
    """The peer's answer on one mesh, and the number of its nodes."""
    from validation.peers.fem_weld import FemWeld

    weld = FemWeld(given, fineness)
    found: list[Instant] = []
    phases = problems.steps(given, times, sizes, first_s=3e-7, ratio=1.15)
    for state in weld.march([(phase, n == 0) for n, phase in enumerate(phases)]):
        if any(abs(state.time_s - t) < 1e-9 for t in times):
            rise = weld.at(state.temperature, places) - given.ambient_K
            found.append(Instant(state.time_s, rise, state.load_ohm, state.radii_m))
    return found, weld.size


def _extrapolated(coarse: Instant, fine: Instant) -> Instant:
    """To spacing zero: first order, as the flux is singular at the edge of a contact."""
    rise = 2.0 * fine.rise_K - coarse.rise_K
    radii = tuple(2.0 * b - a for a, b in zip(coarse.radii_m, fine.radii_m, strict=True))
    return Instant(fine.time_s, rise, 2.0 * fine.load_ohm - coarse.load_ohm, radii)


def _run(given: Setup, times: tuple[float, ...], sizes: tuple[tuple[float, float], ...]) -> Outcome:
    given = replace(given, numerics=replace(given.numerics, refinement=1.0))
    grid, ours = problems.by_model(given, times)
    places = problems.points(given, grid)
    (coarse, few), (fine, many) = (_march(given, times, sizes, places, f) for f in (1.0, 2.0))
    theirs = [_extrapolated(a, b) for a, b in zip(coarse, fine, strict=True)]
    moved = max(float(np.abs(b.rise_K / a.rise_K - 1.0).max()) for a, b in zip(fine, theirs, strict=True))
    drawing = Drawing("points", "Rise at eight points.", lambda: picture(ours, theirs, "finite elements"))
    text = (
        f"Meshes of {few} and {many} nodes, extrapolated to spacing zero (which moves a rise by at most "
        f"{moved:.1%}), against {int(np.count_nonzero(grid.active))} cells of the standard grid. "
        "A single mesh of 52 elements under the tip was judged first; in the series weld two rises then "
        "differed by 2.8 and 2.2 %, and a study of that mesh showed "
        "about half of it to be the elements' own error."
    )
    return Outcome(tuple(compare(ours, theirs, BAR)), (drawing,), text)


def run_series() -> Outcome:
    return _run(problems.series(), (1e-3, 6e-3, 9e-3), ((0.5e-3, 1.5e-5), (1.2e-3, 2.5e-5), (1.0, 1.5e-4)))


def run_opposed() -> Outcome:
    return _run(problems.opposed(), (5e-3, 1 / 60, 20e-3), ((1.0, 2e-4),))


_SOURCE = (
    "scikit-fem: bilinear elements, bodies joined through the traces at their contacts, lumped enthalpy, "
    "two meshes of its own, "
    "extrapolated, own time steps; properties straight from the curves, contacts and circuit written anew in "
    "validation/peers."
)
_BAR = "2 % of each rise and of the resistance, as the project's issue sets it."
CASES = (
    Case(
        key="4-fem-series",
        title="Series battery weld against finite elements",
        claim="Discretisation, coupling and march of the default weld on the standard grid.",
        source=_SOURCE,
        tolerance=_BAR,
        run=run_series,
        quick=False,
    ),
    Case(
        key="4-fem-opposed",
        title="Opposed coupon against finite elements",
        claim="The same for two sheets between flat tips.",
        source=_SOURCE,
        tolerance=_BAR,
        run=run_opposed,
        quick=False,
    ),
)
