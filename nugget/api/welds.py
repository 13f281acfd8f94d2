"""One weld: simulate it, step through it, judge it, read it back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path

from nugget.api.results import Judgement, Weld
from nugget.outcome import loading, verdict
from nugget.outcome import weld as outcome
from nugget.setup import Setup
from nugget.weld.state import WeldState


def simulate(
    setup: Setup,
    *,
    keep: Sequence[float | str] | None = None,
    every: int | None = None,
    on_step: Callable[[WeldState], None] | None = None,
) -> Weld:
    """Run one march of `setup` and return the weld.

    Parameters
    ----------
    setup : Setup
        From `default_setup`, `load_setup` or `preset`.
    keep : sequence of float or str, optional
        Instants [s], or text such as ``"5 ms"``, at which temperature, liquid fraction, potential
        and current density are kept in `Weld.fields`. The march stays as it is; between its
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
    MarchError
        If the march cannot converge; it says at which time and why.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.default_setup(["pulse.0.duration=1 ms", "numerics.refinement=0.3"])
    >>> weld = nugget.simulate(setup)
    >>> weld.peak_current_A > 1000.0
    True
    """
    return Weld.of(outcome.march_weld(setup, on_step, keep, every))


def judge(
    setup: Setup,
    *,
    executor: Executor | None = None,
    on_done: Callable[[str], None] | None = None,
    frames: int | None = None,
) -> Judgement:
    """Simulate `setup` and judge the weld, at other contact radii, force and source resistance too.

    Parameters
    ----------
    setup : Setup
    executor : Executor, optional
        Of `concurrent.futures`, or one that works alike: runs the variants in parallel; one after
        the other by default.
    on_done : callable, optional
        Called with each variant's name when its run is in.
    frames : int, optional
        Keep the fields of the nominal weld at so many instants, and fewer than twice as many, for
        `Judgement.to_html`.

    Returns
    -------
    Judgement
        Verdict and reason, limits with their margins, and the nominal weld. A prediction is never
        a permission.

    Raises
    ------
    MarchError

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.preset("coupon", ["pulse.0.duration=0.02 ms", "numerics.refinement=0.3"])
    >>> nugget.judge(setup).verdict
    'too cold'
    """
    return Judgement.of(verdict.judge(setup, executor, on_done, frames))


def load_weld(path: str | Path) -> Weld:
    """Read a weld back that `Weld.save` wrote.

    Raises
    ------
    InputError
        If the file is not one of ours.
    """
    return Weld.of(loading.load_weld(path))
