"""The banded solver against a dense one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.field.banded import BandedOperator

sizes = st.integers(1, 7)


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


@given(rows=sizes, columns=sizes, seed=st.integers(0, 1000))
def test_it_solves_what_a_dense_solver_solves(rows: int, columns: int, seed: int) -> None:
    """Tall, wide, single rows and single columns."""
    diagonal, along_r, along_z, dense = operator(rows, columns, seed)
    b = np.random.default_rng(seed + 1).random((rows, columns))
    band = BandedOperator(rows, columns)
    band.factor(diagonal, along_r, along_z)
    found = band.solve(b)
    assert found.shape == (rows, columns)
    assert found.ravel() == pytest.approx(np.linalg.solve(dense, b.ravel()), rel=1e-9)


def test_the_inputs_stay_as_they_are() -> None:
    diagonal, along_r, along_z, _ = operator(5, 3, 0)
    before = diagonal.copy(), along_r.copy(), along_z.copy()
    band, b = BandedOperator(5, 3), np.ones((5, 3))
    band.factor(diagonal, along_r, along_z)
    band.solve(b)
    assert (b == 1.0).all()
    for now, then in zip((diagonal, along_r, along_z), before, strict=True):
        assert (now == then).all()


def test_the_latest_factors_count() -> None:
    band, b = BandedOperator(4, 3), np.ones((4, 3))
    first, second = operator(4, 3, 1), operator(4, 3, 2)
    band.factor(*first[:3])
    one = band.solve(b)
    band.factor(*second[:3])
    band.factor(*first[:3])
    assert band.solve(b) == pytest.approx(one, rel=1e-14)
    assert band.factorisations == 3


def test_an_operator_that_is_not_positive_definite_is_refused() -> None:
    diagonal, along_r, along_z, _ = operator(4, 3, 0)
    with pytest.raises(ArithmeticError, match="not positive definite"):
        BandedOperator(4, 3).factor(-diagonal, along_r, along_z)
