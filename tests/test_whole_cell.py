"""Heat in the whole cell after its welds, against exact solutions."""

import dataclasses
import math

import numpy as np
import pytest

from nugget.whole_cell import Part, WholeCell, respond
from nugget.whole_cell.operator import assemble, build_grid

STORAGE, K = 3.6e6, 50.0
"""Steel, about [J/(m3 K)], [W/(m K)]."""
R, T = 9.1e-3, 0.3e-3


def disc(radius=R, thickness=T, film=0.0) -> WholeCell:
    return WholeCell((Part("wall", 0.0, radius, 0.0, thickness, STORAGE, K, K),), film)


def cell(film=0.0) -> WholeCell:
    height = 65e-3
    wall = Part("wall", 0.0, R, height - T, height, STORAGE, K, K)
    side = Part("side", 8.8e-3, R, 0.0, height - T, STORAGE, K, K)
    film_layer = Part("separator", 0.0, 8.8e-3, height - T - 1e-3, height - T, 2e6, 0.33, 0.33, 700.0)
    roll = Part("roll", 0.0, 8.8e-3, 0.0, height - T - 1e-3, 2.5e6, 1.0, 13.6)
    return WholeCell((wall, side, film_layer, roll), film)


def test_a_joule_spreads_over_a_wide_disc_as_in_the_plane():
    """Gaussian of variance p^2 + 4 alpha t before the rim is felt (Carslaw and Jaeger, from memory)."""
    patch, alpha, time = 0.5e-3, K / STORAGE, 0.1
    answer = respond(disc(20e-3), 5e-3, patch, refinement=2.0)
    for x, y in ((5e-3, 0.0), (5e-3, 2e-3), (7e-3, 0.0), (3e-3, -2e-3)):
        square = (x - 5e-3) ** 2 + y**2
        wide = patch**2 + 4.0 * alpha * time
        exact = math.exp(-square / wide) / (math.pi * wide * STORAGE * T)
        found = answer.rise("wall", math.hypot(x, y), math.atan2(y, x), np.array(time))
        assert float(found) == pytest.approx(exact, rel=0.02)


def test_heat_evens_out_over_an_insulated_disc_and_none_is_lost():
    answer = respond(disc(), 2.5e-3, 0.5e-3)
    even = 1.0 / (STORAGE * math.pi * R**2 * T)
    assert answer.faces["wall"][0][-1] == pytest.approx(even, rel=1e-6)
    assert answer.mean("wall", R) == pytest.approx(even, rel=1e-3)


def test_a_rod_warms_as_the_series_says():
    """A joule at one end of an insulated rod: 1 + 2 sum exp(-(n pi)^2 Fo) cos(n pi) at the other."""
    length = 20e-3
    rod = WholeCell(
        (
            Part("wall", 0.0, R, length - 0.1e-3, length, STORAGE, K, K),
            Part("rod", 0.0, R, 0.1e-3, length - 0.1e-3, STORAGE, K, K),
            Part("end", 0.0, R, 0.0, 0.1e-3, STORAGE, K, K),
        ),
        0.0,
    )
    answer = respond(rod, 0.0, 50.0 * R, ("end",))
    times = answer.times_s[answer.times_s > 1.0]
    fourier = (K / STORAGE) * times / length**2
    n = np.arange(1, 40)[:, None]
    exact = 1.0 + 2.0 * (np.exp(-((n * np.pi) ** 2) * fourier) * np.cos(n * np.pi)).sum(axis=0)
    found = answer.faces["end"][0][answer.times_s > 1.0][:, 0] * STORAGE * math.pi * R**2 * length
    assert found == pytest.approx(exact, abs=0.01)


def test_a_warm_cell_cools_to_air_as_a_lump():
    """With little film a disc is one lump: exp(-h A t / C)."""
    film = 10.0
    answer = respond(disc(film=film), 0.0, 0.5e-3)
    area, heat = 2.0 * math.pi * R**2 + 2.0 * math.pi * R * T, STORAGE * math.pi * R**2 * T
    late = answer.times_s > 5.0
    exact = np.exp(-film * area / heat * answer.times_s[late]) / heat
    assert answer.faces["wall"][0][late][:, 0] == pytest.approx(exact, abs=0.005 / heat)


@pytest.mark.parametrize("harmonic", [0, 1, 5])
def test_the_operator_is_symmetric_and_only_harmonics_and_air_take_heat(harmonic):
    one = cell()
    grid = build_grid(one)
    operator = assemble(one, grid, harmonic)
    assert abs(operator.stiffness - operator.stiffness.T).max() < 1e-12
    rows = operator.stiffness @ np.ones(len(operator.storage))
    if harmonic == 0:
        assert abs(rows).max() < 1e-9 * operator.stiffness.diagonal().max()
    else:
        assert (rows > 0.0).all()
    assert operator.storage.sum() == pytest.approx(sum(p.storage_J_m3K * p.volume_m3 for p in one.parts))


def test_a_bad_contact_keeps_the_inside_cool_longer():
    good = dataclasses.replace(cell().parts[2], conductance_below_W_m2K=None)
    parts = cell().parts
    touching = WholeCell((parts[0], parts[1], good, parts[3]), 0.0)
    worse = WholeCell(
        (dataclasses.replace(parts[0], conductance_below_W_m2K=200.0), *touching.parts[1:]), 0.0
    )
    at = np.array(0.2)
    rises = [
        respond(c, 0.0, 0.5e-3, ("separator",)).rise("separator", 0.0, 0.0, at) for c in (touching, worse)
    ]
    assert float(rises[1]) < 0.8 * float(rises[0])


def test_a_finer_grid_gives_the_same_answer():
    at = np.array([0.1, 0.5, 2.0, 20.0])
    coarse, fine = (respond(cell(10.0), 0.0, 0.7e-3, ("separator",), n) for n in (1.0, 2.0))
    for face in ("wall", "separator"):
        one, two = (a.rise(face, 0.0, 0.0, at) for a in (coarse, fine))
        assert one == pytest.approx(two, rel=0.05)
