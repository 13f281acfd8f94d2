"""What the fields ask of a direct solver, and the plain one that any other is measured against.

An operator couples each cell of a grid with its four neighbours. It is symmetric and positive
definite: conductances between cells, and something to the outside.

The equations: manual, theory-numerics.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np

from nugget.arrays import FloatArray


class Factors(Protocol):
    """One operator, factored; later factorisations leave it as it is."""

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve for a right-hand side of shape (rows, columns), which stays as it is."""
        ...


class LinearSolver(Protocol):
    """Factors operators on one grid.

    Attributes
    ----------
    factorisations : int
        How many there have been.
    """

    factorisations: int

    def factor(self, diagonal: FloatArray, along_r: FloatArray, along_z: FloatArray) -> Factors:
        """Factor the matrix with this diagonal and these couplings between neighbours.

        Parameters
        ----------
        diagonal : ndarray, shape (rows, columns)
        along_r : ndarray, shape (rows, columns - 1)
        along_z : ndarray, shape (rows - 1, columns)
            Conductances, entered with a minus sign. None of the three is written to.

        Raises
        ------
        ArithmeticError
            If the matrix is not positive definite.
        """
        ...


SolverKind = Callable[[int, int], LinearSolver]
"""Makes a solver for a grid of so many rows and columns."""


class BandedSolver:
    """Reference: LAPACK's banded Cholesky with every cell an unknown, numbered along the shorter side."""

    def __init__(self, rows: int, columns: int) -> None:
        self.rows, self.columns = rows, columns
        self.factorisations = 0

    def factor(self, diagonal: FloatArray, along_r: FloatArray, along_z: FloatArray) -> BandedFactors:
        """See `LinearSolver`."""
        from scipy.linalg import LinAlgError, cholesky_banded

        transposed = self.rows < self.columns
        inner, outer = along_r, along_z
        if transposed:
            diagonal, inner, outer = diagonal.T, along_z.T, along_r.T
        slow, fast = diagonal.shape
        band = np.zeros((slow, fast, fast + 1))
        band[:, :-1, 1] = -inner
        # Where the grid is one cell wide the next cell is the next row, too.
        band[:-1, :, fast] -= outer
        band[:, :, 0] = diagonal
        self.factorisations += 1
        try:
            factor = cholesky_banded(band.reshape(slow * fast, fast + 1).T, lower=True)
        except LinAlgError as failure:
            raise ArithmeticError(f"operator not positive definite ({failure})") from failure
        return BandedFactors(factor, transposed)


class BandedFactors:
    """Factors of one operator."""

    def __init__(self, factor: FloatArray, transposed: bool) -> None:
        self._factor, self._transposed = factor, transposed

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve for one right-hand side of shape (rows, columns)."""
        from scipy.linalg import cho_solve_banded

        b = right_hand_side.T if self._transposed else right_hand_side
        x = cho_solve_banded((self._factor, True), b.ravel()).reshape(b.shape)
        return np.ascontiguousarray(x.T) if self._transposed else np.asarray(x)
