"""The shape of a rounded tip."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.contact import dome


def test_hertz_is_the_printed_formula() -> None:
    """30 N by 3 mm on a plane modulus of 90 GPa: 0.75 x 30 x 3e-3 / 90e9 is 7.5e-13, its root 91 um."""
    assert dome.hertz_radius(30.0, 3e-3) == pytest.approx(9.086e-5, rel=1e-3)
    assert dome.hertz_radius(240.0, 3e-3) == pytest.approx(2.0 * dome.hertz_radius(30.0, 3e-3))


def test_the_larger_of_elastic_plastic_and_worn_flat_is_the_first_contact() -> None:
    soft, hard = 2e8, 4e9
    assert dome.first_radius(30.0, soft, 3e-3) == pytest.approx(math.sqrt(30.0 / (math.pi * soft)))
    assert dome.first_radius(30.0, hard, 3e-3) == dome.hertz_radius(30.0, 3e-3)
    assert dome.first_radius(30.0, hard, 3e-3, worn_flat_m=0.5e-3) == 0.25e-3


def test_flat_faces_that_are_given_one_spot_touch_in_one_place() -> None:
    assert dome.first_radius(30.0, 1e9, math.inf) == pytest.approx(math.sqrt(30.0 / (math.pi * 1e9)))


def test_a_dome_sinks_by_its_own_height() -> None:
    """Within the sphere's exact height: R - sqrt(R^2 - a^2)."""
    R, a = 3e-3, 0.35e-3
    assert dome.sinking(a, R) == pytest.approx(R - math.sqrt(R**2 - a**2), rel=1e-2)
    assert dome.sinking(a, R, worn_flat_m=2.0 * a) == 0.0
    assert dome.sinking(a, R, worn_flat_m=a) == pytest.approx(0.75 * dome.sinking(a, R))


@given(
    face=st.floats(0.4e-3, 1.5e-3),
    wider=st.floats(0.0, 2e-3),
    length=st.floats(1e-3, 2e-2),
    pieces=st.integers(1, 8),
)
def test_cylinders_have_length_and_nearly_the_volume_of_the_cone(
    face: float, wider: float, length: float, pieces: int
) -> None:
    found = dome.cone(face, face + wider, length, pieces)
    assert sum(height for height, _ in found) == pytest.approx(length)
    assert found[0][1] == face
    radii = [radius for _, radius in found]
    assert radii == sorted(radii)
    volume = sum(math.pi * r**2 * h for h, r in found)
    shank = face + wider
    exact = math.pi * length / 3.0 * (face**2 + face * shank + shank**2)
    # Half steps at both ends: off by a sixth of the square of the step.
    assert volume == pytest.approx(exact, abs=math.pi * length * (wider / pieces) ** 2 / 4.0 + 1e-15)
