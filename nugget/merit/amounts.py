"""SI figures as people read them: mm, ms, °C, A, J."""

from __future__ import annotations

from collections.abc import Callable

from nugget.constants import ZERO_CELSIUS_K
from nugget.merit.figure import Figure

NOTHING = "-"


def length(value_m: float) -> str:
    """A length [m] in mm."""
    return f"{value_m * 1e3:.2f} mm"


def time(value_s: float | None) -> str:
    """A time [s] in ms, or in s from one second up."""
    if value_s is None:
        return NOTHING
    if value_s >= 1.0:
        return f"{value_s:.3g} s"
    return f"{value_s * 1e3:.3g} ms" if value_s < 0.1 else f"{value_s * 1e3:.0f} ms"


def celsius(value_K: float) -> str:
    """A temperature [K] in °C."""
    value = value_K - ZERO_CELSIUS_K
    return f"{value:.1f} °C" if abs(value) < 100.0 else f"{value:.0f} °C"


def ampere(value_A: float) -> str:
    """A current [A]."""
    return f"{value_A:.0f} A" if abs(value_A) >= 100.0 else f"{value_A:.3g} A"


def joule(value_J: float) -> str:
    """An energy [J]."""
    return f"{value_J:.1f} J" if abs(value_J) >= 10.0 else f"{value_J:.2f} J"


def newton(value_N: float) -> str:
    """A force [N]."""
    return f"{value_N:.3g} N" if abs(value_N) < 1000.0 else f"{value_N:.0f} N"


def share(value: float) -> str:
    """A share of one in per cent."""
    return f"{100.0 * value:.0f} %"


def dose(value: float) -> str:
    """A dimensionless dose."""
    return f"{value:.1e}" if 0.0 < value < 1e-3 else f"{value:.3g}"


def change(value: float, nominal: float) -> str:
    """By how much `value` differs from `nominal`, in per cent; empty when nothing to compare."""
    if nominal == 0.0:
        return ""
    percent = round(100.0 * (value / nominal - 1.0))
    return f"{percent:+d} %" if percent else "0 %"


_BY_UNIT: dict[str, Callable[[float], str]] = {
    "m": length,
    "s": time,
    "K": celsius,
    "A": ampere,
    "J": joule,
    "N": newton,
    "share": share,
    "1": dose,
    "yes/no": lambda value: "yes" if value else "no",
    "count": lambda value: f"{value:.0f}",
}
_SPELLED = {"A2 s": "A² s"}
_AXES = {"m": (1e3, "mm"), "s": (1e3, "ms"), "share": (1e2, "%"), "1": (1.0, "")}


def on_axis(one: Figure, value: float) -> float:
    """A value of a figure of merit as an axis shows it, in `axis_unit`."""
    return value - ZERO_CELSIUS_K if one.unit == "K" else value * _AXES.get(one.unit, (1.0, ""))[0]


def axis_unit(one: Figure) -> str:
    """The unit in which an axis shows a figure of merit."""
    return "°C" if one.unit == "K" else _AXES.get(one.unit, (1.0, _SPELLED.get(one.unit, one.unit)))[1]


def figure(one: Figure, value: float | str | None) -> str:
    """A value of a figure of merit, in the unit that people use."""
    if value is None or isinstance(value, str):
        return value or NOTHING
    if one.unit in _BY_UNIT:
        return _BY_UNIT[one.unit](value)
    return f"{rounded(value, one.digits)} {_SPELLED.get(one.unit, one.unit)}"


def difference(one: Figure, value: float) -> str:
    """A difference of two values of a figure, with its sign."""
    sign = "+" if value >= 0.0 else ""
    if one.unit == "K":
        return f"{sign}{value:.0f} K"
    if one.unit == "share":  # of one, not of the value
        return f"{sign}{100.0 * value:.0f} points"
    if one.unit == "1":
        return f"{sign}{value:.2g}"
    return sign + figure(one, value)


def rounded(value: float, digits: int) -> str:
    """A number with so many significant digits, written out."""
    text = format(value, f".{digits}g")
    return f"{float(text):.0f}" if "e" in text and abs(value) >= 1.0 else text
