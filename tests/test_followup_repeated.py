"""Repeated welds: heat of all earlier spots, and the rest that keeps a limit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from nugget.cli import followup_text as afterwards
from nugget.cli.main import main
from nugget.errors import InputError
from nugget.followup import cell_parts
from nugget.followup.cell_parts import whole_cell
from nugget.followup.repeated import SHORTEST_REST_S, Row, heat_left_J, repeat, warmed
from nugget.setup import Setup, default_setup, preset
from nugget.whole_cell import Part, WholeCell, respond

FIGURES = {
    "weld_energy_J": 20.0,
    "holder_heat_J": 1.0,
    "tip_heat_J": 0.5,
    "air_heat_J": 0.1,
    "interior_peak_K": 310.0,
}


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


def march(setup: Setup) -> Mapping[str, Any]:
    """A weld that heats the interior by 16.85 K from wherever it starts."""
    return {"interior_peak_K": setup.ambient_K + 16.85}


def test_what_holders_tips_and_air_took_is_gone() -> None:
    assert heat_left_J(FIGURES) == pytest.approx(18.4)


def test_the_warmed_setup_starts_warm_and_keeps_its_holders(setup: Setup) -> None:
    warm = warmed(setup, 350.0)
    assert warm.ambient_K == pytest.approx(350.0)
    assert warm.electrode.holder_temperature_K == setup.electrode.holder_temperature_K


@pytest.fixture(scope="module")
def row(setup: Setup) -> Row:
    return Row(setup, 4)


def test_the_whole_cell_is_that_of_the_setup(setup: Setup) -> None:
    cell = whole_cell(setup)
    wall, side = cell.wall, next(part for part in cell.parts if part.name == "side")
    assert wall.top_m == pytest.approx(65e-3)
    assert wall.storage_J_m3K == pytest.approx(7850.0 * 450.0, rel=0.05)
    assert side.top_m == wall.bottom_m  # joined at the negative end
    capacity = sum(part.storage_J_m3K * part.volume_m3 for part in cell.parts)
    assert 35.0 < capacity < 60.0  # an 18650 cell: 45 g at about 1 J/(g K)
    cap = whole_cell(preset("18650-positive"))
    side = next(part for part in cap.parts if part.name == "side")
    assert side.top_m < cap.wall.bottom_m  # apart at the positive one
    assert side.outer_m == pytest.approx(9.1e-3)


def test_a_size_is_as_tall_as_the_facts_say_whatever_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """A name is a name: a maker's size need not spell its height."""
    setup = default_setup()
    known = deepcopy(cell_parts.facts())
    known["size"][setup.file.cell.size]["height"]["value"] = "80 mm"
    monkeypatch.setattr(cell_parts, "facts", lambda: known)
    assert whole_cell(setup).wall.top_m == pytest.approx(80e-3)


def test_a_longer_rest_leaves_less(row: Row) -> None:
    short, long = row.rises(10.0, 0.5), row.rises(10.0, 5.0)
    for one, two in zip(short, long, strict=True):
        assert (two[1:] < one[1:]).all()


def test_heat_adds_up(row: Row) -> None:
    once, thrice = row.rises(5.0, 1.0), row.rises(15.0, 1.0)
    for one, three in zip(once, thrice, strict=True):
        assert three == pytest.approx(3.0 * one, rel=1e-9)
    assert once[0][0] == 0.0
    assert (np.diff(once[0][:4]) > 0.0).all()


def test_a_small_cap_warms_by_its_own_heat_capacity() -> None:
    """Ten seconds on, cap and strip hold nearly all of the heat of both spots."""
    setup = preset("18650-positive")
    cell = whole_cell(setup)
    own = sum(p.storage_J_m3K * p.volume_m3 for p in cell.parts if p.name in ("wall", "strip"))
    wall, _, rim = Row(setup, 2).rises(1.0, 3.0)
    assert wall[1] == pytest.approx(1.0 / own, rel=0.25)
    assert rim[0] > wall[1]


def test_each_weld_is_hotter_than_the_one_before(setup: Setup) -> None:
    found = repeat(setup, FIGURES, 3, 2.0, march)
    assert found.peak_K[0] == 310.0
    assert found.peak_K[0] < found.peak_K[1] < found.peak_K[2]
    assert found.apart_m == pytest.approx(2.5e-3)


def test_warmer_metal_that_heats_more_is_counted(setup: Setup) -> None:
    def worse(warm: Setup) -> Mapping[str, Any]:
        return {"interior_peak_K": 310.0 + 1.5 * (warm.ambient_K - setup.ambient_K)}

    plain, more = (repeat(setup, FIGURES, 3, 2.0, run) for run in (march, worse))
    excess = np.array(more.peak_K) - np.array(plain.peak_K)
    assert excess == pytest.approx(0.5 * (np.array(plain.wall_K[:3]) - setup.ambient_K), rel=1e-6)


