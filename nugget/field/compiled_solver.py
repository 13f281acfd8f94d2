"""The direct solver of `nugget.field.checkerboard` in machine code; imported where kernels serve."""

from __future__ import annotations

import weakref

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled import elimination
from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.linear import Factors, LinearSolver


def fastest_solver(rows: int, columns: int) -> LinearSolver:
    """A solver for a grid of so many rows and columns: beyond the widest panel LAPACK is as fast."""
    half_bandwidth = 2 * ((min(rows, columns) + 1) // 2)
    kind = CompiledSolver if half_bandwidth <= elimination.WIDEST else CheckerboardSolver
    return kind(rows, columns)


class CompiledSolver:
    """Solver for symmetric positive definite five-point operators on `rows` x `columns` cells."""

    def __init__(self, rows: int, columns: int) -> None:
        self.transposed = rows < columns
        slow, fast = (columns, rows) if self.transposed else (rows, columns)
        self.half = (fast + 1) // 2
        self.rim = slow + 2, 2 * self.half + 2
        self.unknowns, _, self.length = elimination.sizes(slow, self.half)
        self.panel = np.zeros(elimination.PIVOTS * elimination.PANEL)
        self.right = np.zeros(self.unknowns + elimination.PANEL)
        self.found = np.zeros(self.rim)
        self._spare: list[_Arrays] = []
        self.factorisations = 0

    def factor(self, diagonal: FloatArray, along_r: FloatArray, along_z: FloatArray) -> Factors:
        """See `nugget.field.linear.LinearSolver`."""
        inner, outer = along_r, along_z
        if self.transposed:
            diagonal, inner, outer = diagonal.T, along_z.T, along_r.T
        arrays = self._spare.pop() if self._spare else _Arrays(self)
        self.factorisations += 1
        if not elimination.factor(
            diagonal, inner, outer, arrays.east, arrays.north, arrays.inverse, arrays.band, self.panel
        ):
            self._spare.append(arrays)
            raise ArithmeticError("operator not positive definite")
        factors = CompiledFactors(self, arrays)
        weakref.finalize(factors, self._spare.append, arrays).atexit = False
        return factors


class _Arrays:
    """Arrays of one factorisation, used again once nobody holds its factors."""

    def __init__(self, solver: CompiledSolver) -> None:
        self.east, self.north, self.inverse = (np.zeros(solver.rim) for _ in range(3))
        room = np.empty(solver.length + elimination.LANES)
        # Blocks that lie across two lines of the processor's cache take twice as long.
        skipped = -(room.ctypes.data // room.itemsize) % elimination.LANES
        self.band = room[skipped : skipped + solver.length]


class CompiledFactors:
    """Factors of one operator; they own their arrays until nobody holds them."""

    def __init__(self, solver: CompiledSolver, arrays: _Arrays) -> None:
        self._solver, self._arrays = solver, arrays

    def solve(self, right_hand_side: FloatArray) -> FloatArray:
        """Solve for one right-hand side of shape (rows, columns)."""
        solver, arrays = self._solver, self._arrays
        given, answer = right_hand_side, np.empty(right_hand_side.shape)
        elimination.solve(
            *((given.T, answer.T) if solver.transposed else (given, answer)),
            arrays.east,
            arrays.north,
            arrays.inverse,
            arrays.band,
            solver.found,
            solver.right,
        )
        return answer
