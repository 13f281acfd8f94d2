"""The simulation against the same equations, grid, steps and tolerances with FiPy's terms and solvers."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.field.fastest import kinds_of_field
from nugget.setup import Setup
from nugget.weld.model import WeldModel
from nugget.weld.radius_solver import SETTLED_RADIUS
from validation.benchmark.timing import REPEATS, Clock, clocked, march, medians, plain, seconds
from validation.case import Check, Outcome, at_least, at_most, reported
from validation.evidence.piece import Piece
from validation.peers import problems
from validation.peers.fipy_weld import FipyWeld, State

LEAST, AIM = 10.0, 20.0
AGREEMENT = 0.005
HOLD_S = 10e-3
"""The comparison ends this long after the pulse: later steps say nothing new."""


def run(repeats: int) -> Outcome:
    setup = plain()
    until_s = setup.train_s + HOLD_S
    model = WeldModel(setup)
    moments = march(setup, model, until_s)
    iterations = f"{len(moments) - 1} steps, {model.stage_count} iterations"
    ours, least, most = medians(lambda: march(setup, model, until_s), max(repeats, REPEATS))
    electric, heat = kinds_of_field()
    with clocked((electric, "solve"), (heat, "operator"), (heat.kind_of_operator, "newton")) as clocks:
        march(setup, model, until_s)
    own = (clocks[0].seconds + clocks[1].seconds + clocks[2].seconds) / (clocks[0].calls + clocks[2].calls)

    times = np.array([moment.time_s for moment in moments])
    phases = steps(times, setup.train_s)
    runs = [_peer(setup, phases) for _ in range(repeats)]
    taken = [run[0] for run in runs]
    theirs = float(np.median(taken))
    _, states, charge, heat = runs[-1]
    each = (charge.seconds + heat.seconds) / (charge.calls + heat.calls)

    at = int(np.argmin(np.abs(times - setup.train_s)))
    state = min(states, key=lambda s: abs(s.time_s - setup.train_s))
    places = [
        (int(np.abs(model.grid.z - z).argmin()), int(np.abs(model.grid.r - r).argmin()))
        for r, z in problems.points(setup, model.grid)
    ]
    apart = [
        abs((state.temperature[p] - setup.ambient_K) / (moments[at].temperature[p] - setup.ambient_K) - 1.0)
        for p in places
    ]
    checks: list[Check] = [
        at_least("FiPy over nugget, whole simulation", theirs / ours, LEAST, "", f"aim {AIM:g}"),
        at_most("largest difference of eight rises at the end of the pulse", max(apart), AGREEMENT),
        at_most(
            "difference of the resistance there",
            abs(state.load_ohm / moments[at].load_ohm - 1.0),
            AGREEMENT,
        ),
        reported("FiPy over nugget, one field assembled and solved", each / own),
        reported("nugget", ours, "s", f"{iterations}; {least:.2f} to {most:.2f} s"),
        reported("FiPy", theirs, "s", f"{charge.calls} and {heat.calls} solves; {min(taken):.1f} s at best"),
        reported("one field, nugget", 1e3 * own, "ms"),
        reported("one field, FiPy", 1e3 * each, "ms"),
    ]
    return Outcome(tuple(checks))


def _peer(setup: Setup, phases: list[tuple[FloatArray, bool]]) -> tuple[float, list[State], Clock, Clock]:
    """Seconds and states of one simulation with FiPy, and the clocks of its two equations."""
    weld = FipyWeld(setup, setup.numerics.tolerance_K, SETTLED_RADIUS)
    states: list[State] = []
    with clocked((weld.charge, "solve"), (weld.heat, "solve")) as (charge, heat):
        taken = seconds(lambda: states.extend(weld.march_in_stages(phases)))
    return taken, states, charge, heat


def steps(times: FloatArray, pulse_s: float) -> list[tuple[FloatArray, bool]]:
    """Steps of the peer: those of the simulation, while the pulse runs and after it."""
    sizes = np.diff(times)
    during = times[1:] <= pulse_s * (1.0 + 1e-9)
    return [(sizes[during], True), (sizes[~during], False)]


PIECE = Piece(
    name="fipy_ratio",
    title="Against a plain finite-volume solution",
    what="Default weld without losses to air, pulse and the first 10 ms of the hold, standard grid. FiPy "
    "assembles and solves the same equations (validation/peers/fipy_weld.py): terms built once, coefficients "
    "as variables, extrapolated first guesses, its direct solver (SuperLU; its conjugate gradients and GMRES "
    "took longer or did not converge on these matrices), over the steps of nugget with its two-stage "
    "formula, settled to the tolerance of nugget's step and to the same contact radii. Building grid, tables "
    "and terms is left out on both sides.",
    run=run,
)
