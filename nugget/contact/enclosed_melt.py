"""What melt in a contact carries while solid encloses it (manual, theory-contact).

Where a pool ends, the boundaries of the grains are wet and have none of the strength left that a fast
pull finds just below the solidus. Melt therefore carries what its solid carries at its solidus under
slow load, 20 to 30 MPa for steel, nickel and copper, and that grows with the rate as the strength of
metals close to melting does. Without the growth nothing but heat would bound how fast a contact widens
over melt: it went in leaps of a fifth within a microsecond, at instants that no two step sizes shared.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.materials.strength import estimated_exponent

SLOW_UP_TO_1_S = 100.0
"""Rate of strain up to which enclosed melt carries the slow strength of its solid: contacts grow at 50 to
3000 1/s, where it then carries 20 to 50 MPa (assumption)."""
EXPONENT = float(estimated_exponent(1.0))
"""Exponent of the rate beyond, that of metals at their melting point."""


def gain(rates_1_s: npt.ArrayLike) -> FloatArray:
    """What enclosed melt carries at each rate over what it carries under slow load; never below 1."""
    ratio = np.asarray(rates_1_s, dtype=np.float64) / SLOW_UP_TO_1_S
    return np.asarray(np.maximum(ratio, 1.0) ** EXPONENT, dtype=np.float64)


def partly_molten(
    strength_Pa: FloatArray, melt: FloatArray, gains: FloatArray, slow_Pa: FloatArray | None = None
) -> FloatArray:
    """Hardness [Pa] where solid gives way to melt, never more than that of the solid at the rate.

    Parameters
    ----------
    strength_Pa : ndarray, shape (n_rates, \\*shape)
        Of the solid, at its solidus where it is hotter.
    melt : ndarray, shape `shape`
        Share of the way from solidus to liquidus; below 0 and above 1 it is clipped.
    gains : ndarray, shape (n_rates,)
        `gain` at each rate, times what is set.
    slow_Pa : ndarray, shape `shape`, optional
        Strength under slow load; the first row by default.
    """
    slow = strength_Pa[0] if slow_Pa is None else slow_Pa
    enclosed = np.minimum(strength_Pa, np.multiply.outer(gains, slow))
    share = np.minimum(np.maximum(melt, 0.0), 1.0)
    return np.asarray(strength_Pa - share * (strength_Pa - enclosed), dtype=np.float64)
