"""By how much inputs vary from weld to weld, and welds drawn at random from that."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.setup import QuantityField, Setup, find_field
from nugget.study.inputs.variation import Axis, strength_path, thickness_path
from nugget.units import DIMENSIONS, to_si

FARTHEST = 3.0
"""Draws are cut off at so many standard deviations: no bench makes the tails of a bell."""
MOST_SAMPLES = 100_000
ASSUMED = {
    "electrode.force": ("20 %", "assumption: a hand head; a spring or air head holds 5 to 10 %"),
    "electrode.face_diameter": ("10 %", "assumption: wear between dressings"),
    "cell.wall": ("10 %", "assumption: measure a cut can"),
    "contact.radius_factor": ("x1.25", "what such models depend on most and know least"),
    "arrangement.spacing": ("0.5 mm", "assumption: tips that give way sideways"),
}
ASSUMED_THICKNESS = ("5 %", "assumption: rolled strip")
ASSUMED_STRENGTH = ("3 %", "assumption: state of charge and temperature of the source")


@dataclass(frozen=True)
class Tolerance:
    """How one input varies: 95 % of welds lie within `width` of the setup's value.

    Attributes
    ----------
    field : QuantityField
    own : float
        Value in the setup [SI].
    kind : {"share", "amount", "factor"}
        Normal with a width in shares of the value, or in its unit [SI]; or lognormal.
    width : float
    source : str
        Where the width comes from.
    """

    field: QuantityField
    own: float
    kind: Literal["share", "amount", "factor"]
    width: float
    source: str

    @property
    def axis(self) -> Axis:
        """For words: title, unit and text of a value."""
        return Axis(self.field, (), self.own)

    @property
    def text(self) -> str:
        """The width in words."""
        if self.kind == "share":
            return f"+-{100.0 * self.width:.3g} %"
        if self.kind == "factor":
            return f"x or / {self.width:.3g}"
        shown = self.axis.shown(self.own + self.width) - self.axis.shown(self.own)
        return f"+-{shown:.3g} {self.axis.unit}".strip()

    def value(self, deviation: float) -> float:
        """Value [SI] at a number of standard deviations."""
        half = 0.5 * deviation
        if self.kind == "factor":
            return self.own * math.exp(half * math.log(self.width))
        return self.own + half * self.width * (self.own if self.kind == "share" else 1.0)


def usual_tolerances(setup: Setup) -> tuple[Tolerance, ...]:
    """Return the tolerances assumed for what this setup has."""
    wanted = dict(ASSUMED)
    if setup.arrangement in ("opposed", "indirect"):
        del wanted["arrangement.spacing"]
    wanted[thickness_path(setup)] = ASSUMED_THICKNESS
    if setup.file.source.kind != "plugin":
        wanted[strength_path(setup)] = ASSUMED_STRENGTH
    found = (_tolerance(setup, path, text, source, "") for path, (text, source) in wanted.items())
    return tuple(sorted(found, key=lambda one: one.field.path))


def with_tolerances(setup: Setup, texts: Sequence[str]) -> tuple[Tolerance, ...]:
    """Return the usual tolerances with ``FIELD=WIDTH`` replacing or adding some.

    ``20 %`` is a share of the value, ``0.5 mm`` an amount, ``x1.25`` a factor both ways;
    ``none`` leaves the field alone. The end of a field's path will do where only one ends so.

    Raises
    ------
    InputError
    """
    found = {one.field.path: one for one in usual_tolerances(setup)}
    for text in texts:
        name, equals, width = text.partition("=")
        if not equals:
            raise InputError("tolerance", text, "FIELD=WIDTH, such as 'electrode.force=10 %'")
        path = find_field(setup, name.strip(), "tolerance").path
        if width.strip() == "none":
            found.pop(path, None)
        else:
            found[path] = _tolerance(setup, path, width.strip(), "stated", f"tolerance {path}")
    if not found:
        raise InputError("tolerance", "none for every field", "at least one field that varies")
    return tuple(sorted(found.values(), key=lambda one: one.field.path))


def _tolerance(setup: Setup, path: str, text: str, source: str, where: str) -> Tolerance:
    field, own = find_field(setup, path, where), setup.get(path)
    if own is None:
        raise InputError(where, "nothing in the setup", "a field that the setup gives a value")
    try:
        kind, width = _width(field, text)
    except ValueError as problem:
        raise InputError(where, text, str(problem)) from problem
    if kind != "amount" and own == 0.0:
        raise InputError(where, text, "an amount, as the setup has zero here")
    return Tolerance(field, own, kind, width, source)


def _width(field: QuantityField, text: str) -> tuple[Literal["share", "amount", "factor"], float]:
    if text.endswith("%"):
        share = _number(text[:-1], "a share such as '10 %'") / 100.0
        if not 0.0 < share <= 0.6:
            raise ValueError("a share above 0 % and at most 60 %")
        return "share", share
    if text.startswith("x"):
        factor = _number(text[1:], "a factor such as 'x1.25'")
        if not 1.0 < factor <= 10.0:
            raise ValueError("a factor above 1 and at most 10")
        return "factor", factor
    dimension = "temperature difference" if field.dimension == "temperature" else field.dimension
    amount = to_si(text, dimension) if dimension in DIMENSIONS else _number(text, "a number")
    if not 0.0 < amount < math.inf:
        raise ValueError("an amount above zero")
    return "amount", amount


def _number(text: str, wanted: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(wanted) from None


def check_samples(samples: int) -> None:
    """Raise InputError when so many welds cannot be drawn."""
    if not 8 <= samples <= MOST_SAMPLES:
        raise InputError("samples", samples, f"from 8 to {MOST_SAMPLES}")


def drawn(tolerances: Sequence[Tolerance], samples: int, seed: int) -> FloatArray:
    """Standard deviations of each input in each weld, shape (samples, inputs): a Sobol sequence."""
    from scipy.special import ndtri
    from scipy.stats import qmc

    check_samples(samples)
    sequence = qmc.Sobol(len(tolerances), seed=np.random.default_rng(seed))
    cloud = sequence.random_base2(max(3, math.ceil(math.log2(samples))))[:samples]
    return np.asarray(np.clip(ndtri(cloud), -FARTHEST, FARTHEST), dtype=np.float64)


def setups_of(setup: Setup, tolerances: Sequence[Tolerance], deviations: FloatArray) -> list[Setup]:
    """Return the setup of every weld.

    Raises
    ------
    InputError
        When a tolerance reaches what no setup can have.
    """
    found = []
    for row in deviations:
        values = {t.field.path: t.field.exact(t.value(d)) for t, d in zip(tolerances, row, strict=True)}
        try:
            found.append(setup.with_(values))
        except InputError as error:
            raise InputError(
                f"tolerance of {error.where}", error.given, f"{error.expected}: narrow a tolerance"
            ) from error
    return found
