"""Both linear solvers against a dense one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.linear import BandedSolver, SolverKind

sizes = st.integers(1, 7)
BOTH = pytest.mark.parametrize("kind", [CheckerboardSolver, BandedSolver])


def operator(rows: int, columns: int, seed: int) -> tuple[np.ndarray, ...]:
    """Random positive couplings, a diagonal that dominates, and the same as a dense matrix."""
    random = np.random.default_rng(seed)
    along_r, along_z = random.random((rows, columns - 1)), random.random((rows - 1, columns))
    number = np.arange(rows * columns).reshape(rows, columns)
    dense = np.zeros((rows * columns, rows * columns))
    for g, a, b in (
        *zip(along_r.ravel(), number[:, :-1].ravel(), number[:, 1:].ravel(), strict=True),
        *zip(along_z.ravel(), number[:-1].ravel(), number[1:].ravel(), strict=True),
    ):
        dense[a, b] = dense[b, a] = -g
    diagonal = -dense.sum(axis=1) + 0.1 + random.random(rows * columns)
    dense[np.diag_indices_from(dense)] = diagonal
    return diagonal.reshape(rows, columns), along_r, along_z, dense


@BOTH
@given(rows=sizes, columns=sizes, seed=st.integers(0, 1000))
def test_it_solves_what_a_dense_solver_solves(kind: SolverKind, rows: int, columns: int, seed: int) -> None:
    """Tall, wide, single rows and single columns."""
    diagonal, along_r, along_z, dense = operator(rows, columns, seed)
    b = np.random.default_rng(seed + 1).random((rows, columns))
    found = kind(rows, columns).factor(diagonal, along_r, along_z).solve(b)
    assert found.shape == (rows, columns)
    assert found.ravel() == pytest.approx(np.linalg.solve(dense, b.ravel()), rel=1e-9)


@BOTH
def test_the_inputs_stay_as_they_are(kind: SolverKind) -> None:
    diagonal, along_r, along_z, _ = operator(5, 3, 0)
    before, b = (diagonal.copy(), along_r.copy(), along_z.copy()), np.ones((5, 3))
    kind(5, 3).factor(diagonal, along_r, along_z).solve(b)
    assert (b == 1.0).all()
    for now, then in zip((diagonal, along_r, along_z), before, strict=True):
        assert (now == then).all()


@BOTH
def test_factors_outlive_later_ones(kind: SolverKind) -> None:
    solver, b = kind(4, 3), np.ones((4, 3))
    first, second = operator(4, 3, 1), operator(4, 3, 2)
    kept = solver.factor(*first[:3])
    one = kept.solve(b)
    for _ in range(3):
        solver.factor(*second[:3]).solve(b)
    assert (kept.solve(b) == one).all()
    assert solver.factorisations == 4


def test_arrays_of_forgotten_factors_serve_again() -> None:
    solver, (diagonal, along_r, along_z, _) = CheckerboardSolver(4, 3), operator(4, 3, 1)
    spaces = {id(solver.factor(diagonal, along_r, along_z)._space) for _ in range(5)}
    assert len(spaces) == 1


@BOTH
def test_an_operator_that_is_not_positive_definite_is_refused(kind: SolverKind) -> None:
    diagonal, along_r, along_z, _ = operator(4, 3, 0)
    with pytest.raises(ArithmeticError, match="not positive definite"):
        kind(4, 3).factor(-diagonal, along_r, along_z)
