"""Charts: the window of pulse durations against any field of a setup.

>>> from nugget.setup import default_setup
>>> from nugget.study.charting.duration_chart import draw_up, plan_chart
>>> chart = draw_up(plan_chart(default_setup()))      # doctest: +SKIP
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import Executor
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from nugget.errors import InputError
from nugget.setup import Setup
from nugget.setup.description import SHORTEST_PULSE_S
from nugget.study.charting.column_chances import Known, known_of, said_at
from nugget.study.charting.edge_spread import WELDS, Design, design_of, spread_of
from nugget.study.charting.hardware_changes import Tried, changes, judge_changes
from nugget.study.durations.branches import count_s
from nugget.study.durations.edges import Edge, Growth, grow
from nugget.study.durations.window import Window, crossing, window_of
from nugget.study.inputs.uncertain import MOST_SAMPLES, Inputs, inputs_of
from nugget.study.inputs.variation import Axis, usual_axis
from nugget.study.statement.reasons import Said
from nugget.study.statement.statement import looser
from nugget.study.tasks import Finished, key_of, run_all

FEWEST = 32
"""Welds of a panel at least: fewer do not know their own error. 16 of the default bench put the error of
the interior's response at a third of what it was."""
ROOM = 3.0
"""Longest pulse searched, as a multiple of the setup's own, before it is rounded up."""
ROUND = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


@dataclass(frozen=True)
class Column:
    """One place along the axis: what every duration does there.

    Attributes
    ----------
    value : float
        Of the axis field [SI].
    nominal : Growth
        Of the weld as set up.
    known : Known or None
        Over everything that is not known exactly; None where that was not asked for or cannot be said.
    """

    value: float
    nominal: Growth
    known: Known | None = None

    @property
    def window(self) -> Window:
        """Of the weld as set up."""
        return window_of(self.nominal)


@dataclass(frozen=True)
class Advice:
    """Why a column has no window, and what the changes that were tried do about it.

    Attributes
    ----------
    value : float
        Where along the axis [SI].
    crossing : str
    trials : tuple of Tried
        Those that open a window first.
    """

    value: float
    crossing: str
    trials: tuple[Tried, ...]


@dataclass(frozen=True)
class Panel:
    """The columns of one strip.

    Attributes
    ----------
    strip : str
    setup : Setup
    columns : tuple of Column
    advice : Advice or None
    said : Said or None
        The statement of the setup's own value and duration, where the axis has a column there.
    """

    strip: str
    setup: Setup
    columns: tuple[Column, ...]
    advice: Advice | None = None
    said: Said | None = None


@dataclass(frozen=True)
class Chart:
    """A finished chart.

    Attributes
    ----------
    setup : Setup
        The user's own.
    axis : Axis
    longest_s : float
        Durations up to this one were searched [s].
    spread : bool
        Whether what is not known exactly was varied.
    panels : tuple of Panel
        One for each strip.
    """

    setup: Setup
    axis: Axis
    longest_s: float
    spread: bool
    panels: tuple[Panel, ...]

    @property
    def own_s(self) -> float:
        """Duration of the setup's last pulse [s]."""
        return self.setup.train[-1].duration_s


Task = tuple[Setup, float]
"""Arguments of `nugget.study.durations.edges.grow`."""


@dataclass(frozen=True)
class PanelPlan:
    """What one panel asks for, by the keys of its tasks.

    Attributes
    ----------
    strip : Setup
    inputs : tuple of Inputs
        Around the setup of each column.
    nominal : tuple of str
        By column.
    design : Design or None
        The welds whose inputs vary; None where none do.
    rows : tuple of str
        Of these.
    """

    strip: Setup
    inputs: tuple[Inputs, ...]
    nominal: tuple[str, ...]
    design: Design | None = None
    rows: tuple[str, ...] = ()


@dataclass(frozen=True)
class Plan:
    """A chart that is still to be computed; all its setups have been checked."""

    setup: Setup
    axis: Axis
    longest_s: float
    tasks: dict[str, Task]
    panels: tuple[PanelPlan, ...]


