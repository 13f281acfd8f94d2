"""Banded Cholesky of a five-point operator with every cell an unknown: the floor of the limit."""

from __future__ import annotations

import numpy as np
from scipy.linalg.lapack import dpbtrf, dpbtrs

from nugget.arrays import FloatArray


class PlainBand:
    """The operator numbered along the shorter side of a grid of `shape` (rows, columns)."""

    def __init__(self, shape: tuple[int, int]) -> None:
        self.transposed = shape[0] < shape[1]
        slow, fast = sorted(shape, reverse=True)
        self.shape, self.band = (slow, fast), np.zeros((slow * fast, fast + 1))

    def factor(self, diagonal: FloatArray, along_r: FloatArray, along_z: FloatArray) -> None:
        """Factor; arguments as those of `nugget.field.linear.LinearSolver.factor`."""
        slow, fast = self.shape
        inner, outer = along_r, along_z
        if self.transposed:
            diagonal, inner, outer = diagonal.T, along_z.T, along_r.T
        self.band[:] = 0.0
        grid = self.band.reshape(slow, fast, fast + 1)
        grid[:, :, 0] = diagonal
        grid[:, :-1, 1] = -inner
        grid[:-1, :, fast] = -outer
        _, info = dpbtrf(self.band.T, lower=1, overwrite_ab=1)
        if info != 0:
            raise ArithmeticError(f"not positive definite (pivot {info})")

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve with the latest factors."""
        b = right_hand_side.T if self.transposed else right_hand_side
        x, _ = dpbtrs(self.band.T, b.ravel(), lower=1)
        x = x.reshape(self.shape)
        return np.ascontiguousarray(x.T) if self.transposed else np.asarray(x)
