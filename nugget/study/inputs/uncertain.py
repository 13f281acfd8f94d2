"""The uncertain inputs of a setup: defaults from the data file, what was fitted, what the user says."""

from __future__ import annotations

import functools
import math
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib.resources import files
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.setup import QuantityField, Setup, find_field
from nugget.setup.sources import SOURCE_RESISTANCE
from nugget.study.inputs.sobol import sobol
from nugget.study.inputs.spread import Spread, read_spread
from nugget.study.inputs.variation import Axis, strength_path, thickness_path

FARTHEST = 3.0
"""Draws are cut off at so many standard deviations: no bench makes the tails of a bell."""
MOST_SAMPLES = 100_000
NONE = "none"
STATED, FITTED = "stated", "fitted to trials of this machine"


@dataclass(frozen=True)
class Uncertain:
    """One input that is not known exactly.

    Attributes
    ----------
    field : QuantityField
    own : float
        Value in the setup [SI].
    spread : Spread
    source : str
        Where the spread comes from.
    measure : str
        Key of the measurement that would tell more; empty when none is known.
    name : str
        In words, where the field's own name does not tell; else empty.
    within : (float, float)
        What no draw leaves [SI]: the range that a fitted input had before it was fitted.
    """

    field: QuantityField
    own: float
    spread: Spread
    source: str
    measure: str = ""
    name: str = ""
    within: tuple[float, float] = (0.0, math.inf)

    @property
    def title(self) -> str:
        """The input in words."""
        return self.name or self.axis.title

    @property
    def path(self) -> str:
        """The field as overrides write it."""
        return self.field.path

    @property
    def axis(self) -> Axis:
        """For words: title, unit and text of a value."""
        return Axis(self.field, (), self.own)

    @property
    def text(self) -> str:
        """The spread in words."""
        return self.spread.text(self.axis, self.own)

    def value(self, deviation: float) -> float:
        """Value [SI] at a number of standard deviations."""
        return min(max(self.spread.value(self.own, deviation), self.within[0]), self.within[1])

    def log_slope(self, deviation: float) -> float:
        """Derivative of the logarithm of the value after the deviation."""
        step = 0.05
        ends = [self.spread.value(self.own, deviation + sign * step) for sign in (-1.0, 1.0)]
        return math.log(ends[1] / ends[0]) / (2.0 * step)


