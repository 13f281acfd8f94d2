"""Quantities with a unit to SI floats and back: the one table of units and spellings.

Common spellings stand in the table, because loading pint takes longer than reading a whole setup;
every other unit goes to pint. A test compares each row with pint.
"""

from __future__ import annotations

import functools
import math
import re
from dataclasses import dataclass
from typing import Any, NamedTuple

from nugget.constants import ZERO_CELSIUS_K

IACS_OHM_M = 1e-6 / 58.0
"""Resistivity of the annealed copper standard at 20 degC [ohm m] (IEC 60028:1925, from memory)."""


@dataclass(frozen=True)
class Unit:
    """``SI value = value * factor + offset``, or ``factor / value`` when `inverse`."""

    factor: float
    offset: float = 0.0
    inverse: bool = False

    def to_si(self, value: Any) -> Any:
        """Return a number or an array in this unit as SI."""
        return self.factor / value if self.inverse else value * self.factor + self.offset

    def from_si(self, value: Any) -> Any:
        """Undo `to_si`."""
        return self.factor / value if self.inverse else (value - self.offset) / self.factor


class Dimension(NamedTuple):
    """A kind of quantity: its SI unit, an example, and the units of the table by their spelling."""

    si: str
    example: str
    units: dict[str, Unit]


def _of(example: str, factors: dict[str, float], **others: Unit) -> Dimension:
    units = {spelling: Unit(factor) for spelling, factor in factors.items()}
    return Dimension(next(iter(units)), example, units | others)


_CELSIUS, _FAHRENHEIT = Unit(1.0, ZERO_CELSIUS_K), Unit(5.0 / 9.0, ZERO_CELSIUS_K - 160.0 / 9.0)
_MASSES = {"kg": 9.80665, "g": 9.80665e-3, "lb": 4.4482216152605}
"""What the unit of a mass weighs [N], at standard gravity (ISO 80000-3:2019)."""
_KGF_MM2 = 9.80665e6
_CAL = 4.184

