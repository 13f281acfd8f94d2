"""What may be fitted: fields of the setup, each on a logarithmic scale between two bounds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.errors import InputError
from nugget.setup import QuantityField, Setup, find_field
from nugget.setup.sources import SOURCE_RESISTANCE
from nugget.study.inputs.variation import Axis, strength_path

_ROOM = {
    "leads.resistance": 3.0,
    "leads.inductance": 5.0,
    "contact.radius_factor": 1.7,
    "contact.hardness_factor": 2.0,
    "contact.faying.film": 100.0,
    "contact.faying.contact_spot_density": 10.0,
    "joint.minimum_diameter": 1.7,
}
"""How far a field may move from the setup's own value, as a factor both ways: assumptions, wide
enough for a bench that nobody has measured."""
_ROOM_SOURCE, _ROOM_STRENGTH, _ROOM_OTHER = 3.0, 1.4, 2.0


@dataclass(frozen=True)
class Knob:
    """One field that is fitted.

    Attributes
    ----------
    field : QuantityField
    own : float
        Value in the setup [SI].
    low, high : float
        Bounds [SI].
    """

    field: QuantityField
    own: float
    low: float
    high: float

    @property
    def path(self) -> str:
        """The field as overrides write it."""
        return self.field.path

    @property
    def axis(self) -> Axis:
        """For words: title, unit and text of a value."""
        return Axis(self.field, (), self.own)

    @property
    def width(self) -> float:
        """Logarithm of upper over lower bound."""
        return math.log(self.high / self.low)

    def value(self, place: float) -> float:
        """Value [SI] at a place from 0 (lower bound) to 1."""
        return self.low * math.exp(place * self.width)

    def place(self, value: float) -> float:
        """Place from 0 to 1 of a value [SI]."""
        return math.log(value / self.low) / self.width


def setup_at(setup: Setup, knobs: Sequence[Knob], place: npt.ArrayLike) -> Setup:
    """Return `setup` with every knob at its place, 0 to 1."""
    return setup.with_(values_at(knobs, place))


def values_at(knobs: Sequence[Knob], place: npt.ArrayLike) -> dict[str, object]:
    """Overrides that put every knob at its place, 0 to 1."""
    places = np.atleast_1d(np.asarray(place, dtype=np.float64))
    return {k.path: k.field.exact(k.value(float(x))) for k, x in zip(knobs, places, strict=True)}


def usual_knobs(setup: Setup) -> tuple[Knob, ...]:
    """Return the uncertain inputs of a bench: source, leads, contact spots."""
    source = SOURCE_RESISTANCE.get(setup.file.source.kind)
    paths = [strength_path(setup)] if setup.circuit.source.drive == "voltage" else []
    paths += [source] if source is not None else []
    if setup.circuit.source.drive == "voltage":
        paths += ["leads.resistance", "leads.inductance"]
    paths += ["contact.radius_factor", "contact.hardness_factor", "contact.faying.film"]
    if setup.file.contact.faying.contact_spot_density is not None:
        paths.append("contact.faying.contact_spot_density")
    knobs = (_knob(setup, path) for path in paths)
    return tuple(knob for knob in knobs if knob is not None)


def read_knob(setup: Setup, text: str) -> Knob:
    """Read ``FIELD`` or ``FIELD=LOW:HIGH``, such as ``contact.radius_factor=0.7:1.4``.

    The end of a field's path will do where only one field ends so.

    Raises
    ------
    InputError
    """
    name, _, span = text.partition("=")
    field = find_field(setup, name.strip(), "fit")
    where = f"fit {field.path}"
    knob = _knob(setup, field.path)
    if knob is None:
        raise InputError(where, setup.get(field.path), "a field that is above zero in the setup")
    if not span:
        return knob
    low, _, high = (part.strip() for part in span.partition(":"))
    try:
        ends = field.read(low), field.read(high)
    except ValueError as problem:
        raise InputError(where, span, f"LOW:HIGH, each {problem}") from problem
    if not 0.0 < ends[0] < ends[1] < math.inf:
        raise InputError(where, span, "two bounds above zero, the lower one first")
    if not ends[0] <= knob.own <= ends[1]:
        own = knob.axis.text(knob.own)
        raise InputError(where, span, f"bounds that hold the setup's own value, {own}")
    return Knob(field, knob.own, *ends)


def _knob(setup: Setup, path: str) -> Knob | None:
    field, own = setup.fields.get(path), setup.get(path)
    if field is None or own is None or own <= 0.0:
        return None
    if path.startswith("source."):
        factor = _ROOM_STRENGTH if path == strength_path(setup) else _ROOM_SOURCE
    else:
        factor = _ROOM.get(path, _ROOM_OTHER)
    return Knob(field, own, own / factor, own * factor)
