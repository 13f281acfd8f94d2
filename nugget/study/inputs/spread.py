"""By how much one input may be off: text to a distribution, and back."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nugget.setup import QuantityField
from nugget.study.inputs.variation import Axis
from nugget.units import DIMENSIONS, to_si

LEAST_SHARE = 0.05
"""A normal input never falls below this share of its own value: none is zero or below."""
EXPECTED = "'20 %', '0.5 mm', 'x1.5', '1e-12 to 1e-10 ohm m2' or 'none'"


@dataclass(frozen=True)
class Spread:
    """How far an input may be off.

    Attributes
    ----------
    kind : {"share", "amount", "factor", "range"}
        Normal, with 95 % within a share of the value or an amount [SI]; lognormal, with 95 %
        within a factor both ways; or log-uniform between two values [SI].
    width : float
        Share, amount or factor; the upper end of a range.
    low : float
        The lower end of a range.
    """

    kind: Literal["share", "amount", "factor", "range"]
    width: float
    low: float = 0.0

    def value(self, own: float, deviation: float) -> float:
        """Value [SI] at a standard normal deviation from `own`."""
        half = 0.5 * deviation
        if self.kind == "factor":
            return own * math.exp(half * math.log(self.width))
        if self.kind == "range":
            low, high = min(self.low, own), max(self.width, own)
            return low * math.exp(_normal_share(deviation) * math.log(high / low))
        moved = own + half * self.width * (own if self.kind == "share" else 1.0)
        return max(moved, LEAST_SHARE * own)

    def deviation(self, own: float, value: float) -> float:
        """The standard normal deviation at which an input has `value` [SI]; `value` undone."""
        if self.kind == "factor":
            return 2.0 * math.log(value / own) / math.log(self.width)
        if self.kind == "range":
            from scipy.special import ndtri

            low, high = min(self.low, own), max(self.width, own)
            return float(ndtri(math.log(value / low) / math.log(high / low)))
        return 2.0 * (value - own) / (self.width * (own if self.kind == "share" else 1.0))

    def text(self, axis: Axis, own: float) -> str:
        """The spread in words."""
        if self.kind == "share":
            return f"±{100.0 * self.width:.3g} %"
        if self.kind == "factor":
            return f"×/÷ {self.width:.3g}"
        if self.kind == "range":
            return f"{axis.text(min(self.low, own))} to {axis.text(max(self.width, own))}"
        return f"±{axis.shown(own + self.width) - axis.shown(own):.3g} {axis.unit}".strip()


def _normal_share(deviation: float) -> float:
    return 0.5 * math.erfc(-deviation / math.sqrt(2.0))


def read_spread(field: QuantityField, text: str, own: float) -> Spread:
    """Read what a setup file or an option says about one input.

    Raises
    ------
    ValueError
        Saying what would do.
    """
    if text.endswith("%"):
        share = _number(text[:-1], "a share such as '10 %'") / 100.0
        if not 0.0 < share <= 0.6:
            raise ValueError("a share above 0 % and at most 60 %")
        return Spread("share", share)
    if text.startswith("x"):
        factor = _number(text[1:], "a factor such as 'x1.25'")
        if not 1.0 < factor <= 100.0:
            raise ValueError("a factor above 1 and at most 100")
        return Spread("factor", factor)
    low, word, high = text.partition(" to ")
    if word:
        return _range(field, low.strip(), high.strip(), own)
    amount = _amount(field, text)
    if not 0.0 < amount < math.inf:
        raise ValueError("an amount above zero")
    return Spread("amount", amount)


def _range(field: QuantityField, low: str, high: str, own: float) -> Spread:
    """``A to B unit``; a unit may be left out of the first."""
    unit = high.partition(" ")[2]
    if unit and not low.partition(" ")[2]:
        low = f"{low} {unit}"
    ends = field.read(low), field.read(high)
    if not 0.0 < ends[0] < ends[1] < math.inf:
        raise ValueError("two values above zero, the lower one first")
    if own <= 0.0:
        raise ValueError("an amount, as the setup has zero here")
    return Spread("range", ends[1], ends[0])


def _amount(field: QuantityField, text: str) -> float:
    dimension = "temperature difference" if field.dimension == "temperature" else field.dimension
    return to_si(text, dimension) if dimension in DIMENSIONS else _number(text, EXPECTED)


def _number(text: str, wanted: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(wanted) from None
