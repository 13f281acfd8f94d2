"""Faces between cells: areas of rings and cylinders, closed where there is air."""

from __future__ import annotations

import math

import numpy as np
import pytest
from small import column_grid, matter

from nugget.field.faces import Faces

GRID = column_grid([("tip", matter(), [0.0, 1e-3, 3e-3])], r_faces=[0.0, 1e-3, 3e-3])
WHOLE = slice(None)


def test_areas_and_half_lengths() -> None:
    faces = Faces.of(GRID, GRID.active, WHOLE, WHOLE)
    assert faces.half_r == pytest.approx(np.array([[0.5e-3, 1e-3]]))
    assert faces.half_z == pytest.approx(np.array([[0.5e-3], [1e-3]]))
    assert faces.plane == pytest.approx([math.pi * 1e-6, math.pi * 8e-6])
    assert faces.area_z == pytest.approx(faces.plane[None, :])
    assert faces.area_r[:, 0] == pytest.approx([2.0 * math.pi * 1e-3 * 1e-3, 2.0 * math.pi * 1e-3 * 2e-3])


def test_faces_towards_air_are_closed() -> None:
    member = np.array([[True, True], [True, False]])
    faces = Faces.of(GRID, member, WHOLE, WHOLE)
    assert faces.area_r[0, 0] > 0.0
    assert faces.area_r[1, 0] == 0.0
    assert faces.area_z[0, 0] > 0.0
    assert faces.area_z[0, 1] == 0.0


def test_a_block_is_cut_out_of_the_whole() -> None:
    block = Faces.of(GRID, GRID.active, slice(1, 2), slice(0, 2))
    whole = Faces.of(GRID, GRID.active, WHOLE, WHOLE)
    assert block.area_r == pytest.approx(whole.area_r[1:])
    assert block.half_z == pytest.approx(whole.half_z[1:])
    assert block.area_z.shape == (0, 2)
