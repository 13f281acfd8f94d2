"""Melt through the strip: the widest round hole that has room in it (manual, theory-joint)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.outcome.strip_through import NEARLY, THROUGH, hole_width

FACES = np.linspace(0.0, 1e-3, 201)
CENTRES = 0.5 * (FACES[1:] + FACES[:-1])
CELL_M = float(FACES[1])


def ring(inner_m: float, outer_m: float) -> np.ndarray:
    return np.where((inner_m < CENTRES) & (outer_m > CENTRES), 1.0, 0.3)


def test_a_ring_has_room_for_a_hole_as_wide_as_itself() -> None:
    assert hole_width(ring(0.2e-3, 0.35e-3), FACES) == pytest.approx(0.15e-3, abs=CELL_M)


@pytest.mark.parametrize("cells", [1, 2, 7])
def test_coarse_columns_count_whole(cells: int) -> None:
    """A ring that ends at faces of the grid is as wide as it is: never narrower than what has melted."""
    melt = np.zeros(10)
    melt[2 : 2 + cells] = 1.0
    assert hole_width(melt, np.linspace(0.0, 1e-3, 11)) == pytest.approx(cells * 1e-4)


def test_a_disc_has_room_for_all_of_itself() -> None:
    assert hole_width(ring(-1.0, 0.35e-3), FACES) == pytest.approx(0.7e-3, abs=2.0 * CELL_M)


def test_the_widest_of_several_counts() -> None:
    both = np.maximum(ring(-1.0, 0.02e-3), ring(0.2e-3, 0.35e-3))
    assert hole_width(both, FACES) == pytest.approx(0.15e-3, abs=CELL_M)
    assert hole_width(np.maximum(both, ring(0.6e-3, 0.9e-3)), FACES) == pytest.approx(0.3e-3, abs=CELL_M)


def test_melt_out_to_the_end_of_the_grid_counts_to_there() -> None:
    assert hole_width(ring(0.6e-3, 1.0), FACES) == pytest.approx(0.4e-3, abs=CELL_M)
    assert hole_width(np.ones(200), FACES) == pytest.approx(2.0 * FACES[-1])


def test_a_solid_strip_has_no_hole() -> None:
    assert hole_width(np.full(200, NEARLY), FACES) == 0.0


@given(st.lists(st.floats(0.0, 1.0), min_size=200, max_size=200), st.integers(0, 199))
def test_more_melt_never_has_less_room(shares: list[float], column: int) -> None:
    more = np.array(shares)
    more[column] = 1.0
    assert hole_width(more, FACES) >= hole_width(np.array(shares), FACES) - 1e-15


@given(inner=st.floats(0.1e-3, 0.4e-3), width=st.floats(0.05e-3, 0.4e-3), by=st.floats(0.0, 1e-6))
def test_it_moves_evenly_with_the_melt(inner: float, width: float, by: float) -> None:
    """A front that moves within a cell moves the answer within it: shares fall over two cells here."""

    def soft(outer: float) -> np.ndarray:
        rise, fall = (CENTRES - inner) / (2.0 * CELL_M), (outer - CENTRES) / (2.0 * CELL_M)
        return np.clip(np.minimum(rise, fall) + 0.5, 0.0, 1.0)

    first, then = (hole_width(soft(inner + width + more), FACES) for more in (0.0, by))
    assert then - first >= -1e-12
    # A share falls by a half in each cell, and a column comes to count in full over THROUGH - NEARLY of it.
    assert then - first <= by / (2.0 * (THROUGH - NEARLY)) + 1e-12
