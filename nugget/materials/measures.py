"""Units that material files may use, and their conversion to SI: the one place where it happens.

A small table instead of a units library: loading a built-in material must not cost the import
of one. A unit may carry a leading number, so that a handbook column headed "1e-8 ohm m" is
typed as printed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.constants import ZERO_CELSIUS_K
from nugget.errors import InputError

IACS_OHM_M = 1e-6 / 58.0
"""Resistivity of the annealed copper standard at 20 degC [ohm m] (IEC 60028:1925, from memory)."""


@dataclass(frozen=True)
class Unit:
    """``SI value = value * factor + offset``, or ``factor / value`` when `inverse`."""

    factor: float
    offset: float = 0.0
    inverse: bool = False


_PRESSURE = {
    "Pa": Unit(1.0),
    "MPa": Unit(1e6),
    "GPa": Unit(1e9),
    "N/mm2": Unit(1e6),
    "ksi": Unit(6.894757e6),
    "HV": Unit(9.80665e6),  # kgf/mm2 (ISO 6507-1)
    "HB": Unit(9.80665e6),
}
_HEAT_PER_MASS = {"J/kg": Unit(1.0), "kJ/kg": Unit(1e3), "J/g": Unit(1e3), "cal/g": Unit(4184.0)}

UNITS: dict[str, dict[str, Unit]] = {
    "temperature": {
        "K": Unit(1.0),
        "degC": Unit(1.0, ZERO_CELSIUS_K),
        "degF": Unit(5.0 / 9.0, ZERO_CELSIUS_K - 160.0 / 9.0),
    },
    "density": {"kg/m3": Unit(1.0), "g/cm3": Unit(1e3), "Mg/m3": Unit(1e3), "lb/in3": Unit(27679.905)},
    "heat_capacity": {
        "J/(kg K)": Unit(1.0),
        "kJ/(kg K)": Unit(1e3),
        "J/(g K)": Unit(1e3),
        "cal/(g K)": Unit(4184.0),
    },
    "conductivity": {
        "W/(m K)": Unit(1.0),
        "mW/(m K)": Unit(1e-3),
        "W/(cm K)": Unit(1e2),
        "cal/(s cm K)": Unit(418.4),
    },
    "resistivity": {
        "ohm m": Unit(1.0),
        "uohm m": Unit(1e-6),
        "uohm cm": Unit(1e-8),
        "nohm m": Unit(1e-9),
        "ohm mm2/m": Unit(1e-6),
        "ohm cmil/ft": Unit(1.662426e-9),
        "% IACS": Unit(100.0 * IACS_OHM_M, inverse=True),
        "MS/m": Unit(1e-6, inverse=True),
    },
    "heat_of_fusion": _HEAT_PER_MASS,
    "hardness": _PRESSURE,
    "tensile_strength": _PRESSURE,
    "flow_stress": _PRESSURE,
    "rate": {"1/s": Unit(1.0)},
    "seebeck": {"V/K": Unit(1.0), "mV/K": Unit(1e-3), "uV/K": Unit(1e-6)},
    "exponent": {"1": Unit(1.0)},
    "diffusivity": {"m2/s": Unit(1.0), "cm2/s": Unit(1e-4)},
    "activation_energy": {"J/mol": Unit(1.0), "kJ/mol": Unit(1e3), "kcal/mol": Unit(4184.0)},
    "inverse_stress": {"1/Pa": Unit(1.0), "1/MPa": Unit(1e-6)},
    "thickness": {"m": Unit(1.0), "mm": Unit(1e-3), "um": Unit(1e-6), "nm": Unit(1e-9)},
}
"""By quantity, the units it may be given in; the first is the SI unit used inside."""

_NUMBER_FIRST = re.compile(r"^([0-9.]+(?:[eE][-+]?[0-9]+)?)\s+(.+)$")


def _canonical(unit: str) -> str:
    """Spelling without what people vary: ``W/m/K``, ``W/(m·K)`` and ``W/(m K)`` are one unit."""
    for old, new in (
        ("µ", "u"),
        ("μ", "u"),
        ("micro-", "u"),
        ("Ω", "ohm"),
        ("°", "deg"),
        ("²", "2"),
        ("³", "3"),
    ):
        unit = unit.replace(old, new)
    head, *rest = re.sub(r"[\s()*·^]", "", unit).split("/")
    return head + "/" + "".join(rest) if rest else head


def quantity_of(unit: str) -> str | None:
    """Return the name of the first quantity that `unit` can measure, or None."""
    wanted = _canonical(unit)
    found = (name for name, units in UNITS.items() if wanted in {_canonical(u) for u in units})
    return next(found, None)


def to_si(value: npt.ArrayLike, unit: str, quantity: str, where: str) -> FloatArray:
    """Convert `value` in `unit` to the SI unit of `quantity`.

    Parameters
    ----------
    value : array_like
        Any shape.
    unit : str
        For example ``"uohm cm"``, ``"1e-8 ohm m"``, ``"% IACS"``, ``"degC"``.
    quantity : str
        A key of `UNITS`.
    where : str
        File and key path, for the error.

    Raises
    ------
    InputError
        When `unit` does not measure `quantity`.
    """
    scale, bare = 1.0, unit.strip()
    if match := _NUMBER_FIRST.match(bare):
        scale, bare = float(match[1]), match[2]
    by_spelling = {_canonical(name): known for name, known in UNITS[quantity].items()}
    known = by_spelling.get(_canonical(bare))
    if known is None:
        allowed = ", ".join(UNITS[quantity])
        other = quantity_of(bare)
        given = f"{unit} (a unit of {other.replace('_', ' ')})" if other else unit
        raise InputError(where, given, f"a unit of {quantity.replace('_', ' ')}: {allowed}")
    numbers = np.asarray(value, dtype=np.float64) * scale
    if known.inverse:
        if np.any(numbers <= 0.0):
            raise InputError(where, float(np.min(numbers)), f"a positive value in {bare}")
        return known.factor / numbers
    return numbers * known.factor + known.offset
