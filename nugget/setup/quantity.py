"""Quantities as setup files write them: the text is kept, the SI value is checked."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Annotated, Any, get_args

from pydantic import GetCoreSchemaHandler
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, core_schema

from nugget.units import DIMENSIONS, article, from_pint, in_unit, to_si, to_text


@dataclass(frozen=True)
class Quantity:
    """A checked quantity.

    Attributes
    ----------
    si : float
        Value in the SI unit of its dimension.
    text : str
        How it is written: as the user gave it, or a spelling that reads back to the same float.
        Two spellings of one value are equal.
    """

    si: float
    text: str = field(compare=False)


@dataclass(frozen=True)
class Spec:
    """What a field accepts: a dimension and a range, for pydantic's ``Annotated``.

    Attributes
    ----------
    dimension : str
        A key of `nugget.units.DIMENSIONS`.
    low, high : float
        Smallest and largest value, in `unit`.
    unit : str
        Unit in which the range is written and shown.
    """

    dimension: str
    low: float
    high: float
    unit: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        text = core_schema.plain_serializer_function_ser_schema(lambda quantity: quantity.text)
        return core_schema.with_info_plain_validator_function(self._validate, serialization=text)

    def _validate(self, given: object, info: core_schema.ValidationInfo) -> Quantity:
        return self.check(given, bool(info.context and info.context.get(SI)))

    def check(self, given: object, si: bool = False) -> Quantity:
        """Return the quantity, or raise ValueError with what would have been accepted.

        Parameters
        ----------
        given : object
            Text with its unit, a pint quantity, or a `Quantity`.
        si : bool
            Whether a bare number will do, in the SI unit; a file has to write the unit.
        """
        if isinstance(given, str):
            return self._within(Quantity(to_si(given, self.dimension), " ".join(given.split())))
        if isinstance(given, Quantity):
            if to_si(given.text, self.dimension) != given.si:
                raise ValueError(f"a quantity whose text {given.text!r} says its value, {given.si!r}")
            return self._within(given)
        if hasattr(given, "magnitude") and hasattr(given, "to"):
            return self._within(self._spelt(from_pint(given, self.dimension)))
        if si and isinstance(given, int | float) and not isinstance(given, bool):
            return self._within(self._spelt(float(given)))
        example = DIMENSIONS[self.dimension][1]
        raise ValueError(f"{article(self.dimension)} as text with its unit, such as {example!r}")

    def fits(self, si: float) -> bool:
        """Return whether a value [SI] lies in the range."""
        slack = 1e-12 * max(abs(self.low), abs(self.high))  # "2 mm" is not exactly 0.002 m
        return self.low - slack <= in_unit(si, self.dimension, self.unit) <= self.high + slack

    @property
    def unit_si(self) -> str:
        """SI unit of the dimension."""
        return DIMENSIONS[self.dimension][0]

    @property
    def wanted(self) -> str:
        """The range in words."""
        return f"{article(self.dimension)} between {self.low:g} {self.unit} and {self.high:g} {self.unit}"

    def _within(self, quantity: Quantity) -> Quantity:
        if not self.fits(quantity.si):  # not a number fits nowhere
            raise ValueError(self.wanted)
        return quantity

    def _spelt(self, si: float) -> Quantity:
        """Write a value so that it reads back to the same float, in the handier unit if it can be."""
        if math.isfinite(si):
            text = f"{in_unit(si, self.dimension, self.unit):.12g} {self.unit}"
            if to_si(text, self.dimension) == si:
                return Quantity(si, text)
        return Quantity(si, to_text(si, self.dimension))


SI = "numbers in SI units"
"""Key of the validation context under which a bare number is one in the SI unit."""


def spec_of(info: FieldInfo) -> Spec | None:
    """Return the spec of a field of a model; None when it holds no quantity."""
    parts = [*info.metadata, *(part for choice in get_args(info.annotation) for part in get_args(choice))]
    return next((part for part in parts if isinstance(part, Spec)), None)


# Ranges catch slips of unit, not bad ideas: each spans far more than a weld on thin strip or
# sheet can need.
THICKNESS = Spec("length", 0.0001, 100, "mm")
Thickness = Annotated[Quantity, THICKNESS]
WIDTH = Spec("length", 0.1, 1000, "mm")
Width = Annotated[Quantity, WIDTH]
OFFSET = Spec("length", 0, 10, "mm")
Offset = Annotated[Quantity, OFFSET]
Reach = Annotated[Quantity, Spec("length", 0, 1000, "mm")]
Gap = Annotated[Quantity, Spec("length", 0.01, 1000, "um")]
LeadLength = Annotated[Quantity, Spec("length", 0, 100, "m")]
Area = Annotated[Quantity, Spec("area", 0.01, 10000, "mm2")]
Span = Annotated[Quantity, Spec("time", 0.01, 10000, "ms")]
SPAN_OR_ZERO = Spec("time", 0, 10000, "ms")
SpanOrZero = Annotated[Quantity, SPAN_OR_ZERO]
LongSpan = Annotated[Quantity, Spec("time", 0.0001, 10000, "s")]
FORCE = Spec("force", 0.1, 100000, "N")
Force = Annotated[Quantity, FORCE]
Warmth = Annotated[Quantity, Spec("temperature", -60, 3000, "degC")]
RoomWarmth = Annotated[Quantity, Spec("temperature", -60, 200, "degC")]
Difference = Annotated[Quantity, Spec("temperature difference", 0.001, 100, "K")]
Resistance = Annotated[Quantity, Spec("resistance", 0, 1000, "mohm")]
ContactResistance = Annotated[Quantity, Spec("resistance times area", 0, 1e-6, "ohm m2")]
Inductance = Annotated[Quantity, Spec("inductance", 0, 10, "mH")]
Capacitance = Annotated[Quantity, Spec("capacitance", 1e-6, 10000, "F")]
Voltage = Annotated[Quantity, Spec("voltage", 0.01, 1000, "V")]
Current = Annotated[Quantity, Spec("current", 1, 1000000, "A")]
Frequency = Annotated[Quantity, Spec("frequency", 1, 100000, "Hz")]
FiringAngle = Annotated[Quantity, Spec("angle", 0, 179, "deg")]
Spots = Annotated[Quantity, Spec("number per area", 1e4, 1e14, "1/m2")]
Rate = Annotated[Quantity, Spec("rate", 1e-6, 1e60, "1/s")]
Activation = Annotated[Quantity, Spec("energy per amount", 1, 1000, "kJ/mol")]
Conductance = Annotated[Quantity, Spec("heat transfer coefficient", 0, 1e9, "W/(m2 K)")]