def plan_chart(
    setup: Setup,
    axis: Axis | None = None,
    strips: Sequence[str] = (),
    longest_s: float | None = None,
    spread: bool = True,
    inputs: Inputs | None = None,
    welds: int = WELDS,
) -> Plan:
    """Check every setup of a chart before any of them is simulated.

    Parameters
    ----------
    setup : Setup
    axis : Axis, optional
        Strip thickness by default.
    strips : sequence of str
        Strip materials, one panel each; the setup's own by default.
    longest_s : float, optional
        Longest pulse to search [s]; three times the setup's own by default.
    spread : bool
        Whether welds are simulated whose inputs vary.
    inputs : Inputs, optional
        What is not known exactly; as the setup says by default.
    welds : int
        How many welds each panel varies its inputs in, from 32 up: more make its errors smaller.

    Raises
    ------
    InputError
        If a value along the axis, or a spread there, makes a setup that cannot be.
    """
    chosen = tuple(with_strip(setup, name) for name in dict.fromkeys(strips)) or (setup,)
    axis = usual_axis(chosen[0]) if axis is None else axis
    longest_s = usual_longest(setup) if longest_s is None else _checked(setup, longest_s)
    inputs = inputs_of(setup) if inputs is None else inputs
    tasks: dict[str, Task] = {}
    if spread and not FEWEST <= welds <= MOST_SAMPLES:
        raise InputError("welds", welds, f"from {FEWEST} to {MOST_SAMPLES}")
    count = welds if spread else 0
    panels = tuple(_planned(strip, axis, longest_s, inputs, count, tasks) for strip in chosen)
    return Plan(setup, axis, longest_s, tasks, panels)


def _planned(
    strip: Setup, axis: Axis, longest_s: float, inputs: Inputs, welds: int, tasks: dict[str, Task]
) -> PanelPlan:
    """One panel; what it has to simulate goes into `tasks`."""

    def keys(setups: Iterable[Setup]) -> tuple[str, ...]:
        found = [(key_of(one, longest_s), (one, longest_s)) for one in setups]
        tasks.update(found)
        return tuple(key for key, _ in found)

    columns = [axis.setup_at(strip, value) for value in axis.values]
    around = tuple(inputs.around(there) for there in columns)
    # On the setup's own grid: at 0.7 of it single edges of the wall came up to 5 % of the duration later.
    nominal = keys(columns)
    if welds == 0:
        return PanelPlan(strip, around, nominal)
    design = design_of(around[0], len(columns), welds)
    rows = [around[c].setup_at(row) for row, c in zip(design.deviations, design.columns, strict=True)]
    return PanelPlan(strip, around, nominal, design, keys(map(looser, rows)))


def draw_up(
    plan: Plan,
    executor: Executor | None = None,
    finished: Finished[Growth] | None = None,
    on_done: Callable[[str, int], None] | None = None,
    advice: bool = True,
) -> Chart:
    """Compute a chart.

    Parameters
    ----------
    plan : Plan
    executor : Executor, optional
        One simulation after the other in this process by default.
    finished : Finished, optional
        From `kept`: results of an earlier call, and where new ones are put.
    on_done : callable, optional
        Called with the key of each simulation that is in and the number there will be.
    advice : bool
        Try changes where there is no window.
    """
    total = len(plan.tasks)

    def count(key: str) -> None:
        if on_done is not None:
            on_done(key, total)

    results = run_all(grow, plan.tasks, executor, finished, count)
    panels = [_panel(plan, one, results) for one in plan.panels]
    if advice:
        closed = [_closed(plan.axis, panel) for panel in panels]
        tried = [
            [] if one is None else changes(plan.axis.setup_at(panel.setup, one.value))
            for one, panel in zip(closed, panels, strict=True)
        ]
        setups = [[looser(change.setup) for change in some] for some in tried]
        keys = [[key_of(one, plan.longest_s) for one in some] for some in setups]
        tasks = {
            key: (one, plan.longest_s)
            for some, names in zip(setups, keys, strict=True)
            for one, key in zip(some, names, strict=True)
        }
        fresh = {key: task for key, task in tasks.items() if key not in results}
        total += len(fresh)
        results |= run_all(grow, fresh, executor, finished, count)
        panels = [
            panel if one is None else replace(panel, advice=_advice(one, some, [results[k] for k in names]))
            for panel, one, some, names in zip(panels, closed, tried, keys, strict=True)
        ]
    spread = any(one.design is not None for one in plan.panels)
    return Chart(plan.setup, plan.axis, plan.longest_s, spread, tuple(panels))


