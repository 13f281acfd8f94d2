"""The package's table of contact edges is what its generator computes, and that is right."""

from __future__ import annotations

import numpy as np
import pytest

from nugget.contact.edge_correction import resolved_radius
from validation.edge_table import ASPECTS, CELLS, POSITIONS, extra
from validation.peers.contact_edge import reach
from validation.peers.tube import covered, five_point, psi
from validation.readers import rows

FACES = np.arange(4.0 * CELLS)


def package(position: float, aspect: float) -> float:
    """What the package adds, in cell heights, on even cells of unit width."""
    radius = CELLS + position
    return (resolved_radius(radius, FACES, aspect) - radius) / aspect


def test_the_package_holds_the_table_that_was_written() -> None:
    for row, aspect in zip(rows("contact_edge"), ASPECTS, strict=True):
        for position in POSITIONS[:-1]:  # the last is the first of the next cell
            assert package(position, aspect) == pytest.approx(float(row[f"{position:g}"]), abs=1e-6)


@pytest.mark.parametrize(("position", "aspect"), [(0.0, 1.0), (0.65, 1.0), (0.3, 1.4), (0.5, 2.0)])
def test_the_generator_gives_the_table_again(position: float, aspect: float) -> None:
    assert package(position, aspect) == pytest.approx(extra(position, aspect), abs=6e-4)


def test_other_fineness_gives_nearly_the_same() -> None:
    """A table that belonged to 12 cells per radius alone would not serve a growing contact."""
    assert extra(0.3, 1.0, 8) == pytest.approx(extra(0.3, 1.0, 16), abs=0.01)


def test_without_the_extra_radius_the_resistance_is_too_high() -> None:
    faces, radius = np.arange(33.0), 8.5
    wanted = 32.0 / (np.pi * 32.0**2) + psi(radius / 32.0) / (4.0 * radius)
    plain = five_point(covered(radius, faces), 1.0, 32) / wanted - 1.0
    mended = five_point(covered(reach(radius, faces, 1.0), faces), 1.0, 32) / wanted - 1.0
    assert plain > 0.01
    assert abs(mended) < 1e-3
