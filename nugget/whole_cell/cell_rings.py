"""What a whole cell is made of, as rings of even material round its axis, in SI units."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Part:
    """A ring (a disc when `inner_m` is 0) of one material.

    Attributes
    ----------
    name : str
        ``wall`` is the part that is welded on.
    inner_m, outer_m, bottom_m, top_m : float
        Radii and heights [m]; z points out of the welded end.
    storage_J_m3K : float
        Density times heat capacity.
    k_r, k_z : float
        Thermal conductivity along r and z [W/(m K)].
    conductance_below_W_m2K : float or None
        Of the contact with whatever lies below; None: perfect.
    """

    name: str
    inner_m: float
    outer_m: float
    bottom_m: float
    top_m: float
    storage_J_m3K: float
    k_r: float
    k_z: float
    conductance_below_W_m2K: float | None = None

    @property
    def volume_m3(self) -> float:
        """Of the ring [m3]."""
        return 3.141592653589793 * (self.outer_m**2 - self.inner_m**2) * (self.top_m - self.bottom_m)


@dataclass(frozen=True)
class WholeCell:
    """Parts that do not overlap, and the air around them.

    Attributes
    ----------
    parts : tuple of Part
    heat_transfer_W_m2K : float
        Heat transfer coefficient of every free surface.
    """

    parts: tuple[Part, ...]
    heat_transfer_W_m2K: float

    @property
    def wall(self) -> Part:
        """The part that is welded on."""
        return next(part for part in self.parts if part.name == "wall")
