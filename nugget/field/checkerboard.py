"""Direct solver that eliminates every second cell by hand before the banded Cholesky."""

from __future__ import annotations

import weakref

import numpy as np

from nugget.arrays import FloatArray


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
        self._couplings = _from_each_side(self.east, self.north)
        self._neighbours = _beside(self.found)
        self._total, self._part = np.empty((2, shape[0], 2 * half))

    def eliminate(self, diagonal: FloatArray) -> None:
        """Fill the band with the operator of the cells that are kept.

        As in `inflow` all cells are worked out and every second one is taken.
        """
        half, (east, west, north, south) = self.half, self._couplings
        right, left, up, down = _beside(self.inverse)
        to_e, to_w, to_n = east * right, west * left, north * up
        lost = east * to_e + west * to_w + north * to_n + south**2 * down
        twice_e, twice_n = to_e * self.east[1:-1, 2:], to_n * self.north[2:, 1:-1]
        west_up = to_w * self.north[1:-1, :-2] + to_n * self.east[2:, :-2]
        east_up = to_e * self.north[1:-1, 2:] + to_n * self.east[2:, 1:-1]
        self.band[:] = 0.0
        grid = self.band.reshape(self.shape[0], half, 2 * half + 1)
        grid[1::2, :, 0] = 1.0  # where the shorter side is odd, every second row has a cell too many
        for p in (0, 1):
            kept, own = grid[p::2], diagonal[p::2, p::2]
            kept[:, : own.shape[1], 0] = own
            kept[:, :, 0] -= lost[p::2, p::2]
            kept[:, :, 1] -= twice_e[p::2, p::2]
            kept[:, :, 2 * half] -= twice_n[p::2, p::2]
            kept[:, :, half - 1 + p] -= west_up[p::2, p::2]
            kept[:, :, half + p] -= east_up[p::2, p::2]

    def inflow(self) -> FloatArray:
        """What the four neighbours add to each cell: each coupling times the neighbour's value in `found`.

        For all cells at once, as long strides and many calls cost more than the half that nobody needs.
        """
        (east, west, north, south), (right, left, up, down) = self._couplings, self._neighbours
        total, part = self._total, self._part
        np.multiply(east, right, out=total)
        total += np.multiply(west, left, out=part)
        total += np.multiply(north, up, out=part)
        total += np.multiply(south, down, out=part)
        return total


def _from_each_side(east: FloatArray, north: FloatArray) -> tuple[FloatArray, ...]:
    """Couplings of each cell with the neighbours east, west, north and south."""
    return east[1:-1, 1:-1], east[1:-1, :-2], north[1:-1, 1:-1], north[:-2, 1:-1]


def _beside(field: FloatArray) -> tuple[FloatArray, ...]:
    """What lies east, west, north and south of each cell."""
    return field[1:-1, 2:], field[1:-1, :-2], field[2:, 1:-1], field[:-2, 1:-1]


class CheckerboardFactors:
    """Factors of one operator; they own their arrays until nobody holds them."""

    def __init__(self, solver: CheckerboardSolver, space: _Workspace) -> None:
        self._solver, self._space = solver, space

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve for one right-hand side of shape (rows, columns)."""
        solver, space = self._solver, self._space
        space.given[solver.cells] = right_hand_side.T if solver.transposed else right_hand_side
        np.multiply(space.given, space.inverse, out=space.found)
        whole = space.inflow()
        whole += space.given[1:-1, 1:-1]
        b = np.empty((solver.shape[0], solver.half))
        for p in (0, 1):
            b[p::2] = whole[p::2, p::2]
        x, info = solver.backsolve(space.band.T, b.ravel(), lower=1, overwrite_b=1)
        if info != 0:
            raise ArithmeticError(f"back substitution refused argument {-info}")
        x = x.reshape(b.shape)
        found = space.found[1:-1, 1:-1]
        for p in (0, 1):
            found[p::2, p::2] = x[p::2]
        whole = space.inflow()
        whole += space.given[1:-1, 1:-1]
        whole *= space.inverse[1:-1, 1:-1]
        for p in (0, 1):
            found[p::2, 1 - p :: 2] = whole[p::2, 1 - p :: 2]
        cells = space.found[solver.cells]
        return np.ascontiguousarray(cells.T) if solver.transposed else cells.copy()
