"""The fields as fast as this process has them: with kernels where they serve, otherwise with numpy."""

from __future__ import annotations

from nugget.compiled.seam import serve
from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.electric import ElectricField
from nugget.field.heat import HeatField
from nugget.field.linear import LinearSolver


def fastest_solver(rows: int, columns: int) -> LinearSolver:
    """A solver for a grid of so many rows and columns."""
    if serve():
        from nugget.field import compiled_solver

        return compiled_solver.fastest_solver(rows, columns)
    return CheckerboardSolver(rows, columns)


def kinds_of_field() -> tuple[type[ElectricField], type[HeatField]]:
    """The electric and the heat field, to be made alike."""
    if serve():
        from nugget.field.compiled_electric import CompiledElectricField
        from nugget.field.compiled_heat import CompiledHeatField

        return CompiledElectricField, CompiledHeatField
    return ElectricField, HeatField
