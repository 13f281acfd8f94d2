"""Face geometry that the electric and the heat operator share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.grid.stack import Grid


@dataclass(frozen=True)
class Faces:
    """Areas and half-cell lengths of a block of cells; closed faces have no area.

    Attributes
    ----------
    half_r : ndarray, shape (1, nr)
    half_z : ndarray, shape (nz, 1)
        Half cell sizes [m].
    area_r : ndarray, shape (nz, nr - 1)
        Vertical faces between neighbours along r [m2]; 0 where a side is inactive.
    area_z : ndarray, shape (nz - 1, nr)
        Horizontal faces [m2]; 0 where a side is inactive.
    plane : ndarray, shape (nr,)
        Horizontal cell areas [m2].
    """

    half_r: FloatArray
    half_z: FloatArray
    area_r: FloatArray
    area_z: FloatArray
    plane: FloatArray

    @classmethod
    def of(cls, grid: Grid, member: npt.NDArray[np.bool_], rows: slice, columns: slice) -> Faces:
        """Faces among the cells marked in `member` (full shape), cut to a block."""
        inside = member[rows, columns]
        dr, dz, plane = grid.dr[columns], grid.dz[rows], grid.area_z[columns]
        outer = grid.r_faces[1:][columns][:-1]
        ring = 2.0 * np.pi * outer[None, :] * dz[:, None]
        return cls(
            half_r=0.5 * dr[None, :],
            half_z=0.5 * dz[:, None],
            area_r=ring * (inside[:, 1:] & inside[:, :-1]),
            area_z=plane[None, :] * (inside[1:] & inside[:-1]),
            plane=plane,
        )
