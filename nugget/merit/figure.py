"""Figures of merit: everything that a weld is described and judged by, each declared once.

A figure says what it is called, in what unit it stands, what it counts and how it is read off a
simulation. Whatever shows, keeps or judges welds iterates over `FIGURES` and asks the figure; nothing
else knows them by name. The built-in ones are declared in `nugget.outcome.registry`, others come
from plugins or from `register_figure`.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from nugget import plugins
from nugget.arrays import FloatArray
from nugget.errors import InputError

BUILT_IN = "nugget.outcome.registry"
"""Declares the built-in figures when it is imported. It stands above this room, which is why it is
found by its name, as a plugin is."""

UNITS = ("m", "s", "K", "A", "V", "C", "J", "N", "A2 s", "1", "share", "count", "yes/no", "text", "table")
"""Units of figures: SI; ``share`` of one, which people read in per cent; and what is no number."""

Per = Literal["spot", "pair", "weld", "cell"]
Value = Any
"""What a figure may be: a finite number, a truth value, text, a table; None where it does not apply."""


@dataclass(frozen=True)
class Figure:
    """One figure of merit.

    Attributes
    ----------
    key : str
        Its name in results and files, with the SI unit at its end.
    title : str
        For people.
    unit : str
        One of `UNITS`.
    per : {"spot", "pair", "weld", "cell"}
        What it counts; ``weld`` is all that one discharge makes: both spots of a series pair.
    section : str
        Under which heading it stands.
    help : str
        One sentence on its meaning.
    read : callable, optional
        Returns the value, from a `nugget.outcome.reading.Reading`; by default the largest value
        of `column`, or the smallest where the figure `falls`.
    source : {"history", "state", "setup"}
        Where it is read: from the columns against time, the last state or the setup alone.
    digits : int
        Significant digits that mean something.
    column : str
        Column of the history that the figure is the extreme of; empty when there is none.
    falls : bool
        Whether it becomes smaller, not larger, the longer a pulse lasts.
    layer : str
        Role of the layer without which the figure does not exist; empty when it always does.
    course : callable, optional
        How the figure comes about, row by row, from history and setup: numbers in its unit, or for
        a truth value a margin that is at or above zero where it is true. A figure with a course is
        decided while the current flows or within milliseconds after it. One without is known only
        when the interior has passed its peak.
    nearness : callable, optional
        How far a value is beyond a threshold, as a share that a search can use: of value,
        threshold, all figures and the setup. By default relative to the threshold, in kelvins
        relative to the threshold's rise above the surroundings.
    grid_low : float
        Share of a value, of its rise above the surroundings, or of what a truth value's margin compares, by
        which the standard grid may read it too low, measured against finer ones (manual, theory-numerics); a
        study adds it, in proportion to its cells, before it holds the value against a limit.
    weight : {"headline", "spread", "plain"}
        ``headline`` figures are followed through sensitivity and scatter, ``spread`` ones have their
        quantiles shown.
    short : str
        Its name where room is scarce; the title by default.
    beyond : str
        What a chart calls the line from which on a limit on it is broken.
    row, words, absent : str
        Label of its row in the report (empty: not shown; figures of one label share a row), what
        is said there with ``{}`` for the amount, and what is said when it is false or does not apply.
    optional : bool
        Whether nothing is said of zero.
    origin : str
        Plugin and distribution that brought it; empty for a built-in one.
    """

    key: str
    title: str
    unit: str
    per: Per
    section: str
    help: str
    read: Callable[[Any], Value] | None = None
    source: Literal["history", "state", "setup"] = "history"
    digits: int = 3
    column: str = ""
    falls: bool = False
    layer: str = ""
    course: Callable[[Mapping[str, FloatArray], Any], FloatArray] | None = None
    nearness: Callable[[float, float, Mapping[str, Value], Any], float] | None = None
    grid_low: float = 0.0
    weight: Literal["headline", "spread", "plain"] = "plain"
    short: str = ""
    beyond: str = ""
    row: str = ""
    words: str = "{}"
    absent: str = ""
    optional: bool = False
    origin: str = ""

    def __post_init__(self) -> None:
        if not self.key.isidentifier():
            raise InputError("figure", self.key, "a key of letters, digits and underscores")
        if self.unit not in UNITS:
            raise InputError(f"figure {self.key}: unit", self.unit, f"one of {', '.join(UNITS)}")
        if self.read is None and not self.column:
            raise InputError(f"figure {self.key}", "neither", "read or column, to know where it is read")

    @property
    def is_number(self) -> bool:
        """Whether its values are numbers."""
        return self.unit not in ("yes/no", "text", "table")

    @property
    def can_be_limited(self) -> bool:
        """Whether a limit may refer to it."""
        return self.unit not in ("text", "table")

    @property
    def si_unit(self) -> str:
        """Unit of its values as files state it."""
        return "1" if self.unit in ("share", "count", "yes/no") else self.unit

    def value(self, reading: Any) -> Value:
        """Read the figure off a simulation.

        Raises
        ------
        InputError
            When the reader of a plugin fails or returns what is no finite number.
        """
        try:
            found = self._extreme(reading.history) if self.read is None else self.read(reading)
            if self.is_number and found is not None:
                found = int(found) if self.unit == "count" else float(found)
                if not abs(found) < float("inf"):
                    raise ValueError(f"it is {found}")
            return bool(found) if self.unit == "yes/no" and found is not None else found
        except KeyboardInterrupt:
            raise
        except BaseException as error:  # a plugin may even ask to exit
            if not self.origin:
                raise
            what = f"{type(error).__name__}: {error}".splitlines()[0]
            expected = "a finite number, or None where it does not apply"
            raise InputError(f"{self.origin}: figure {self.key}", what, expected) from error

    def _extreme(self, history: Mapping[str, FloatArray]) -> float | None:
        if self.column not in history:
            return None
        column = history[self.column]
        return float(column.min() if self.falls else column.max())


class Registry(Mapping[str, Figure]):
    """All figures by key, the built-in ones first; read when one is first asked for.

    Attributes
    ----------
    problems : list of InputError
        What is wrong with figures of plugins. Those are left out; others are not affected.
    """

    def __init__(self) -> None:
        self._declared: dict[str, Figure] = {}
        self._brought: dict[str, Figure] = {}
        self._seen: tuple[plugins.Plugin, ...] = ()
        self._known = False
        self.problems: list[InputError] = []

    def add(self, figure: Figure) -> Figure:
        """Register a figure.

        Raises
        ------
        InputError
            When another figure has the same key.
        """
        if figure.key in self._declared or figure.key in self._brought:
            raise InputError(f"figure {figure.key}", "a second one", "a key that no figure has yet")
        self._declared[figure.key] = figure
        return figure

    def remove(self, key: str) -> None:
        """Forget a figure that `add` registered."""
        self._declared.pop(key, None)

    def _all(self) -> dict[str, Figure]:
        if not self._known:
            self._known = True
            importlib.import_module(BUILT_IN)
        installed = plugins.installed(plugins.FIGURES)
        if installed != self._seen:
            self._seen, self._brought, self.problems = installed, {}, []
            for plugin in installed:
                self._bring(plugin)
        return {**self._declared, **self._brought}

    def _bring(self, plugin: plugins.Plugin) -> None:
        """Register what a plugin brings; a fault of it is kept as a problem."""
        try:
            made = plugins.make(plugins.FIGURES, plugin.name, object)
            with plugins.at_work(plugin.where, "a Figure, or several"):
                figures = tuple(made) if isinstance(made, Iterable) else (made,)
            for figure in figures:
                if not isinstance(figure, Figure):
                    raise InputError(plugin.where, type(figure).__name__, "a Figure, or several")
                if figure.key in self._declared or figure.key in self._brought:
                    raise InputError(plugin.where, figure.key, "the key of no other figure")
                self._brought[figure.key] = replace(figure, origin=plugin.where)
        except InputError as problem:
            self.problems.append(problem)

    def __getitem__(self, key: str) -> Figure:
        return self._all()[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())


FIGURES = Registry()
"""Every figure of merit by key, in the order in which results hold them."""


def register_figure(figure: Figure) -> Figure:
    """Add a figure of merit in this process, for every weld that is simulated from now on.

    A second call with the same key takes the place of the first, so that a cell of a notebook can be
    run again. Worker processes do not see it: a plugin package brings a figure to all of them.

    Raises
    ------
    InputError
        When another figure has the same key.
    """
    if figure.key in FIGURES and FIGURES[figure.key].origin == plugins.HERE:
        FIGURES.remove(figure.key)
    return FIGURES.add(replace(figure, origin=plugins.HERE))
