"""Questions that take many welds, each by one call.

Every call takes an executor of `concurrent.futures`, or one that works alike; by default one simulation
runs after the other in this process.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.setup import Setup

if TYPE_CHECKING:
    from nugget.study.calibration.fit import Calibration
    from nugget.study.calibration.observation import Judging
    from nugget.study.charting.duration_chart import Chart
    from nugget.study.statement.statement import Statement
    from nugget.study.suggestion.candidate import Suggestion

WELDS_OF_A_CHART = 64


def chart(
    setup: Setup,
    vary: str | None = None,
    *,
    strips: Sequence[str] = (),
    longest_s: float | None = None,
    tolerances: Mapping[str, str] | None = None,
    spread: bool = True,
    welds: int = WELDS_OF_A_CHART,
    advice: bool = True,
    executor: Executor | None = None,
    on_done: Callable[[str, int], None] | None = None,
) -> Chart:
    """Find the window of pulse durations against a field of the setup.

    Parameters
    ----------
    setup : Setup
    vary : str, optional
        ``FIELD=FROM:TO:COUNT``, such as ``"electrode.force=10 N:60 N:11"``; strip thickness by
        default.
    strips : sequence of str
        Strip materials, one panel each; the setup's own by default.
    longest_s : float, optional
        Longest pulse to search [s]; three times the setup's own by default.
    tolerances : mapping of str to str, optional
        As in `scatter`.
    spread : bool
        Whether welds are simulated whose inputs vary, for the statement and the bands.
    welds : int
        How many of them for each strip, from 32 up.
    advice : bool
        Try changes of hardware where there is no window.
    executor : Executor, optional
    on_done : callable, optional
        Called with the key of each simulation that is in and the number there will be.

    Raises
    ------
    InputError
        If a value along the axis makes a setup that cannot be.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.preset("coupon", ["numerics.refinement=0.25", "numerics.tolerance=40 K"])
    >>> found = nugget.chart(setup, "electrode.force=20 N:40 N:2", spread=False, advice=False, longest_s=1e-4)
    >>> [column.value for column in found.panels[0].columns]
    [20.0, 40.0]
    """
    from nugget.study.charting.duration_chart import draw_up, plan_chart
    from nugget.study.inputs.uncertain import inputs_of
    from nugget.study.inputs.variation import read_axis

    given = inputs_of(setup, [f"{field}={width}" for field, width in (tolerances or {}).items()])
    axis = None if vary is None else read_axis(setup, vary)
    plan = plan_chart(setup, axis, strips, longest_s, spread, given, welds)
    return draw_up(plan, executor, on_done=on_done, advice=advice)


def scatter(
    setup: Setup,
    tolerances: Mapping[str, str] | None = None,
    *,
    samples: int = 256,
    seed: int = 1,
    executor: Executor | None = None,
    on_done: Callable[[str, int], None] | None = None,
) -> Statement:
    """Simulate many welds whose inputs vary from weld to weld, and say what follows.

    Parameters
    ----------
    setup : Setup
    tolerances : mapping of str to str, optional
        Width that holds 95 % of welds, by field: ``{"electrode.force": "10 %"}``, ``"0.5 mm"``,
        ``"x1.25"``, or ``"none"`` to leave a field alone. Over what ``nugget inputs`` lists.
    samples : int
        From 8 up.
    seed : int
        The same seed draws the same welds.
    executor : Executor, optional
    on_done : callable, optional
        Called with the key of each simulation that is in, and the number there will be.

    Raises
    ------
    InputError
        When a tolerance reaches what no setup can have.
    SolverError
        When hardly a simulation came to its end.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.preset("coupon", ["pulse.0.duration=0.1 ms", "numerics.refinement=0.25"])
    >>> len(nugget.scatter(setup, {"electrode.force": "10 %"}, samples=8).samples)
    8
    """
    from nugget.study.inputs.uncertain import inputs_of
    from nugget.study.statement.statement import state

    given = inputs_of(setup, [f"{field}={width}" for field, width in (tolerances or {}).items()])
    return state(setup, given, (samples,), seed, executor, on_done=on_done)


def calibrate(
    setup: Setup,
    trials: str | Path,
    *,
    traces: Sequence[str | Path] = (),
    fit: Sequence[str] = (),
    tolerances: Mapping[str, str] | None = None,
    judging: Judging | None = None,
    advice: bool = True,
    executor: Executor | None = None,
    on_done: Callable[[int, int], None] | None = None,
) -> Calibration:
    """Fit what is uncertain about a machine to trial welds.

    Parameters
    ----------
    setup : Setup
        What the trials were made with.
    trials : str or Path
        CSV table of trials.
    traces : sequence of str or Path
        Scope traces of the setup as it is.
    fit : sequence of str
        Fields to fit, such as ``"contact.hardness_factor"``, all others held; by default all that are
        uncertain.
    tolerances : mapping of str to str, optional
        How well inputs are known before, as in `scatter`.
    judging : Judging, optional
        How observations are read.
    advice : bool
        Work out the most informative next trials.
    executor : Executor, optional
    on_done : callable, optional
        Called with the number of simulations done and the number asked for so far.

    Returns
    -------
    Calibration
        Its `overrides` are what ``setup.with_`` takes.

    Raises
    ------
    InputError
        One line that names the file, the row and the column.
    SolverError
        When the model gives no answer for the setup as it is.
    """
    from nugget.study.calibration.bench import gather
    from nugget.study.calibration.fit import calibrate as fitted
    from nugget.study.calibration.trial_table import read_trials

    path = Path(trials)
    bench = gather(read_trials(path, setup), setup, path.parent, [Path(trace) for trace in traces], judging)
    given = [f"{field}={width}" for field, width in (tolerances or {}).items()]
    return fitted(bench, given, fit, executor, on_done=on_done, advice=advice)


def suggest(
    setup: Setup,
    allow: Mapping[str, tuple[str, str]] | None = None,
    *,
    tolerances: Mapping[str, str] | None = None,
    longest_s: float | None = None,
    executor: Executor | None = None,
    on_done: Callable[[int, int], None] | None = None,
) -> Suggestion:
    """Search pulse trains, durations and the allowed fields for a weld in the window.

    Parameters
    ----------
    setup : Setup
    allow : mapping of str to (str, str), optional
        What the search may change, and between which values: ``{"electrode.force": ("15 N", "50 N")}``.
    tolerances : mapping of str to str, optional
        As in `scatter`.
    longest_s : float, optional
        Longest pulse searched [s].
    executor : Executor, optional
    on_done : callable, optional
        Called with the number of tasks done and the number asked for so far.

    Raises
    ------
    InputError
    """
    from nugget.study.suggestion.candidate import read_free
    from nugget.study.suggestion.setting_search import suggest as search

    free = [read_free(setup, f"{field}={low}:{high}") for field, (low, high) in (allow or {}).items()]
    given = [f"{field}={width}" for field, width in (tolerances or {}).items()]
    return search(setup, free, given, longest_s, executor, on_done=on_done)
