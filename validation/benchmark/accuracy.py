"""Error against a converged reference over the time it costs, for three solvers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.grid.stack import Grid, build_grid
from nugget.setup import Setup
from nugget.weld.model import WeldModel
from nugget.weld.radius_solver import SETTLED_RADIUS
from nugget.weld.stepper import GAMMA
from validation.benchmark.fipy_ratio import steps
from validation.benchmark.timing import march, plain, seconds
from validation.case import Drawing, Outcome, reported
from validation.evidence.piece import Piece
from validation.peers import problems

REFINEMENTS = (0.5, 0.7, 1.0, 1.4, 2.0)
REFERENCE = 3.0
FIPY = (0.5, 1.0)
NAMES = {0.5: "coarse", 1.0: "standard", 2.0: "fine"}


@dataclass(frozen=True)
class Point:
    """One solution: solver, label, seconds, error of the eight rises (root mean square, relative)."""

    solver: str
    label: str
    seconds: float
    error: float


def run(repeats: int) -> Outcome:
    """One march each: the errors do not change, and the scale of the times is logarithmic."""
    standard = plain()
    places = problems.points(standard, build_grid(standard))
    reference = _model(plain(REFERENCE, tolerance_K=1.0), places)[1]

    def error(rise: FloatArray) -> float:
        return float(np.sqrt(np.mean((rise / reference - 1.0) ** 2)))

    points = []
    for refinement in REFINEMENTS:
        taken, rise, _ = _model(plain(refinement), places)
        points.append(Point("nugget", _label(refinement), taken, error(rise)))
    for refinement in FIPY:
        taken, rise = _fipy(plain(refinement), places)
        points.append(Point("FiPy", _label(refinement), taken, error(rise)))
    taken, rise = _elements(standard, places)
    points.append(Point("finite elements", "its own mesh", taken, error(rise)))
    checks = [
        reported(f"{p.solver}, {p.label}: error of the rises", p.error, "", f"{p.seconds:.2f} s")
        for p in points
    ]
    return Outcome(tuple(checks), (Drawing("accuracy", "Error over time.", lambda: _draw(points)),))


def _label(refinement: float) -> str:
    name = NAMES.get(refinement)
    return f"{name} grid" if name else f"refinement {refinement:g}"


def _read(grid: Grid, T: FloatArray, places: list[tuple[float, float]], ambient_K: float) -> FloatArray:
    from scipy.interpolate import RegularGridInterpolator

    read = RegularGridInterpolator((grid.z, grid.r), T, bounds_error=False, fill_value=None)
    return np.asarray(read([(z, r) for r, z in places])) - ambient_K


def _model(setup: Setup, places: list[tuple[float, float]]) -> tuple[float, FloatArray, FloatArray]:
    """Seconds, rises at the end of the pulse, times of the steps."""
    model = WeldModel(setup)
    found: list[Any] = []
    taken = seconds(lambda: found.extend(march(setup, model, setup.train_s)))
    rise = _read(model.grid, found[-1].temperature, places, setup.ambient_K)
    return taken, rise, np.array([moment.time_s for moment in found])


def _fipy(setup: Setup, places: list[tuple[float, float]]) -> tuple[float, FloatArray]:
    from validation.peers.fipy_weld import FipyWeld

    phases = steps(_model(setup, places)[2], setup.train_s)
    weld = FipyWeld(setup, setup.numerics.tolerance_K, SETTLED_RADIUS)
    states: list[Any] = []
    taken = seconds(lambda: states.extend(weld.march_in_stages(phases[:1])))
    return taken, _read(weld.grid, states[-1].temperature, places, setup.ambient_K)


def _elements(setup: Setup, places: list[tuple[float, float]]) -> tuple[float, FloatArray]:
    from validation.peers.fem_weld import FemWeld

    whole, on = steps(_model(setup, places)[2], setup.train_s)[0]
    halves = np.column_stack([GAMMA * whole, (1.0 - GAMMA) * whole]).ravel()
    weld = FemWeld(setup)
    states: list[Any] = []
    taken = seconds(lambda: states.extend(weld.march([(halves, on)])))
    return taken, weld.at(states[-1].temperature, places) - setup.ambient_K


def _draw(points: list[Point]) -> Any:
    from validation.drawing import axes

    figure, ax = axes("time of the pulse [s]", "error of eight rises")
    for solver, mark in (("nugget", "o-"), ("FiPy", "s--"), ("finite elements", "^")):
        own = [p for p in points if p.solver == solver]
        ax.loglog([p.seconds for p in own], [p.error for p in own], mark, label=solver)
        for p in own:
            beside = (5, -11 if p.label == NAMES[1.0] + " grid" else 5)  # the line rises from there
            ax.annotate(p.label, (p.seconds, p.error), xytext=beside, textcoords="offset points", fontsize=8)
    ax.margins(x=0.25, y=0.12)
    ax.legend()
    return figure


PIECE = Piece(
    name="accuracy",
    title="Accuracy for its cost",
    what="Rises at eight places at the end of the default pulse (without losses to air) against the grid "
    "with refinement 3 and a time step tolerance of 1 K; root mean square of the relative differences. FiPy "
    "takes nugget's steps and formula; the finite elements step backwards from stage to stage. One place "
    "lies in the open gap beside the contact, where rows coarser than the standard grid's are read across "
    "it: the error below the standard grid is of that place.",
    run=run,
)
