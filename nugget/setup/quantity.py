"""Quantities as setup files write them: the text is kept, the SI value is checked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any, get_args

from pydantic import GetCoreSchemaHandler
from pydantic.fields import FieldInfo
from pydantic_core import CoreSchema, core_schema

from nugget.units import DIMENSIONS, article, in_unit, to_si


@dataclass(frozen=True)
class Quantity:
    """A checked quantity.

    Attributes
    ----------
    si : float
        Value in the SI unit of its dimension.
    text : str
        As the user wrote it; the resolved setup shows this.
    """

    si: float
    text: str


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
        return core_schema.no_info_plain_validator_function(self.check, serialization=text)

    def check(self, given: object) -> Quantity:
        """Return the quantity, or raise ValueError with what would have been accepted."""
        if isinstance(given, Quantity):
            return given
        if not isinstance(given, str):
            example = DIMENSIONS[self.dimension][1]
            raise ValueError(f"{article(self.dimension)} as text with its unit, such as {example!r}")
        si = to_si(given, self.dimension)
        slack = 1e-12 * max(abs(self.low), abs(self.high))  # "2 mm" is not exactly 0.002 m
        if not self.low - slack <= in_unit(si, self.dimension, self.unit) <= self.high + slack:
            raise ValueError(
                f"{article(self.dimension)} between {self.low:g} {self.unit} and {self.high:g} {self.unit}"
            )
        return Quantity(si, " ".join(given.split()))


def spec_of(info: FieldInfo) -> Spec | None:
    """Return the spec of a field of a model; None when it holds no quantity."""
    parts = [*info.metadata, *(part for choice in get_args(info.annotation) for part in get_args(choice))]
    return next((part for part in parts if isinstance(part, Spec)), None)


# Ranges catch slips of unit, not bad ideas: each spans far more than a weld on thin strip or
# sheet can need.
Thickness = Annotated[Quantity, Spec("length", 0.0001, 100, "mm")]
Width = Annotated[Quantity, Spec("length", 0.1, 1000, "mm")]
Offset = Annotated[Quantity, Spec("length", 0, 10, "mm")]
Gap = Annotated[Quantity, Spec("length", 0.01, 1000, "um")]
LeadLength = Annotated[Quantity, Spec("length", 0, 100, "m")]
Area = Annotated[Quantity, Spec("area", 0.01, 10000, "mm2")]
Span = Annotated[Quantity, Spec("time", 0.01, 10000, "ms")]
SpanOrZero = Annotated[Quantity, Spec("time", 0, 10000, "ms")]
LongSpan = Annotated[Quantity, Spec("time", 0.001, 10000, "s")]
Force = Annotated[Quantity, Spec("force", 0.1, 100000, "N")]
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
