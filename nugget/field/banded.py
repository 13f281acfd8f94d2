"""Direct solver for five-point operators on a tensor grid."""

from __future__ import annotations

import numpy as np

from nugget.arrays import FloatArray


class BandedOperator:
    """A symmetric positive definite five-point matrix on a grid of `rows` x `columns`.

    Cells of one colour of a checkerboard touch cells of the other only, so every second cell is
    eliminated by hand: a division each. What is left couples a cell with its eight neighbours of
    the same colour. It has half the unknowns at the same half bandwidth, the shorter side of the
    grid, as unknowns are numbered along that side. LAPACK's dpbtrf and dpbtrs do the rest; the
    arrays are kept between factorisations.
    """

    def __init__(self, rows: int, columns: int) -> None:
        # LAPACK is imported with the first operator, not with the package.
        from scipy.linalg.lapack import dpbtrf, dpbtrs

        self._factorise, self._backsolve = dpbtrf, dpbtrs
        self.transposed = rows < columns
        slow, fast = (columns, rows) if self.transposed else (rows, columns)
        self.shape = (slow, fast)
        self.half = (fast + 1) // 2
        self.band = np.zeros((slow * self.half, 2 * self.half + 1))
        # A rim of cells that couple to nothing spares all questions about borders.
        bordered = (slow + 2, 2 * self.half + 2)
        self._rimmed = [np.zeros(bordered) for _ in range(5)]
        self._cells = (slice(1, slow + 1), slice(1, fast + 1))
        # East couples a cell with the next one on the fast side, north with the next on the slow side.
        self._east, self._north, self._inverse, self._given, self._found = map(self._views, self._rimmed)
        self.factorisations = 0

    def _views(self, field: FloatArray) -> dict[tuple[int, int], dict[tuple[int, int], FloatArray]]:
        """Views of every second cell from (row, column) on, 0 or 1 each, and of its neighbours.

        ``views[row, column][up, right]``, the latter from -1 to 1, are what lies there; made once,
        as making them anew takes as long as the arithmetic.
        """
        below, beside = self.shape[0] + 1, 2 * self.half + 1
        return {
            (p, q): {
                (up, right): field[1 + p + up : below + up : 2, 1 + q + right : beside + right : 2]
                for up in (-1, 0, 1)
                for right in (-1, 0, 1)
            }
            for p in (0, 1)
            for q in (0, 1)
        }

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
        if (diagonal <= 0.0).any():
            raise ArithmeticError("operator not positive definite (diagonal)")
        east, north, inverse = self._rimmed[:3]
        east[1 : slow + 1, 1:fast] = inner
        north[1:slow, 1 : fast + 1] = outer
        np.divide(1.0, diagonal, out=inverse[self._cells])
        self._eliminate(diagonal)
        _, info = self._factorise(self.band.T, lower=1, overwrite_ab=1)
        self.factorisations += 1
        if info != 0:
            raise ArithmeticError(f"operator not positive definite (pivot {info})")

    def _eliminate(self, diagonal: FloatArray) -> None:
        """Fill the band with the operator of the cells that are kept."""
        half = self.half
        self.band[:] = 0.0
        grid = self.band.reshape(self.shape[0], half, 2 * half + 1)
        grid[1::2, :, 0] = 1.0  # where the shorter side is odd, every second row has a cell too many
        for p in (0, 1):
            E, N, V = self._east[p, p], self._north[p, p], self._inverse[p, p]
            to_e, to_w, to_n = E[0, 0] * V[0, 1], E[0, -1] * V[0, -1], N[0, 0] * V[1, 0]
            own = diagonal[p::2, p::2]
            kept = grid[p::2]
            kept[:, : own.shape[1], 0] = own
            kept[:, :, 0] -= E[0, 0] * to_e + E[0, -1] * to_w + N[0, 0] * to_n + N[-1, 0] ** 2 * V[-1, 0]
            kept[:, :, 1] -= to_e * E[0, 1]
            kept[:, :, half - 1 + p] -= to_w * N[0, -1] + to_n * E[1, -1]
            kept[:, :, half + p] -= to_e * N[0, 1] + to_n * E[1, 0]
            kept[:, :, 2 * half] -= to_n * N[1, 0]

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve with the latest factors; `right_hand_side` has shape (rows, columns)."""
        inverse, given, found = self._rimmed[2:]
        given[self._cells] = right_hand_side.T if self.transposed else right_hand_side
        np.multiply(given, inverse, out=found)
        b = np.empty((self.shape[0], self.half))
        for p in (0, 1):
            np.add(self._given[p, p][0, 0], self._inflow(p, p), out=b[p::2])
        x, info = self._backsolve(self.band.T, b.ravel(), lower=1, overwrite_b=1)
        if info != 0:
            raise ArithmeticError(f"back substitution refused argument {-info}")
        x = x.reshape(b.shape)
        for p in (0, 1):
            self._found[p, p][0, 0][:] = x[p::2]
        for p in (0, 1):
            rest = self._given[p, 1 - p][0, 0] + self._inflow(p, 1 - p)
            np.multiply(self._inverse[p, 1 - p][0, 0], rest, out=self._found[p, 1 - p][0, 0])
        cells = found[self._cells]
        return np.ascontiguousarray(cells.T) if self.transposed else cells.copy()

    def _inflow(self, row: int, column: int) -> FloatArray:
        """What the four neighbours add: each coupling times the neighbour's value in the answer."""
        E, N, x = self._east[row, column], self._north[row, column], self._found[row, column]
        return E[0, 0] * x[0, 1] + E[0, -1] * x[0, -1] + N[0, 0] * x[1, 0] + N[-1, 0] * x[-1, 0]
