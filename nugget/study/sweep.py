"""One weld for every combination of values of some fields, with labelled results.

>>> import nugget
>>> found = nugget.sweep(nugget.default_setup(), {"electrode.force": ["20 N", "40 N"]})  # doctest: +SKIP
"""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import VERSION
from nugget.errors import InputError, SolverError
from nugget.materials.material import Material
from nugget.merit.figure import FIGURES
from nugget.outcome.verdict import state_of
from nugget.outcome.weld import run_weld
from nugget.setup import Setup
from nugget.study.tasks import key_of, run_all

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

MOST_WELDS = 100_000
STATE = "state_at_nominal_contact"
"""Verdict of the single run; `nugget.judge` asks what is not known exactly, too."""


@dataclass(frozen=True)
class SweptField:
    """A field of the setup and what it is set to.

    Attributes
    ----------
    path : str
        As setup files call it, such as ``electrode.force``.
    unit : str
        SI unit of `labels`; ``"1"`` without a dimension, empty where the values are names.
    labels : tuple of float or str
        The values in SI units, or names.
    values : tuple
        What is handed to the setup.
    """

    path: str
    unit: str
    labels: tuple[float, ...] | tuple[str, ...]
    values: tuple[Any, ...]


@dataclass(frozen=True, repr=False)
class Sweep:
    """Figures of merit of every combination.

    Attributes
    ----------
    setup : Setup
        What the fields were changed in.
    fields : tuple of SweptField
        One for each axis of the arrays, in order.
    figures : dict of str to ndarray
        SI units in the names; NaN where a figure does not apply or the simulation stopped.
    states : ndarray of str
        ``in window``, ``too cold``, ``too hot`` or ``no window``, at nominal contact alone;
        empty where the simulation stopped.
    failures : dict of tuple of int to str
        Why a simulation stopped, by its place along the axes.
    """

    setup: Setup
    fields: tuple[SweptField, ...]
    figures: dict[str, FloatArray]
    states: np.ndarray[tuple[int, ...], np.dtype[np.str_]]
    failures: dict[tuple[int, ...], str]

    @property
    def shape(self) -> tuple[int, ...]:
        """Number of values along each axis."""
        return tuple(len(field.labels) for field in self.fields)

    def __getitem__(self, name: str) -> FloatArray:
        """Return a figure's array by its name."""
        try:
            return self.figures[name]
        except KeyError:
            raise KeyError(f"no figure {name!r} in this sweep") from None

    def __repr__(self) -> str:
        """Return a few lines: the axes, how many figures, what failed."""
        lines = [f"<Sweep of {self.setup.title!r}: {self.states.size} welds, {len(self.figures)} figures>"]
        for field in self.fields:
            shown = [label if isinstance(label, str) else f"{label:.4g}" for label in field.labels]
            ends = ", ".join(shown if len(shown) < 6 else [*shown[:3], "...", shown[-1]])
            lines.append(f"  {field.path}: {ends} {field.unit}".rstrip())
        if self.failures:
            lines.append(
                f"  stopped: {len(self.failures)}, the first because {next(iter(self.failures.values()))}"
            )
        return "\n".join(lines)

    def to_xarray(self) -> xr.Dataset:
        """Return a Dataset with a named dimension for each field, units in the attributes.

        Variables: every figure, `STATE`, and ``failure`` with what stopped a simulation.
        """
        import xarray as xr

        dims = tuple(field.path for field in self.fields)
        data: dict[str, Any] = {
            name: (dims, values, {"units": FIGURES[name].si_unit, "long_name": FIGURES[name].title})
            for name, values in self.figures.items()
        }
        data[STATE] = (dims, self.states.astype(object))
        data["failure"] = (dims, self._failures())
        coords = {
            field.path: (field.path, list(field.labels), {"units": field.unit} if field.unit else {})
            for field in self.fields
        }
        attrs = {"title": self.setup.title, "source": f"nugget {VERSION}"}
        return xr.Dataset(data, coords, attrs)

    def to_dataframe(self) -> pd.DataFrame:
        """Return a table with a row for each weld; the index holds the fields, ``attrs`` the units."""
        import pandas as pd

        index = pd.MultiIndex.from_product(
            [field.labels for field in self.fields], names=[field.path for field in self.fields]
        )
        columns: dict[str, Any] = {name: values.ravel() for name, values in self.figures.items()}
        columns |= {STATE: self.states.ravel().astype(object), "failure": self._failures().ravel()}
        table = pd.DataFrame(columns, index=index if len(self.fields) > 1 else index.get_level_values(0))
        table.attrs["units"] = {name: FIGURES[name].si_unit for name in self.figures} | {
            field.path: field.unit for field in self.fields
        }
        return table

    def _failures(self) -> np.ndarray[tuple[int, ...], np.dtype[np.object_]]:
        words = np.full(self.shape, "", dtype=object)
        for place, why in self.failures.items():
            words[place] = why
        return words


