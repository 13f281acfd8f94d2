"""Repeated welds: two lumps that keep their heat, and the rest that keeps a limit."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.cli import followup_text as afterwards
from nugget.cli.main import main
from nugget.errors import InputError
from nugget.followup.repeated import Lumps, heat_left_J, lumps_of, repeat, rises, warmed
from nugget.setup import Setup, default_setup

FIGURES = {
    "weld_energy_J": 20.0,
    "holder_heat_J": 1.0,
    "tip_heat_J": 0.5,
    "air_heat_J": 0.1,
    "interior_peak_K": 310.0,
}
TIGHT = Lumps(0.4, 40.0, 0.15, 0.0, 0.0, 0.3)


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


def march(setup: Setup) -> Mapping[str, Any]:
    """A weld that heats the roll's top by 17 K from wherever it starts."""
    return {"interior_peak_K": setup.ambient_K + 17.0}


@given(st.floats(1.0, 50.0), st.integers(2, 20), st.floats(0.1, 100.0))
def test_without_air_every_joule_stays(heat_J: float, welds: int, rest_s: float) -> None:
    found = rises(TIGHT, heat_J, welds, rest_s)
    stored = found[:, 0] * TIGHT.base_J_K + found[:, 1] * TIGHT.cell_J_K
    assert stored == pytest.approx(heat_J * np.arange(welds + 1), rel=1e-9)


@given(st.floats(0.1, 50.0))
def test_a_longer_rest_never_warms_the_base(rest_s: float) -> None:
    leaky = Lumps(0.4, 40.0, 0.15, 2e-3, 4e-2, 0.3)
    short, long = rises(leaky, 18.0, 6, rest_s), rises(leaky, 18.0, 6, 1.5 * rest_s)
    assert long[:, 0].max() <= short[:, 0].max() + 1e-9
    assert np.all(np.diff(short[:, 0]) >= -1e-9)


def test_one_lump_alone_cools_exponentially() -> None:
    alone = Lumps(0.4, 1e9, 0.2, 0.0, 0.0, 0.3)
    after = rises(alone, 10.0, 1, 3.0)[1, 0]
    assert after == pytest.approx(25.0 * math.exp(-0.2 / 0.4 * 3.0), rel=1e-6)


def test_the_lumps_are_those_of_the_cell(setup: Setup) -> None:
    lumps = lumps_of(setup)
    steel, strip = setup.base[0], setup.strip[0]
    disc = math.pi * steel.radius_m**2 * steel.thickness_m * steel.material.density_kg_m3
    patch = 8e-3 * 2.0 * steel.radius_m * strip.thickness_m * strip.material.density_kg_m3
    assert lumps.base_J_K == pytest.approx(disc * 450.0 + patch * 445.0, rel=0.03)
    assert 40.0 < lumps.cell_J_K < 60.0  # an 18650 cell: 45 g at about 1 J/(g K)
    assert 0.05 < lumps.between_W_K < 0.5
    assert 0.1 < lumps.evens_out_s < 1.0
    larger = lumps_of(default_setup(["cell.size=21700"]))
    assert larger.cell_J_K > lumps.cell_J_K


def test_what_holders_tips_and_air_took_is_gone() -> None:
    assert heat_left_J(FIGURES) == pytest.approx(18.4)


def test_the_warmed_setup_starts_warm_and_keeps_its_holders(setup: Setup) -> None:
    warm = warmed(setup, 350.0)
    assert warm.ambient_K == pytest.approx(350.0)
    assert warm.electrode.holder_temperature_K == setup.electrode.holder_temperature_K


def test_each_weld_starts_from_what_the_others_left(setup: Setup) -> None:
    found = repeat(setup, FIGURES, 5, 2.0, march)
    assert found.base_K[0] == setup.ambient_K
    assert all(a < b for a, b in zip(found.base_K[:5], found.base_K[1:5], strict=False))
    assert found.peak_K is not None
    starts = np.array(found.base_K[:5]) - setup.ambient_K
    assert np.array(found.peak_K) == pytest.approx(310.0 + starts, abs=0.5)


def test_the_shortest_rest_just_keeps_the_limit(setup: Setup) -> None:
    found = repeat(setup, FIGURES, 8, 0.5, march)
    assert found.shortest_rest_s is not None
    assert found.limit_K is not None
    assert found.peak_K is not None
    assert max(found.peak_K) > found.limit_K
    again = repeat(setup, FIGURES, 8, found.shortest_rest_s, march)
    assert again.peak_K is not None
    assert max(again.peak_K) == pytest.approx(found.limit_K, abs=0.3)


def test_the_rest_is_never_shorter_than_the_lumps_can_tell(setup: Setup) -> None:
    little = {**FIGURES, "weld_energy_J": 2.0}
    enough = repeat(setup, little, 3, 2.0, march)
    assert enough.shortest_rest_s == enough.lumps.evens_out_s
    hot = {**FIGURES, "interior_peak_K": 500.0}
    assert repeat(setup, hot, 3, 2.0, march).shortest_rest_s is None


@pytest.mark.parametrize(
    ("overrides", "welds", "rest_s", "words"),
    [
        (["cell.kind=coupon"], 3, 2.0, "a cell, whose interior warms up"),
        (["cell.kind=empty can"], 3, 2.0, "a cell, whose interior warms up"),
        ([], 1, 2.0, "2 to 200 welds"),
        ([], 3, 0.0, "more than zero"),
    ],
)
def test_what_cannot_be_is_one_line(overrides: list[str], welds: int, rest_s: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        repeat(default_setup(overrides), FIGURES, welds, rest_s, march)


@pytest.mark.parametrize(
    ("argv", "words"),
    [
        (["--rest", "2 s"], "--rest: got 'no --spots'"),
        (["--spots", "1"], "spots: got 1"),
        (["--spots", "1000"], "2 to 200 welds"),
        (["--spots", "6", "--rest", "2 h"], "at most 3600 s"),
        (["--spots", "6", "--preset", "coupon"], "a cell, whose interior warms up"),
        (["--spots", "6", "--rest", "2"], "with its unit"),
        (["--service", "10 V"], "a current"),
        (["--service-heat", "1"], "--service-heat: got 'no --service'"),
        (["--service", "10 A", "--service-heat", "much"], "a number of watts"),
        (["--service", "-10 A"], "more than zero"),
    ],
)
def test_pulse_answers_bad_options_before_it_marches(
    argv: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["pulse", *argv]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert words in error


def test_welds_beyond_the_limit_are_not_listed(setup: Setup) -> None:
    found = repeat(setup, {**FIGURES, "weld_energy_J": 140.0}, 6, 0.5, march)
    assert found.peak_K is not None
    assert found.limit_K is not None
    within = sum(peak <= found.limit_K for peak in found.peak_K)
    assert within < 5
    weld = SimpleNamespace(setup=setup)
    text = list(afterwards._repeated(weld, found))  # type: ignore[arg-type]
    listed = [line for line in text if re.match(r"  \d", line)][1:]
    assert len(listed) == within + 1
    assert any("hotter still" in line for line in text)