DIMENSIONS: dict[str, Dimension] = {
    "length": _of("8 mm", {"m": 1.0, "cm": 1e-2, "mm": 1e-3, "um": 1e-6, "nm": 1e-9, "in": 0.0254}),
    "area": _of("8 mm2", {"m2": 1.0, "cm2": 1e-4, "mm2": 1e-6}),
    "time": _of("8 ms", {"s": 1.0, "ms": 1e-3, "us": 1e-6, "min": 60.0}),
    "force": _of("30 N", {"N": 1.0, "kN": 1e3, "lbf": 4.4482216152605}),
    "temperature": _of("20 degC", {"K": 1.0}, degC=_CELSIUS, degF=_FAHRENHEIT),
    "temperature difference": _of("2 K", {"K": 1.0, "delta_degC": 1.0}),
    "resistance": _of("7 mohm", {"ohm": 1.0, "mohm": 1e-3, "uohm": 1e-6}),
    "resistance times area": _of("1e-12 ohm m2", {"ohm m2": 1.0, "ohm mm2": 1e-6}),
    "inductance": _of("0.6 uH", {"H": 1.0, "mH": 1e-3, "uH": 1e-6, "nH": 1e-9}),
    "capacitance": _of("0.5 F", {"F": 1.0, "mF": 1e-3, "uF": 1e-6}),
    "voltage": _of("12 V", {"V": 1.0, "mV": 1e-3, "kV": 1e3}),
    "current": _of("1400 A", {"A": 1.0, "kA": 1e3, "mA": 1e-3}),
    "frequency": _of("50 Hz", {"Hz": 1.0, "kHz": 1e3}),
    "angle": _of("60 deg", {"rad": 1.0, "deg": math.pi / 180.0}),
    "number per area": _of("4e8 1/m2", {"1/m2": 1.0, "1/mm2": 1e6}),
    "rate": _of("1e15 1/s", {"1/s": 1.0}),
    "energy per amount": _of("135 kJ/mol", {"J/mol": 1.0, "kJ/mol": 1e3, "kcal/mol": 1e3 * _CAL}),
    "heat transfer coefficient": _of("10 W/(m2 K)", {"W/(m2 K)": 1.0}),
    "density": _of("8.9 g/cm3", {"kg/m3": 1.0, "g/cm3": 1e3, "Mg/m3": 1e3, "lb/in3": 27679.90471020313}),
    "heat capacity": _of(
        "0.44 J/(g K)", {"J/(kg K)": 1.0, "kJ/(kg K)": 1e3, "J/(g K)": 1e3, "cal/(g K)": 1e3 * _CAL}
    ),
    "thermal conductivity": _of(
        "70 W/(m K)",
        {"W/(m K)": 1.0, "mW/(m K)": 1e-3, "W/(cm K)": 1e2, "cal/(s cm K)": 1e2 * _CAL},
    ),
    "resistivity": _of(
        "9.6 uohm cm",
        {
            "ohm m": 1.0,
            "uohm m": 1e-6,
            "uohm cm": 1e-8,
            "nohm m": 1e-9,
            "ohm mm2/m": 1e-6,
            "ohm cmil/ft": 1.6624261125245987e-9,
        },
        **{"% IACS": Unit(100.0 * IACS_OHM_M, inverse=True), "MS/m": Unit(1e-6, inverse=True)},
    ),
    "heat per mass": _of("290 J/g", {"J/kg": 1.0, "kJ/kg": 1e3, "J/g": 1e3, "cal/g": 1e3 * _CAL}),
    "pressure": _of(
        "400 MPa",
        {
            "Pa": 1.0,
            "MPa": 1e6,
            "GPa": 1e9,
            "N/mm2": 1e6,
            "ksi": 6894757.293168363,
            "HV": _KGF_MM2,  # kgf/mm2 (ISO 6507-1)
            "HB": _KGF_MM2,
        },
    ),
    "Seebeck coefficient": _of("-19 uV/K", {"V/K": 1.0, "mV/K": 1e-3, "uV/K": 1e-6}),
    "pure number": _of("0.2", {"1": 1.0}),
    "diffusivity": _of("1e-5 m2/s", {"m2/s": 1.0, "cm2/s": 1e-4}),
    "inverse pressure": _of("0.05 1/MPa", {"1/Pa": 1.0, "1/MPa": 1e-6}),
}
"""By kind of quantity; the first unit of each is the SI unit used inside.

1 in = 25.4 mm, 1 lbf = 4.4482216152605 N, 1 lb = 0.45359237 kg, 1 cal = 4.184 J (thermochemical) and
1 ft = 0.3048 m are exact (NIST SP 811, 2008, appendix B.8).
"""

_NUMBER = r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_NUMBER_AND_UNIT = re.compile(rf"\s*({_NUMBER})\s*(\S.*)?", re.DOTALL)
_LONGEST = 40
_WHAT_A_UNIT_HOLDS = re.compile(r"[^\W\d]+|[0-9]|[ */^().·°²³-]", re.ASCII)


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
    wanted = f"{article(dimension)} such as {DIMENSIONS[dimension].example!r}"
    found = _NUMBER_AND_UNIT.fullmatch(text)
    if found is None:
        raise ValueError(wanted)
    unit = " ".join((found[2] or "").split())
    if unit.startswith(","):
        raise ValueError(f"{wanted}, with a decimal point instead of a comma")
    if not unit:
        raise ValueError(wanted.replace(" such as", " with its unit, such as"))
    if dimension == "force" and unit in _MASSES:
        newton = float(found[1]) * _MASSES[unit]
        raise ValueError(f"{wanted}: {unit} is a mass, which presses with '{newton:.4g} N'")
    try:
        value = float(unit_of(unit, dimension).to_si(float(found[1])))
    except ZeroDivisionError:
        value = math.inf
    except ValueError as error:
        raise ValueError(f"{wanted}: {error}") from error
    if not math.isfinite(value):
        raise ValueError(f"a finite {dimension}")
    return value


