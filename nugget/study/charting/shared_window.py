"""The window of pulse durations that every contact radius and both spots of a pair share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor

from nugget.setup import Setup
from nugget.study.charting.duration_chart import BAND, usual_longest
from nugget.study.durations.edges import grow
from nugget.study.durations.window import Window, agreed
from nugget.study.tasks import key_of, run_all

SIGNS = ("positive", "negative")
"""The two spots of a series pair: the current carries heat to one and from the other."""

Tasks = Mapping[str, tuple[Setup, float]]


def window_tasks(setup: Setup, longest_s: float | None = None) -> Tasks:
    """Return what has to be run: each spot of a pair at each contact radius of the band.

    Parameters
    ----------
    setup : Setup
    longest_s : float, optional
        Longest pulse to look at [s]; three times the setup's own by default.
    """
    pair = setup.arrangement.startswith("series") and setup.polarity == 0
    spots = [setup.with_({"arrangement.polarity": sign}) for sign in SIGNS] if pair else [setup]
    until_s = usual_longest(setup) if longest_s is None else longest_s
    tasks = [(spot.with_radius(factor), until_s) for spot in spots for factor in BAND]
    return {key_of(*task): task for task in tasks}


def shared_window(
    tasks: Tasks, executor: Executor | None = None, on_done: Callable[[str], None] | None = None
) -> Window:
    """Run the tasks and return the window that all of them share."""
    results = run_all(grow, tasks, executor, None, on_done)
    return agreed([results[key] for key in tasks])