@dataclass(frozen=True)
class Inputs:
    """All uncertain inputs of a setup, and how they are correlated.

    Attributes
    ----------
    setup : Setup
    items : tuple of Uncertain
    correlation : tuple of tuple of float
        Of their standard normal deviations, shape (d, d).
    """

    setup: Setup
    items: tuple[Uncertain, ...]
    correlation: tuple[tuple[float, ...], ...]

    @property
    def either_spot(self) -> bool:
        """Whether a weld may be either of the two spots of a pair, which differ by polarity."""
        return self.setup.arrangement.startswith("series") and self.setup.polarity == 0

    def __len__(self) -> int:
        return len(self.items) + self.either_spot

    @property
    def titles(self) -> tuple[str, ...]:
        """What each column of the deviations stands for."""
        return (*(one.title for one in self.items), *(("polarity",) if self.either_spot else ()))

    @functools.cached_property
    def root(self) -> FloatArray:
        """Lower factor of the correlation, shape (d, d): turns independent deviations into joint ones."""
        return np.linalg.cholesky(np.array(self.correlation))

    def drawn(self, samples: int, seed: int) -> FloatArray:
        """Independent standard deviations, shape (samples, d): a scrambled Sobol sequence."""
        from scipy.special import ndtri

        check_samples(samples)
        cloud = sobol(len(self), samples, seed)
        return np.asarray(np.clip(ndtri(cloud), -FARTHEST, FARTHEST), dtype=np.float64)

    def values(self, deviations: FloatArray) -> list[float]:
        """Value [SI] of every input at one row of independent deviations."""
        joint = np.clip(self.root @ deviations[: len(self.items)], -FARTHEST, FARTHEST)
        return [one.value(float(z)) for one, z in zip(self.items, joint, strict=True)]

    def setup_at(self, deviations: FloatArray) -> Setup:
        """Return the setup of one weld.

        Raises
        ------
        InputError
            When a spread reaches what no setup can have.
        """
        values: dict[str, Any] = {
            one.path: one.field.exact(value)
            for one, value in zip(self.items, self.values(deviations), strict=True)
        }
        if self.either_spot:
            values["arrangement.polarity"] = "positive" if deviations[-1] > 0.0 else "negative"
        if self.setup.circuit.switch.kind == "relay":  # how long it really was closed, not what it was told
            values |= {"switch.closing_bounce": 0.0, "switch.opening_delay": 0.0}
        try:
            return self.setup.with_(values)
        except InputError as error:
            raise InputError(
                f"spread of {error.where}", error.given, f"{error.expected}: narrow a spread"
            ) from error

    def moved(self, setup: Setup, deviations: FloatArray) -> Setup:
        """Return another setup with each input that it has as far off its own value as here.

        Raises
        ------
        InputError
            When a spread reaches what no setup can have.
        """
        joint = np.clip(self.root @ deviations[: len(self.items)], -FARTHEST, FARTHEST)
        values: dict[str, Any] = {}
        for one, z in zip(self.items, joint, strict=True):
            own = own_value(setup, one.path) if one.path in setup.fields else None
            if own is not None and (z != 0.0 or one.spread.kind == "range"):
                values[one.path] = one.field.exact(replace(one, own=own).value(float(z)))
        return setup.with_(values)

    def record(self) -> list[dict[str, Any]]:
        """JSON-ready form."""
        return [
            {
                "field": one.path,
                "own": one.own,
                "kind": one.spread.kind,
                "width": one.spread.width,
                "low": one.spread.low,
                "source": one.source,
                "measure": one.measure,
            }
            for one in self.items
        ]

    def around(self, setup: Setup) -> Inputs:
        """The same spreads around another setup's values, for what it still has."""
        kept = [
            (k, own_value(setup, one.path)) for k, one in enumerate(self.items) if one.path in setup.fields
        ]
        found = [(k, own) for k, own in kept if own is not None]
        some = self.some([k for k, _ in found])
        items = tuple(replace(one, own=own) for one, (_, own) in zip(some.items, found, strict=True))
        return Inputs(setup, items, some.correlation)

    def some(self, columns: Sequence[int]) -> Inputs:
        """Only the inputs of these columns."""
        correlation = tuple(tuple(self.correlation[a][b] for b in columns) for a in columns)
        return Inputs(self.setup, tuple(self.items[k] for k in columns), correlation)


def check_samples(samples: int) -> None:
    """Raise InputError when so many welds cannot be drawn."""
    if not 8 <= samples <= MOST_SAMPLES:
        raise InputError("samples", samples, f"from 8 to {MOST_SAMPLES}")


def inputs_of(setup: Setup, texts: Sequence[str] = ()) -> Inputs:
    """Return the uncertain inputs of `setup`.

    Spreads come from the data file, over these from a fit of the machine, over that from the setup's
    own ``[uncertainty.spread]``, and over all from `texts`, such as ``electrode.force=10 %``.

    Raises
    ------
    InputError
    """
    found = {one.path: one for one in _usual(setup)}
    fitted = setup.file.uncertainty.fitted
    paths: tuple[str, ...] = ()
    if fitted is not None:
        paths = tuple(find_field(setup, path, "uncertainty.fitted").path for path in fitted.fields)
        for path, deviation in zip(paths, fitted.deviations, strict=True):
            old = found.get(path)
            _put(found, setup, path, f"x{math.exp(2.0 * deviation)!r}", FITTED, f"uncertainty.fitted: {path}")
            if old is not None and old.spread.kind == "range":
                low, high = min(old.spread.low, old.own), max(old.spread.width, old.own)
                found[path] = replace(found[path], within=(low, high))
    for path, text in setup.file.uncertainty.spread.items():
        _put(found, setup, path, text, STATED, f"uncertainty.spread: {path}")
    for text in texts:
        name, equals, width = text.partition("=")
        if not equals:
            raise InputError("tolerance", text, "FIELD=WIDTH, such as 'electrode.force=10 %'")
        _put(found, setup, name.strip(), width.strip(), STATED, f"tolerance {name.strip()}")
    if not found:
        raise InputError("tolerance", "none for every field", "at least one field that varies")
    items = tuple(found.values())
    return Inputs(setup, items, _correlation(items, paths, () if fitted is None else fitted.correlations))


