"""Indentation hardness straight from the materials' curves."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray
from nugget.crosscheck.properties import CellProperties, EnthalpyCurve


def hardness(properties: CellProperties, T: FloatArray) -> FloatArray:
    """Hardness [Pa] of every cell or node at temperatures [K]; it falls to zero as the metal melts."""
    return properties.each(T, _of_one)


def _of_one(curve: EnthalpyCurve, T: FloatArray) -> FloatArray:
    given = curve.material.hardness
    if given is None:
        return np.zeros_like(T)
    cold = np.interp(T, given.temperature_K, given.value)
    return np.asarray(cold * (1.0 - curve.liquid(T)), dtype=np.float64)