def test_the_shortest_rest_just_keeps_the_limit(setup: Setup) -> None:
    hot = {**FIGURES, "weld_energy_J": 200.0}
    found = repeat(setup, hot, 3, 0.3, march)
    assert found.shortest_rest_s is not None
    (bound,) = found.bounds
    assert max(found.peak_K) > bound.limit_K
    again = repeat(setup, hot, 3, found.shortest_rest_s, march)
    assert max(again.peak_K) == pytest.approx(bound.limit_K, abs=0.5)


def test_no_rest_helps_a_weld_that_breaks_the_limit_alone(setup: Setup) -> None:
    hot = {**FIGURES, "interior_peak_K": 500.0}
    assert repeat(setup, hot, 2, 2.0, march).shortest_rest_s is None
    little = {**FIGURES, "weld_energy_J": 2.0}
    assert repeat(setup, little, 2, 2.0, march).shortest_rest_s == SHORTEST_REST_S


def test_an_inner_tab_keeps_none_of_the_earlier_heat_from_the_winding() -> None:
    """It is narrower than the row: beside it the disc lies against the wall, as without it."""
    plain, tab = (Row(preset(name), 2).rises(1.0, 2.0)[1] for name in ("default", "18650-inner-tab"))
    assert (tab[1:] >= 0.99 * plain[1:]).all()


def test_a_part_narrower_than_the_wall_is_read_past_its_rim() -> None:
    """The side of the can lies in the same rows of the grid."""
    steel = (3.6e6, 50.0, 50.0)
    parts = (
        Part("wall", 0.0, 9e-3, 1.0e-2, 1.03e-2, *steel),
        Part("cap", 0.0, 2e-3, 0.99e-2, 1.0e-2, *steel),
        Part("roll", 0.0, 8e-3, 0.0, 0.99e-2, *steel),
        Part("side", 8.5e-3, 9e-3, 0.0, 1.0e-2, *steel),
    )
    answer = respond(WholeCell(parts, 0.0), 0.0, 0.7e-3, ("cap",))
    after = np.array([0.5, 2.0])
    there, rim = (answer.rise("cap", r, 0.0, after) for r in (5e-3, 1.95e-3))
    assert there == pytest.approx(rim, rel=0.05)
    assert (there > 0.0).all()


def test_the_gasket_bounds_a_row_on_a_cap() -> None:
    """The winding behind the gas stays cool while the rim of the cap goes past what a gasket bears."""
    setup = preset("18650-positive")
    hot = {**FIGURES, "weld_energy_J": 4.6, "gasket_peak_K": 370.0}
    found = repeat(setup, hot, 2, 2.0, march)
    winding, gasket = found.bounds
    assert (winding.what, gasket.what) == ("the interior", "the gasket")
    assert winding.shortest_rest_s == SHORTEST_REST_S
    assert gasket.peak_K[0] >= 370.0
    assert gasket.peak_K[1] > gasket.limit_K
    assert found.shortest_rest_s == gasket.shortest_rest_s
    assert found.shortest_rest_s is not None
    assert found.shortest_rest_s > 5.0
    again = repeat(setup, hot, 2, found.shortest_rest_s, march)
    assert max(again.bounds[1].peak_K) == pytest.approx(gasket.limit_K, abs=0.5)
    text = "\n".join(afterwards._repeated(SimpleNamespace(setup=setup), found))  # type: ignore[arg-type]
    assert "the gasket below 120 °C in all of them" in text
    assert "interior in it" not in text


def test_no_rest_helps_what_the_first_weld_breaks_and_it_is_named() -> None:
    setup = preset("18650-film")
    found = repeat(setup, {**FIGURES, "film_peak_K": 1000.0}, 2, 2.0, march)
    assert found.shortest_rest_s is None
    text = "\n".join(afterwards._repeated(SimpleNamespace(setup=setup), found))  # type: ignore[arg-type]
    assert "No rest keeps electrolyte below the wall below 90.0 °C" in text


@pytest.mark.parametrize(
    ("overrides", "welds", "rest_s", "words"),
    [
        (["cell.kind=coupon"], 3, 2.0, "a cell, whose interior warms up"),
        (["cell.kind=empty can"], 3, 2.0, "a cell, whose interior warms up"),
        ([], 1, 2.0, "2 to 200 welds"),
        ([], 3, 0.01, "0.1 s to 3600 s"),
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
        (["--spots", "6", "--rest", "2 h"], "0.1 s to 3600 s"),
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
    found = repeat(setup, {**FIGURES, "weld_energy_J": 200.0}, 4, 0.3, march)
    (bound,) = found.bounds
    within = sum(peak <= bound.limit_K for peak in found.peak_K)
    assert within < 3
    weld = SimpleNamespace(setup=setup)
    text = list(afterwards._repeated(weld, found))  # type: ignore[arg-type]
    listed = [line for line in text if re.match(r"  \d", line)][1:]
    assert len(listed) == within + 1
    assert any("hotter still" in line for line in text)
