"""Banded Cholesky solver for five-point operators on a tensor grid."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]


class BandedOperator:
    """A symmetric positive definite five-point matrix on a grid of `rows` x `columns`.

    Unknowns are numbered along the shorter side, so the half bandwidth is the smaller of the
    two. LAPACK's dpbtrf and dpbtrs do the work; the array is kept between factorisations.
    """

    def __init__(self, rows: int, columns: int) -> None:
        # LAPACK is imported with the first operator, not with the package.
        from scipy.linalg.lapack import dpbtrf, dpbtrs

        self._factorise, self._backsolve = dpbtrf, dpbtrs
        self.transposed = rows < columns
        slow, fast = (columns, rows) if self.transposed else (rows, columns)
        self.shape = (slow, fast)
        self.band = np.zeros((slow * fast, fast + 1))
        self.factorisations = 0

    def factor(self, diagonal: FloatArray, along_r: FloatArray, along_z: FloatArray) -> None:
        """Factor the matrix with this diagonal and these couplings between neighbours.

        Parameters
        ----------
        diagonal : ndarray, shape (rows, columns)
        along_r : ndarray, shape (rows, columns - 1)
        along_z : ndarray, shape (rows - 1, columns)
            Conductances, entered with a minus sign.

        Raises
        ------
        ArithmeticError
            If the matrix is not positive definite.
        """
        slow, fast = self.shape
        inner, outer = along_r, along_z
        if self.transposed:
            diagonal, inner, outer = diagonal.T, along_z.T, along_r.T
        self.band[:] = 0.0
        grid = self.band.reshape(slow, fast, fast + 1)
        grid[:, :, 0] = diagonal
        if fast > 1:
            grid[:, :-1, 1] = -inner
        grid[:-1, :, fast] -= outer
        _, info = self._factorise(self.band.T, lower=1, overwrite_ab=1)
        self.factorisations += 1
        if info != 0:
            raise ArithmeticError(f"operator not positive definite (pivot {info})")

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve with the latest factors; `right_hand_side` has shape (rows, columns)."""
        b = right_hand_side.T if self.transposed else right_hand_side
        x, info = self._backsolve(self.band.T, b.ravel(), lower=1)
        if info != 0:
            raise ArithmeticError(f"back substitution refused argument {-info}")
        x = x.reshape(self.shape)
        return np.ascontiguousarray(x.T) if self.transposed else np.asarray(x, dtype=np.float64)
