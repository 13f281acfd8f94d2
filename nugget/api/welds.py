"""One weld: simulate it, step through it, judge it, read it back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path

from nugget.api.results import Assessment, Weld
from nugget.outcome import loading
from nugget.outcome import weld as outcome
from nugget.setup import Setup
from nugget.study.inputs.uncertain import inputs_of
from nugget.study.statement import assessment
from nugget.weld.state import WeldState


def simulate(
    setup: Setup,
    *,
    keep: Sequence[float | str] | None = None,
    every: int | None = None,
    on_step: Callable[[WeldState], None] | None = None,
) -> Weld:
    """Simulate `setup` once and return the weld.

    Parameters
    ----------
    setup : Setup
        From `default_setup`, `load_setup` or `preset`.
    keep : sequence of float or str, optional
        Instants [s], or text such as ``"5 ms"``, at which temperature, liquid fraction, potential
        and current density are kept in `Weld.fields`. The simulation stays as it is; between its
        steps the fields are linear.
    every : int, optional
        Keep them after every so many steps instead, and at the start and the end: some 1.5 MB
        of memory for each ten states of the usual grid.
    on_step : callable, optional
        Called with every `nugget.weld.march.WeldState`.

    Raises
    ------
    InputError
        If an instant lies beyond the longest run.
    SolverError
        If the simulation cannot converge; it says at which time and why.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.preset("coupon", ["pulse.0.duration=0.2 ms", "numerics.refinement=0.3"])
    >>> weld = nugget.simulate(setup)
    >>> weld.peak_current_A > 1000.0
    True
    """
    return Weld.of(outcome.run_weld(setup, on_step, keep, every))


def judge(
    setup: Setup,
    *,
    tolerance: Sequence[str] = (),
    executor: Executor | None = None,
    on_done: Callable[[str, int], None] | None = None,
    frames: int | None = None,
) -> Assessment:
    """Simulate `setup` and judge the weld over everything about it that is not known exactly.

    Parameters
    ----------
    setup : Setup
    tolerance : sequence of str
        What is known better than ``nugget inputs`` lists, such as ``"electrode.force=5 %"``.
    executor : Executor, optional
        Of `concurrent.futures`, or one that works alike: runs the many welds in parallel; one
        after the other by default.
    on_done : callable, optional
        Called with the key of each simulation that is in, and the number asked for so far.
    frames : int, optional
        Keep the fields of the nominal weld at so many instants, and fewer than twice as many, for
        `Assessment.to_html`.

    Returns
    -------
    Assessment
        Verdict, reason and chances, limits with their margins, and the weld as set up. A prediction is never
        a permission.

    Raises
    ------
    SolverError

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.preset("coupon", ["pulse.0.duration=0.02 ms", "numerics.refinement=0.3"])
    >>> nugget.judge(setup).verdict
    'too cold'
    """
    found = assessment.judge(setup, inputs_of(setup, tolerance), executor, on_done, frames=frames)
    return Assessment.of(found)


def load_weld(path: str | Path) -> Weld:
    """Read a weld back that `Weld.save` wrote.

    Raises
    ------
    InputError
        If the file is not one of ours.
    """
    return Weld.of(loading.load_weld(path))