def to_text(value: float, dimension: str) -> str:
    """Return `value` [SI] as text that `to_si` reads back to the same float."""
    return f"{value!r} {DIMENSIONS[dimension].si}"


def from_pint(quantity: Any, dimension: str) -> float:
    """Return the SI value of a pint quantity, of whichever registry."""
    si, example, _ = DIMENSIONS[dimension]
    try:
        value = float(quantity.to(_powers(si)).magnitude)
    except Exception as error:  # pint's own errors have no common base class with those of arrays
        raise ValueError(f"{article(dimension)} such as {example!r}: it measures something else") from error
    if not math.isfinite(value):
        raise ValueError(f"a finite {dimension}")
    return value


def in_unit(value: float, dimension: str, unit: str) -> float:
    """Return `value` [SI] in `unit`."""
    return float(unit_of(unit, dimension).from_si(value))


def article(noun: str) -> str:
    """Return `noun` behind its indefinite article."""
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


@functools.lru_cache(maxsize=1024)
def spelling(unit: str) -> str:
    """Return `unit` without what people vary: ``W/m/K``, ``W/(m·K)`` and ``W/(m K)`` are one unit."""
    for old, new in (
        ("µ", "u"),
        ("μ", "u"),
        ("micro-", "u"),
        ("Ω", "ohm"),
        ("Ω", "ohm"),
        ("Ohm", "ohm"),
        ("°", "deg"),
        ("²", "2"),
        ("³", "3"),
        ("^", ""),
        ("%", "% "),
    ):
        unit = unit.replace(old, new)
    head, *below = (" ".join(re.sub(r"[()*·]", " ", part).split()) for part in unit.split("/"))
    return f"{head}/{' '.join(below)}" if below else head


def unit_of(unit: str, dimension: str) -> Unit:
    """Return the unit of `dimension` that is spelled `unit`.

    Raises
    ------
    ValueError
        When there is none, with a message that says whether it measures something else.
    """
    return _table(dimension).get(spelling(unit)) or _by_pint(unit, dimension)


@functools.cache
def _table(dimension: str) -> dict[str, Unit]:
    return {spelling(name): unit for name, unit in DIMENSIONS[dimension].units.items()}


@functools.lru_cache(maxsize=256)
def _by_pint(unit: str, dimension: str) -> Unit:
    """Ask pint, which evaluates what it is given: only what can be a unit may reach it."""
    plain = unit.replace("µ", "u").replace("μ", "u")
    plain = plain.replace("Ω", "ohm").replace("Ω", "ohm")
    number_to_a_power = re.search(r"[0-9)]\s*(\*\*|\^)", plain)
    if len(plain) > _LONGEST or number_to_a_power or _WHAT_A_UNIT_HOLDS.sub("", plain):
        raise ValueError(f"{unit[:_LONGEST]!r} is not a known unit")
    if re.search(r"[0-9]{2}", plain):
        raise ValueError(f"{unit!r} is not a known unit")
    registry = _registry()
    try:
        given = registry.parse_units(_powers(plain))
        registry.Quantity(1.0, given)
    except Exception as error:
        # pint has no common base class for what odd text raises (its own, tokenizer, arithmetic).
        raise ValueError(f"{unit!r} is not a known unit") from error
    try:
        si = registry.parse_units(_powers(DIMENSIONS[dimension].si))
        zero, one = (float(registry.Quantity(number, given).to(si).magnitude) for number in (0.0, 1.0))
    except Exception as error:  # the same holds for conversions, overflow included
        raise ValueError(f"{unit!r} measures something else") from error
    return Unit(one - zero, zero)


def _powers(unit: str) -> str:
    """Write ``m2`` and ``K-1`` as ``m**2`` and ``K**-1``, which is how pint reads a power."""
    return re.sub(r"([A-Za-z])(-?[0-9])", r"\1**\2", unit)


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()
