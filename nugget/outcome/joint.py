"""What counts as a joint at the faying surface, and what it holds (manual, theory-joint).

Metals that mix in all shares are joined where the interface reaches the lowest melting temperature
of the pair with melt on one side at least: molten nickel dissolves the steel that it wets within
microseconds, long before the steel itself melts. Metals that a melt wets but hardly dissolves are
brazed. Pairs that form brittle compounds are not counted. Of an unknown pair both sides must melt.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.grid.platings import SQUEEZED_M, bearing_row
from nugget.grid.stack import Grid, Interface
from nugget.materials.material import Material
from nugget.materials.pairs import Pair, pair
from nugget.setup.description import Layer

COUNTED = ("soluble", "braze")
LIQUID_DIFFUSIVITY_M2_S = 5e-9
"""Diffusion of solutes in molten iron and nickel [m2/s] (2 to 8e-9: Iida and Guthrie, The Physical
Properties of Liquid Metals, 1988, from memory)."""
SLACK_K, SPAN_K = 20.0, 10.0
"""A solid side may be this much below the joint temperature [K], as the two readings of one surface
differ by about as much; and what makes a temperature comparable with a level of melting."""
SHEAR_OVER_PEEL = 7.0
"""Lap shear of nickel-coated tabs is 4 to 7 times their T-peel strength (Das et al., J. Braz. Soc. Mech. Sci.
Eng. 41 (2019) 54, abstract): the weak end, so that no joint is promised to hold more than it may."""


@dataclass(frozen=True)
class FayingPair:
    """The two metals that meet at the faying surface.

    Attributes
    ----------
    upper, lower : Material
    record : Pair
        Whether and from which temperature they join.
    rows : (int, int)
        Grid rows, above and below, in which their melt is read.
    """

    upper: Material
    lower: Material
    record: Pair
    rows: tuple[int, int]

    @property
    def counted(self) -> bool:
        """Whether melt on one side is enough for a joint that counts."""
        return self.record.kind in COUNTED

    def level(self, colder_K: FloatArray, both: FloatArray, either: FloatArray) -> FloatArray:
        """Level that is positive where the interface is joined.

        Parameters
        ----------
        colder_K : ndarray, shape (nr,)
            Temperature of the colder side of the interface.
        both, either : ndarray, shape (nr,)
            Positive where both sides, or one at least, are molten.
        """
        if self.record.kind == "brittle":
            return np.minimum(both, -1.0)
        if not self.counted:
            return both
        warm = (colder_K - self.record.joint_temperature_K + SLACK_K) / SPAN_K
        return np.minimum(either, warm)


def faying_pair(grid: Grid, interface: Interface) -> FayingPair:
    """The metals that the joint of `grid` is made between.

    A plating that does not join is squeezed out as it melts: the layers behind it meet then.
    """

    def met(rows: tuple[int, int]) -> FayingPair:
        upper, lower = (grid.materials[grid.material[row, 0]] for row in rows)
        return FayingPair(upper, lower, pair(upper, lower), rows)

    surface = met((interface.above, interface.below))
    if surface.counted or interface.mirrored:
        return surface
    behind = met((bearing_row(grid, interface.above, +1), bearing_row(grid, interface.below, -1)))
    return behind if behind.counted else surface


def pair_of_layers(strip: Sequence[Layer], base: Sequence[Layer]) -> tuple[Layer, Layer, Pair]:
    """The layers that are joined, as `faying_pair` finds them on a grid; both from top to bottom."""
    surface = strip[-1], base[0]
    record = pair(surface[0].material, surface[1].material)
    if record.kind in COUNTED:
        return *surface, record
    behind = _carrying(list(reversed(strip))), _carrying([b for b in base if b.role == "can"] or list(base))
    other = pair(behind[0].material, behind[1].material)
    return (*behind, other) if other.kind in COUNTED else (*surface, record)


def _carrying(layers: Sequence[Layer]) -> Layer:
    return next((layer for layer in layers if layer.thickness_m >= SQUEEZED_M), layers[-1])


def dissolved_depth(wet_s: FloatArray) -> FloatArray:
    """Depth [m] of wall that melt has dissolved in `wet_s` seconds: the diffusion length sqrt(4 D t)."""
    return np.asarray(np.sqrt(4.0 * LIQUID_DIFFUSIVITY_M2_S * wet_s), dtype=np.float64)


def shear_force(diameter_m: float, strip_m: float, strength_Pa: float) -> float:
    """Force along the strip that parts one spot [N].

    The smaller of shear through the nugget, ``pi d^2 / 4``, and of tearing the strip around it,
    ``pi d t``, both at the von Mises shear strength; blind to the heat-affected zone.
    """
    tau = strength_Pa / math.sqrt(3.0)
    return math.pi * diameter_m * min(0.25 * diameter_m, strip_m) * tau


def peel_force(diameter_m: float, strip_m: float, strength_Pa: float) -> float:
    """Force across the strip that peels one spot [N], nugget or strip whichever is weaker."""
    return shear_force(diameter_m, strip_m, strength_Pa) / SHEAR_OVER_PEEL
