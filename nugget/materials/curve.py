"""A property against temperature, with the source of each stretch of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray

Confidence = Literal["library", "found", "memory", "estimated", "unknown"]
"""How a value was obtained: printed by a general-purpose library, read in a public text,
recalled from the named work, derived by a stated rule, or unknown."""


@dataclass(frozen=True)
class Citation:
    """Where a number comes from.

    Attributes
    ----------
    work : str
        Author, title, edition, table or page; ``"unknown"`` when unknown.
    confidence : str
        One of `Confidence`.
    note : str
        How it was checked, or what limits it.
    """

    work: str
    confidence: Confidence
    note: str = ""


@dataclass(frozen=True)
class Stretch:
    """The part of a curve that one source supplied: up to `last_K`, from where the one before ends.

    Attributes
    ----------
    first_K, last_K : float
        Temperatures [K]; linear interpolation from the last row of the part before is included.
    citation : Citation
    """

    first_K: float
    last_K: float
    citation: Citation


@dataclass(frozen=True)
class Curve:
    """A property against temperature: linear between rows, held past both ends.

    Attributes
    ----------
    temperature_K : ndarray, shape (n,)
        Strictly increasing temperatures [K].
    value : ndarray, shape (n,)
        The property in SI units.
    citation : Citation
        All works together, with the weakest confidence of them.
    stretches : tuple of Stretch
        Which source supplied what, in order of temperature.
    """

    temperature_K: FloatArray
    value: FloatArray
    citation: Citation
    stretches: tuple[Stretch, ...] = ()

    def __call__(self, temperature_K: npt.ArrayLike) -> FloatArray:
        """Return the property at `temperature_K` [K], any shape, in SI units."""
        wanted = np.asarray(temperature_K, dtype=np.float64)
        return np.asarray(np.interp(wanted, self.temperature_K, self.value), dtype=np.float64)
