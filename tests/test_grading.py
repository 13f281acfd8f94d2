"""Graded faces along one axis."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.grading import graded_faces

gaps = st.lists(st.floats(1e-5, 5e-3), min_size=1, max_size=5)


def spacing(x: np.ndarray) -> np.ndarray:
    return 2e-5 + 0.1 * np.abs(x)


@given(gaps=gaps, refinement=st.floats(0.25, 4.0))
def test_every_mark_is_a_face_and_faces_ascend(gaps: list[float], refinement: float) -> None:
    marks = np.concatenate([[0.0], np.cumsum(gaps)])
    faces = graded_faces(list(marks), spacing, refinement)
    assert (np.diff(faces) > 0.0).all()
    assert set(marks) <= set(faces), "to the last bit, so that layers end where they should"


@given(gaps=gaps, refinement=st.floats(0.25, 4.0))
def test_cells_keep_below_the_wanted_spacing(gaps: list[float], refinement: float) -> None:
    faces = graded_faces(list(np.concatenate([[0.0], np.cumsum(gaps)])), spacing, refinement)
    # Within a cell the wanted spacing changes: its largest value bounds the cell.
    assert (np.diff(faces) <= spacing(faces[1:]) / refinement * (1.0 + 1e-3)).all()


def test_even_spacing_gives_even_cells() -> None:
    faces = graded_faces([0.0, 1.0], lambda x: np.full_like(x, 0.25))
    assert faces == pytest.approx([0.0, 0.25, 0.5, 0.75, 1.0])


def test_a_refined_grid_halves_every_cell() -> None:
    """The count doubles and the shape stays: convergence studies compare like with like."""
    coarse = graded_faces([0.0, 1e-3], lambda x: 1e-3 / 24.0 * (1.0 + x / 1e-3), 1.0)
    fine = graded_faces([0.0, 1e-3], lambda x: 1e-3 / 24.0 * (1.0 + x / 1e-3), 2.0)
    ratio = np.diff(fine)[: 2 * (len(coarse) - 1)].max() / np.diff(coarse).max()
    assert len(fine) - 1 == pytest.approx(2 * (len(coarse) - 1), abs=1)
    assert ratio == pytest.approx(0.5, abs=0.05)


def test_neighbours_differ_smoothly() -> None:
    cells = np.diff(graded_faces([0.0, 5e-3], spacing))
    assert (cells[1:] / cells[:-1] < 1.11).all()
    assert (cells[1:] >= cells[:-1] * (1.0 - 1e-6)).all()
