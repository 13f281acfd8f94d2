"""Text with a unit to SI floats and back: the only place where units are read.

Common spellings stand in a small table, because loading pint's registry takes longer than
reading a whole setup file; every other spelling goes to pint. A test compares each row of the
table with pint.
"""

from __future__ import annotations

import functools
import math
import re
from typing import Any

DIMENSIONS: dict[str, tuple[str, str, dict[str, float]]] = {
    "length": ("m", "8 mm", {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "um": 1e-6, "µm": 1e-6, "in": 0.0254}),
    "area": ("m2", "8 mm2", {"m2": 1.0, "cm2": 1e-4, "mm2": 1e-6}),
    "time": ("s", "8 ms", {"s": 1.0, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "min": 60.0}),
    "force": ("N", "30 N", {"N": 1.0, "kN": 1e3, "lbf": 4.4482216152605}),
    "temperature": ("K", "20 degC", {"K": 1.0, "degC": 1.0}),
    "temperature difference": ("K", "2 K", {"K": 1.0, "delta_degC": 1.0}),
    "resistance": ("ohm", "7 mohm", {"ohm": 1.0, "mohm": 1e-3, "uohm": 1e-6, "µohm": 1e-6}),
    "resistance times area": ("ohm m2", "1e-12 ohm m2", {"ohm m2": 1.0, "ohm mm2": 1e-6}),
    "inductance": ("H", "0.6 uH", {"H": 1.0, "mH": 1e-3, "uH": 1e-6, "µH": 1e-6, "nH": 1e-9}),
    "capacitance": ("F", "0.5 F", {"F": 1.0, "mF": 1e-3, "uF": 1e-6, "µF": 1e-6}),
    "voltage": ("V", "12 V", {"V": 1.0, "mV": 1e-3, "kV": 1e3}),
    "current": ("A", "1400 A", {"A": 1.0, "kA": 1e3, "mA": 1e-3}),
    "frequency": ("Hz", "50 Hz", {"Hz": 1.0, "kHz": 1e3}),
    "angle": ("rad", "60 deg", {"rad": 1.0, "deg": math.pi / 180.0}),
    "number per area": ("1/m2", "4e8 1/m2", {"1/m2": 1.0, "1/mm2": 1e6}),
    "rate": ("1/s", "1e15 1/s", {"1/s": 1.0}),
    "energy per amount": ("J/mol", "135 kJ/mol", {"J/mol": 1.0, "kJ/mol": 1e3}),
    "heat transfer coefficient": ("W/(m2 K)", "10 W/(m2 K)", {"W/(m2 K)": 1.0, "W/m2/K": 1.0}),
}
"""Per dimension: its SI unit, an example, and the factors of common spellings.

1 in = 25.4 mm and 1 lbf = 4.4482216152605 N are exact (NIST SP 811, 2008, appendix B.8).
"""

_CELSIUS_K = 273.15
_NUMBER_AND_UNIT = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(\S.*)?", re.DOTALL)


def to_si(text: str, dimension: str) -> float:
    """Return the SI value of a quantity written as text.

    Parameters
    ----------
    text : str
        A number and a unit, such as ``"0.15 mm"``, ``"20 degC"`` or ``"1e-12 ohm m2"``.
    dimension : str
        A key of `DIMENSIONS`.

    Returns
    -------
    float
        Finite, in the SI unit of `dimension`.

    Raises
    ------
    ValueError
        With a message that says what was wrong and what would do.
    """
    unit_si, example, factors = DIMENSIONS[dimension]
    found = _NUMBER_AND_UNIT.fullmatch(text)
    if found is None:
        raise ValueError(f"{article(dimension)} such as {example!r}")
    number, unit = float(found[1]), " ".join((found[2] or "").split())
    if unit.startswith(","):
        raise ValueError(f"{article(dimension)} such as {example!r}, with a decimal point instead of a comma")
    if not unit:
        raise ValueError(f"{article(dimension)} with its unit, such as {example!r}")
    factor = factors.get(unit)
    if factor is None:
        value = _by_pint(number, unit, dimension, unit_si, example)
    else:
        value = number + _CELSIUS_K if unit == "degC" else number * factor
    if not math.isfinite(value):
        raise ValueError(f"a finite {dimension}")
    return value


def to_text(value: float, dimension: str) -> str:
    """Return `value` [SI] as text that `to_si` reads back to the same float."""
    return f"{value!r} {DIMENSIONS[dimension][0]}"


def from_pint(quantity: Any, dimension: str) -> float:
    """Return the SI value of a pint quantity, of whichever registry."""
    unit, example, _ = DIMENSIONS[dimension]
    try:
        value = float(quantity.to(_powers(unit)).magnitude)
    except Exception as error:  # pint's own errors have no common base class with those of arrays
        raise ValueError(f"{article(dimension)} such as {example!r}: it measures something else") from error
    if not math.isfinite(value):
        raise ValueError(f"a finite {dimension}")
    return value


def in_unit(value: float, dimension: str, unit: str) -> float:
    """Return `value` [SI] in `unit`, one of the spellings that `DIMENSIONS` lists."""
    if unit == "degC":
        return value - _CELSIUS_K
    return value / DIMENSIONS[dimension][2][unit]


def article(noun: str) -> str:
    """Return `noun` behind its indefinite article."""
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def _by_pint(number: float, unit: str, dimension: str, unit_si: str, example: str) -> float:
    registry = _registry()
    wanted = f"{article(dimension)} such as {example!r}"
    try:
        value = registry.Quantity(number, registry.parse_units(_powers(unit)))
    except Exception as error:
        # pint has no common base class for what odd text raises (its own, tokenizer, arithmetic).
        raise ValueError(f"{wanted}: {unit!r} is not a known unit") from error
    try:
        return float(value.to(registry.parse_units(_powers(unit_si))).magnitude)
    except Exception as error:  # the same holds for conversions, overflow included
        raise ValueError(f"{wanted}: {unit!r} measures something else") from error


def _powers(unit: str) -> str:
    """Write ``m2`` as ``m**2``, which is how pint reads a power."""
    return re.sub(r"([A-Za-zµ])(\d)", r"\1**\2", unit)


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()