def sweep(
    setup: Setup,
    fields: Mapping[str, Sequence[Any]],
    *,
    figures: Sequence[str] | None = None,
    executor: Executor | None = None,
    on_done: Callable[[int, int], None] | None = None,
) -> Sweep:
    """Simulate one weld for every combination of values.

    Parameters
    ----------
    setup : Setup
    fields : mapping of str to sequence
        Values by field, such as ``{"electrode.force": ["20 N", 30.0], "strip.material": ["nickel-200"]}``:
        text with a unit, numbers in SI units, names, materials made in Python.
    figures : sequence of str, optional
        Names of the figures of merit to keep; every number by default.
    executor : Executor, optional
        Of `concurrent.futures`, or one that works alike; one simulation after the other by default.
    on_done : callable, optional
        Called with the number of welds done and the number of all.

    Returns
    -------
    Sweep
        A simulation that stops leaves NaN and a message behind.

    Raises
    ------
    InputError
        Before anything is simulated, when a value makes a setup that cannot be.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.default_setup(["pulse.0.duration=0.1 ms", "numerics.refinement=0.3"])
    >>> found = nugget.sweep(setup, {"electrode.force": ["20 N", 40.0]})
    >>> found.to_xarray()["peak_current_A"].sel({"electrode.force": 40.0}).item() > 1000.0
    True
    """
    _check_figures(figures)
    swept = tuple(_field(setup, path, values) for path, values in fields.items())
    if not swept:
        raise InputError(
            "fields", "nothing", 'values by field, such as {"electrode.force": ["20 N", "40 N"]}'
        )
    shape = tuple(len(field.values) for field in swept)
    if int(np.prod(shape)) > MOST_WELDS:
        raise InputError("fields", f"{int(np.prod(shape))} welds", f"at most {MOST_WELDS}")
    setups = dict(_setups(setup, swept))
    keys = {place: key_of(one) for place, one in setups.items()}
    done = itertools.count(1)
    tasks = {keys[place]: one for place, one in setups.items()}

    def count(_: str) -> None:
        if on_done is not None:
            on_done(next(done), len(tasks))

    results = run_all(_march, tasks, executor, on_done=count)
    return _gathered(setup, swept, {place: results[key] for place, key in keys.items()}, figures)


def _check_figures(wanted: Sequence[str] | None) -> None:
    for name in wanted or ():
        if name not in FIGURES or not FIGURES[name].can_be_limited:
            numbers = [key for key, figure in FIGURES.items() if figure.can_be_limited]
            close = difflib.get_close_matches(str(name), numbers, n=1, cutoff=0.5)
            nearest = f"; the nearest is {close[0]}" if close else ""
            raise InputError("figures", name, f"a figure that is a number, or true or false{nearest}")


@dataclass(frozen=True)
class _Run:
    """Numbers and state of one weld, or why it stopped."""

    figures: dict[str, float]
    state: str
    failure: str = ""


def _march(setup: Setup) -> _Run:
    """Simulate one weld; one argument, for executors."""
    try:
        figures = run_weld(setup).figures
    except (SolverError, ArithmeticError) as failure:
        return _Run({}, "", str(failure))
    numbers = {
        name: np.nan if value is None else float(value)
        for name, value in figures.items()
        if value is None or isinstance(value, bool | int | float)
    }
    return _Run(numbers, state_of(setup, figures))


def _field(setup: Setup, path: str, values: Sequence[Any]) -> SweptField:
    """Read the values of one field: as numbers where the field holds one, else as names."""
    if isinstance(values, str) or not isinstance(values, Sequence | np.ndarray) or not len(values):
        raise InputError(path, values, "a list of values")
    field = setup.fields.get(path)
    if field is None:
        labels = tuple(value.name if isinstance(value, Material) else str(value) for value in values)
        swept = SweptField(path, "", labels, tuple(values))
    else:
        numbers = tuple(_number(field, value) for value in values)
        swept = SweptField(path, field.unit or "1", numbers, tuple(field.exact(one) for one in numbers))
    if len(set(swept.labels)) < len(swept.labels):
        raise InputError(path, list(values), "different values")
    return swept


def _number(field: Any, value: Any) -> float:
    """A value in SI units, from text, a number or a pint quantity."""
    try:
        if isinstance(value, str):
            return float(field.read(value))
        if hasattr(value, "to") and hasattr(value, "magnitude"):
            return float(value.to(field.unit.replace("m2", "m**2") or "dimensionless").magnitude)
        return float(value)
    except Exception as error:  # pint's errors share no base
        raise InputError(
            field.path, str(value), f"a quantity in {field.unit or 'no unit'}: {error}"
        ) from error


def _setups(setup: Setup, swept: Sequence[SweptField]) -> Iterator[tuple[tuple[int, ...], Setup]]:
    """The setup of every place along the axes."""
    for place in itertools.product(*(range(len(field.values)) for field in swept)):
        changes = {field.path: field.values[k] for field, k in zip(swept, place, strict=True)}
        yield place, setup.with_(changes)


def _gathered(
    setup: Setup,
    swept: tuple[SweptField, ...],
    runs: Mapping[tuple[int, ...], _Run],
    wanted: Sequence[str] | None,
) -> Sweep:
    shape = tuple(len(field.values) for field in swept)
    ended = [run for run in runs.values() if not run.failure]
    names = list(dict.fromkeys(name for run in ended for name in run.figures))
    if wanted is not None:
        names = list(wanted)
    figures = {name: np.full(shape, np.nan) for name in names}
    states = np.full(shape, "", dtype="<U32")
    for place, run in runs.items():
        states[place] = run.state
        for name in names:
            figures[name][place] = run.figures.get(name, np.nan)
    return Sweep(setup, swept, figures, states, {p: run.failure for p, run in runs.items() if run.failure})
