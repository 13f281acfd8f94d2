"""The widened edge of a contact: grows with the contact, never jumps, follows the shape of its cell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.contact import edge_correction
from nugget.contact.edge_correction import resolved_radius

WIDTH = 25e-6
EVEN = np.arange(41) * WIDTH
GRADED = np.concatenate([np.linspace(0.0, 0.2e-3, 11), 0.2e-3 * 1.06 ** np.arange(1, 30)])
aspects = st.floats(0.2, 3.0)


def extra(position: float, aspect: float) -> float:
    """Added radius in cell heights, for an edge at a position in the twelfth of even cells."""
    radius = (12.0 + position) * WIDTH
    return (resolved_radius(radius, EVEN, aspect * WIDTH) - radius) / (aspect * WIDTH)


@pytest.mark.parametrize(
    ("position", "aspect", "expected"),
    [(0.0, 1.0, 0.185), (0.5, 1.0, 0.202), (0.7, 0.35, 0.320), (0.3, 0.35, 0.139), (0.0, 2.0, 0.220)],
)
def test_rows_of_the_table_are_given_back(position: float, aspect: float, expected: float) -> None:
    """Of the table that validation/edge_table.py computes and validation/test_edge_table.py holds it to."""
    assert extra(position, aspect) == pytest.approx(expected, abs=1e-6)


def test_between_rows_it_goes_by_the_ratio_of_height_to_width() -> None:
    middle = extra(0.5, np.sqrt(0.7))
    assert middle == pytest.approx(0.5 * (extra(0.5, 0.7) + extra(0.5, 1.0)), abs=1e-6)


@pytest.mark.parametrize(("outside", "last"), [(0.1, 0.35), (5.0, 2.0)])
def test_cells_flatter_or_taller_than_the_table_take_its_last_row(outside: float, last: float) -> None:
    assert extra(0.6, outside) == pytest.approx(extra(0.6, last), abs=1e-6)


@given(share=st.floats(0.03, 0.99), step=st.floats(0.0, 0.02), aspect=aspects)
def test_it_grows_with_the_contact_and_never_jumps(share: float, step: float, aspect: float) -> None:
    """Also where the edge passes from one cell to the next, and where cells grow."""
    reach = 0.97 * float(GRADED[-1])
    radius = share * reach
    later = min(radius + step * reach, reach)
    height = aspect * 0.02e-3
    before, after = (resolved_radius(a, GRADED, height) for a in (radius, later))
    assert -1e-12 <= after - before <= 6.0 * (later - radius) + 1e-12


@given(cell=st.integers(1, 30), aspect=aspects)
def test_both_sides_of_a_face_agree(cell: int, aspect: float) -> None:
    face = float(EVEN[cell])
    inner, outer = (resolved_radius(face + nudge, EVEN, aspect * WIDTH) for nudge in (-1e-12, 1e-12))
    assert outer - inner == pytest.approx(0.0, abs=1e-11)


@given(cell=st.floats(2.0, 39.0), aspect=aspects)
def test_what_it_adds_is_less_than_half_a_cell(cell: float, aspect: float) -> None:
    radius = cell * WIDTH
    assert abs(resolved_radius(radius, EVEN, aspect * WIDTH) - radius) < 0.7 * min(aspect, 1.5) * WIDTH


def test_the_outer_face_of_the_grid_is_an_edge_like_any_other() -> None:
    assert resolved_radius(float(EVEN[-1]), EVEN, WIDTH) - EVEN[-1] == pytest.approx(0.185 * WIDTH, rel=1e-6)


def test_between_its_columns_the_table_is_as_scipy_has_it() -> None:
    from scipy.interpolate import PchipInterpolator

    table = PchipInterpolator(edge_correction._POSITION, edge_correction._EXTRA, axis=1)
    assert np.abs(edge_correction.smooth_rows() - table(edge_correction._FINE)).max() < 1e-12