def _panel(plan: Plan, one: PanelPlan, results: dict[str, Growth]) -> Panel:
    """A panel from its simulations."""
    name = one.strip.file.strip.material or "layers"
    nominal = [results[key] for key in one.nominal]
    columns = [Column(value, growth) for value, growth in zip(plan.axis.values, nominal, strict=True)]
    if one.design is None:
        return Panel(name, one.strip, tuple(columns))
    rows = [results[key] for key in one.rows]
    spread = spread_of(one.inputs, one.design, nominal, rows, plan.longest_s)
    if spread is None:
        return Panel(name, one.strip, tuple(columns))
    known = [known_of(spread, k, plan.longest_s, growth.shortest_s) for k, growth in enumerate(nominal)]
    own = plan.axis.own
    at = next((k for k, c in enumerate(columns) if own is not None and math.isclose(c.value, own)), None)
    said = None if at is None else said_at(spread, at, plan.setup.train[-1].duration_s)
    found = (replace(c, known=k) for c, k in zip(columns, known, strict=True))
    return Panel(name, one.strip, tuple(found), said=said)


def _closed(axis: Axis, panel: Panel) -> Column | None:
    """The column without a window that matters most: nearest to the user's own setting."""
    closed = [column for column in panel.columns if column.window.closed]
    if not closed:
        return None
    if axis.own is None:
        return max(closed, key=lambda column: column.window.ratio)
    own = axis.own
    return min(closed, key=lambda column: abs(column.value - own))


def _advice(column: Column, tried: list[Any], growths: list[Growth]) -> Advice:
    return Advice(column.value, crossing(column.nominal), tuple(judge_changes(tried, growths)))


def kept(path: Path | None = None, resume: bool = False) -> Finished[Growth]:
    """Finished simulations, in a file when `path` is given; `resume` reads what it holds already."""
    return Finished(asdict, growth_from, path, resume)


def growth_from(tree: dict[str, Any]) -> Growth:
    """Rebuild a `Growth` from what `dataclasses.asdict` and JSON made of it."""
    columns = {name: tuple(tree[name]) for name in ("time_s", "fused_m", "bonded_m", "current_A")}
    return Growth(**(tree | columns | {"edges": tuple(Edge(**edge) for edge in tree["edges"])}))


def with_strip(setup: Setup, name: str) -> Setup:
    """Return `setup` with a strip of another material, as thick as its own."""
    whole_m = sum(layer.thickness_m for layer in setup.strip)
    return setup.with_({"strip.material": name, "strip.thickness": whole_m})


def usual_longest(setup: Setup) -> float:
    """Three times the setup's own last pulse, rounded up to a number for an axis [s]."""
    wanted = ROOM * setup.train[-1].duration_s
    decade = 10.0 ** math.floor(math.log10(wanted))
    longest_s = decade * next(r for r in ROUND if r * decade >= wanted * (1.0 - 1e-9))
    step_s = count_s(setup)
    return longest_s if step_s is None else max(1, round(longest_s / step_s)) * step_s


def _checked(setup: Setup, longest_s: float) -> float:
    pulse, step_s = setup.train[-1], count_s(setup)
    shortest_s = max(pulse.upslope_s + pulse.downslope_s, SHORTEST_PULSE_S)
    if not shortest_s < longest_s <= 10.0:
        text = f"between {shortest_s * 1e3:.3g} ms, for the slopes to fit, and 10 s"
        raise InputError("longest pulse", f"{longest_s * 1e3:.4g} ms", text)
    return longest_s if step_s is None else max(1, round(longest_s / step_s)) * step_s
