"""Direct solver that eliminates every second cell by hand before the banded Cholesky."""

from __future__ import annotations

import weakref

import numpy as np

from nugget.arrays import FloatArray

Views = dict[tuple[int, int], dict[tuple[int, int], FloatArray]]


class CheckerboardSolver:
    """Solver for symmetric positive definite five-point operators on `rows` x `columns` cells.

    Cells of one colour of a checkerboard touch cells of the other only, so every second cell is
    eliminated by hand: a division each. What is left couples a cell with its eight neighbours of
    the same colour. It has half the unknowns at the same half bandwidth, the shorter side of the
    grid, as unknowns are numbered along that side. LAPACK's dpbtrf and dpbtrs do the rest. Arrays
    of factors that nobody holds any more serve the next factorisation.
    """

    def __init__(self, rows: int, columns: int) -> None:
        # LAPACK is imported with the first operator, not with the package.
        from scipy.linalg.lapack import dpbtrf, dpbtrs

        self._factorise, self.backsolve = dpbtrf, dpbtrs
        self.transposed = rows < columns
        slow, fast = (columns, rows) if self.transposed else (rows, columns)
        self.shape = (slow, fast)
        self.half = (fast + 1) // 2
        self.cells = (slice(1, slow + 1), slice(1, fast + 1))
        self._spare: list[_Workspace] = []
        self.factorisations = 0

    def factor(self, diagonal: FloatArray, along_r: FloatArray, along_z: FloatArray) -> CheckerboardFactors:
        """Factor the matrix with this diagonal and these couplings between neighbours.

        See `nugget.field.linear.LinearSolver`.
        """
        slow, fast = self.shape
        inner, outer = along_r, along_z
        if self.transposed:
            diagonal, inner, outer = diagonal.T, along_z.T, along_r.T
        if (diagonal <= 0.0).any():
            raise ArithmeticError("operator not positive definite (diagonal)")
        space = self._spare.pop() if self._spare else _Workspace(self.shape, self.half)
        space.east[1 : slow + 1, 1:fast] = inner
        space.north[1:slow, 1 : fast + 1] = outer
        np.divide(1.0, diagonal, out=space.inverse[self.cells])
        space.eliminate(diagonal)
        _, info = self._factorise(space.band.T, lower=1, overwrite_ab=1)
        self.factorisations += 1
        if info != 0:
            self._spare.append(space)
            raise ArithmeticError(f"operator not positive definite (pivot {info})")
        factors = CheckerboardFactors(self, space)
        weakref.finalize(factors, self._spare.append, space).atexit = False
        return factors


class _Workspace:
    """Arrays of one factorisation.

    A rim of cells that couple to nothing spares all questions about borders. `east` couples a cell
    with the next one on the fast side, `north` with the next on the slow side.
    """

    def __init__(self, shape: tuple[int, int], half: int) -> None:
        self.shape, self.half = shape, half
        self.band = np.zeros((shape[0] * half, 2 * half + 1))
        rimmed = [np.zeros((shape[0] + 2, 2 * half + 2)) for _ in range(5)]
        self.east, self.north, self.inverse, self.given, self.found = rimmed
        self.E, self.N, self.V, self.b, self.x = map(self._views, rimmed)

    def _views(self, field: FloatArray) -> Views:
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

    def eliminate(self, diagonal: FloatArray) -> None:
        """Fill the band with the operator of the cells that are kept."""
        half = self.half
        self.band[:] = 0.0
        grid = self.band.reshape(self.shape[0], half, 2 * half + 1)
        grid[1::2, :, 0] = 1.0  # where the shorter side is odd, every second row has a cell too many
        for p in (0, 1):
            E, N, V = self.E[p, p], self.N[p, p], self.V[p, p]
            to_e, to_w, to_n = E[0, 0] * V[0, 1], E[0, -1] * V[0, -1], N[0, 0] * V[1, 0]
            own = diagonal[p::2, p::2]
            kept = grid[p::2]
            kept[:, : own.shape[1], 0] = own
            kept[:, :, 0] -= E[0, 0] * to_e + E[0, -1] * to_w + N[0, 0] * to_n + N[-1, 0] ** 2 * V[-1, 0]
            kept[:, :, 1] -= to_e * E[0, 1]
            kept[:, :, half - 1 + p] -= to_w * N[0, -1] + to_n * E[1, -1]
            kept[:, :, half + p] -= to_e * N[0, 1] + to_n * E[1, 0]
            kept[:, :, 2 * half] -= to_n * N[1, 0]

    def inflow(self, row: int, column: int) -> FloatArray:
        """What the four neighbours add: each coupling times the neighbour's value in the answer."""
        E, N, x = self.E[row, column], self.N[row, column], self.x[row, column]
        return E[0, 0] * x[0, 1] + E[0, -1] * x[0, -1] + N[0, 0] * x[1, 0] + N[-1, 0] * x[-1, 0]


class CheckerboardFactors:
    """Factors of one operator; they own their arrays until nobody holds them."""

    def __init__(self, solver: CheckerboardSolver, space: _Workspace) -> None:
        self._solver, self._space = solver, space

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve for one right-hand side of shape (rows, columns)."""
        solver, space = self._solver, self._space
        space.given[solver.cells] = right_hand_side.T if solver.transposed else right_hand_side
        np.multiply(space.given, space.inverse, out=space.found)
        b = np.empty((solver.shape[0], solver.half))
        for p in (0, 1):
            np.add(space.b[p, p][0, 0], space.inflow(p, p), out=b[p::2])
        x, info = solver.backsolve(space.band.T, b.ravel(), lower=1, overwrite_b=1)
        if info != 0:
            raise ArithmeticError(f"back substitution refused argument {-info}")
        x = x.reshape(b.shape)
        for p in (0, 1):
            space.x[p, p][0, 0][:] = x[p::2]
        for p in (0, 1):
            rest = space.b[p, 1 - p][0, 0] + space.inflow(p, 1 - p)
            np.multiply(space.V[p, 1 - p][0, 0], rest, out=space.x[p, 1 - p][0, 0])
        cells = space.found[solver.cells]
        return np.ascontiguousarray(cells.T) if solver.transposed else cells.copy()