def _put(found: dict[str, Uncertain], setup: Setup, name: str, text: str, source: str, where: str) -> None:
    """Set the spread of one field, in the place of others that say the same."""
    field = find_field(setup, name, where)
    old = found.get(field.path)
    for entry in declared().values():
        same = [entry["field"], *entry.get("also", ())]
        if field.path in same:
            old = old or next((found[path] for path in same if path in found), None)
            for path in same:
                found.pop(path, None) if path != field.path else None
    if text == NONE:
        found.pop(field.path, None)
        return
    new = _uncertain(setup, field, text, source, old.measure if old else "", where)
    found[field.path] = replace(new, name=old.name if old and old.path == field.path else "")


def _uncertain(
    setup: Setup, field: QuantityField, text: str, source: str, measure: str, where: str
) -> Uncertain:
    own = own_value(setup, field.path)
    if own is None:
        raise InputError(where, "nothing in the setup", "a field that the setup gives a value")
    try:
        spread = read_spread(field, text, own)
    except ValueError as problem:
        raise InputError(where, text, str(problem)) from problem
    if spread.kind != "amount" and own == 0.0:
        raise InputError(where, text, "an amount, as the setup has zero here")
    return Uncertain(field, own, spread, source, measure)


def own_value(setup: Setup, path: str) -> float | None:
    """The value [SI] of a field, also of a dome that follows from the face, and of stirring."""
    if path == "electrode.dome_radius" and setup.electrode.tip_shape == "rounded":
        return setup.electrode.dome_radius_m
    if path == "numerics.melt_conductivity_factor":
        return setup.stirring
    return setup.get(path)


def _usual(setup: Setup) -> Iterator[Uncertain]:
    """The inputs of the data file that this setup has."""
    for entry in declared().values():
        for path in _paths(setup, entry):
            field, own = setup.fields.get(path), own_value(setup, path) if path in setup.fields else None
            if field is None or own is None or own <= 0.0:
                continue
            text = entry["spread"]
            if text == "relay":
                text = f"{2.0 * setup.circuit.switch.spread_s!r} s"
                if setup.circuit.switch.spread_s == 0.0:
                    continue
            found = _uncertain(setup, field, text, entry["source"], entry["measure"], path)
            yield replace(found, name=entry.get("title", ""))


def _paths(setup: Setup, entry: Mapping[str, Any]) -> Iterator[str]:
    """Fields of one entry in this setup."""
    field = entry["field"]
    if entry.get("tip_shape", setup.electrode.tip_shape) != setup.electrode.tip_shape:
        return
    if entry.get("kind", setup.circuit.switch.kind) != setup.circuit.switch.kind:
        return
    if field == "strip.thickness":
        yield thickness_path(setup)
    elif field == "source.resistance":
        if (path := SOURCE_RESISTANCE.get(setup.file.source.kind)) is not None:
            yield path
    elif field == "source.strength":
        if setup.file.source.kind != "plugin":
            yield strength_path(setup)
    elif field == "arrangement.spacing":
        if setup.arrangement not in ("opposed", "indirect") and not setup.file.strip.slots:
            yield field
    elif field == "cell.interior.*.thickness":
        for k, layer in enumerate(setup.file.cell.interior):
            if layer.role == entry["role"]:
                yield field.replace("*", str(k))
    elif field == "pulse.*.duration":
        yield from (field.replace("*", str(k)) for k in range(len(setup.train)))
    else:
        yield field


def _correlation(
    items: Sequence[Uncertain], paths: Sequence[str], fitted: Sequence[Sequence[float]]
) -> tuple[tuple[float, ...], ...]:
    """Correlations of all inputs: those of the fit where its spreads are still in force."""
    whole = np.eye(len(items))
    place = {one.path: k for k, one in enumerate(items) if one.source == FITTED}
    for a, first in enumerate(paths):
        for b, second in enumerate(paths):
            if a != b and first in place and second in place:
                whole[place[first], place[second]] = fitted[a][b]
    return tuple(tuple(float(x) for x in row) for row in whole)


@functools.cache
def declared() -> dict[str, dict[str, Any]]:
    """The data file of the uncertain inputs; not to be changed."""
    return _data("inputs.toml")


@functools.cache
def measurements() -> dict[str, dict[str, Any]]:
    """The data file of what can be measured; not to be changed."""
    return _data("measurements.toml")


def _data(name: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads((files("nugget.study.inputs") / name).read_text(encoding="utf-8"))
