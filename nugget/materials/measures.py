"""Quantities of material files and their conversion to SI: the one place where it happens.

A unit may carry a leading number, so that a handbook column headed "1e-8 ohm m" is typed as printed.
"""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.units import DIMENSIONS, Unit, spelling, unit_of

QUANTITIES = {
    "temperature": "temperature",
    "density": "density",
    "heat_capacity": "heat capacity",
    "conductivity": "thermal conductivity",
    "resistivity": "resistivity",
    "heat_of_fusion": "heat per mass",
    "hardness": "pressure",
    "tensile_strength": "pressure",
    "flow_stress": "pressure",
    "rate": "rate",
    "seebeck": "Seebeck coefficient",
    "exponent": "pure number",
    "diffusivity": "diffusivity",
    "activation_energy": "energy per amount",
    "inverse_stress": "inverse pressure",
    "thickness": "length",
}
"""By what a material file calls it, the kind of quantity in `nugget.units.DIMENSIONS`."""

UNITS: dict[str, dict[str, Unit]] = {name: DIMENSIONS[kind].units for name, kind in QUANTITIES.items()}
"""By quantity, the units it may be given in; the first is the SI unit used inside."""

_NUMBER_FIRST = re.compile(r"^([0-9.]+(?:[eE][-+]?[0-9]+)?)\s+(.+)$")


def quantity_of(unit: str) -> str | None:
    """Return the name of the first quantity that `unit` can measure, or None."""
    wanted = spelling(unit)
    found = (name for name, units in UNITS.items() if wanted in map(spelling, units))
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
        A key of `QUANTITIES`.
    where : str
        File and key path, for the error.

    Raises
    ------
    InputError
        When `unit` does not measure `quantity`.
    """
    scale, bare = 1.0, unit.strip()
    if match := _NUMBER_FIRST.match(bare):
        try:
            scale, bare = float(match[1]), match[2]
        except ValueError as error:
            raise InputError(where, unit, f"a number and a unit of {quantity.replace('_', ' ')}") from error
    try:
        known = unit_of(bare, QUANTITIES[quantity])
    except ValueError as error:
        allowed = ", ".join(UNITS[quantity])
        other = quantity_of(bare)
        given = f"{unit} (a unit of {other.replace('_', ' ')})" if other else unit
        raise InputError(where, given, f"a unit of {quantity.replace('_', ' ')}: {allowed}") from error
    numbers = np.asarray(value, dtype=np.float64) * scale
    if known.inverse and np.any(numbers <= 0.0):
        raise InputError(where, float(np.min(numbers)), f"a positive value in {bare}")
    return np.asarray(known.to_si(numbers), dtype=np.float64)
