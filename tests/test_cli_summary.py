"""Words of the report: units, limits, states, layouts that the default weld does not show."""

from __future__ import annotations

from typing import Any

import pytest

import nugget
from nugget.merit import amounts
from nugget.merit.limit import Limit
from nugget.outcome import report_rows
from nugget.outcome.registry import SECTIONS
from nugget.outcome.verdict import LimitResult
from nugget.outcome.weld import run_weld
from nugget.study.statement import judged_rows
from nugget.study.statement.chances import Chance

QUICK = [
    "numerics.refinement=0.4",
    "pulse.0.duration=1 ms",
    "numerics.tolerance=20 K",
    "leads.inductance=0 uH",
]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        (amounts.length(0.6921e-3), "0.69 mm"),
        (amounts.time(8.163e-3), "8.16 ms"),
        (amounts.time(0.11648), "116 ms"),
        (amounts.time(2.5), "2.5 s"),
        (amounts.time(None), "-"),
        (amounts.celsius(305.05), "31.9 °C"),
        (amounts.celsius(1381.15), "1108 °C"),
        (amounts.ampere(1429.02), "1429 A"),
        (amounts.joule(100.888), "100.9 J"),
        (amounts.joule(2.963), "2.96 J"),
        (amounts.newton(1085.4), "1085 N"),
        (amounts.share(0.176), "18 %"),
        (amounts.dose(1.35e-9), "1.4e-09"),
        (amounts.dose(0.0), "0"),
        (amounts.change(1.1, 1.0), "+10 %"),
        (amounts.change(1.0001, 1.0), "0 %"),
        (amounts.change(1.0, 0.0), ""),
    ],
)
def test_amounts_as_people_read_them(said: str, expected: str) -> None:
    assert said == expected


@pytest.mark.parametrize(
    ("key", "sense", "bound", "value", "words"),
    [
        ("interior_peak_K", "at most", 403.15, 305.15, ("32.0 °C", "130 °C", "+98 K")),
        ("interior_peak_K", "at most", 403.15, 413.15, ("140 °C", "130 °C", "-10 K")),
        ("interior_dose", "at most", 0.01, 1e-9, ("1.0e-09", "0.01", "+0.01")),
        ("can_penetration", "at most", 0.5, 0.75, ("75 %", "50 %", "-25 points")),
        ("load_share", "at least", 0.5, 0.9, ("90 %", "min 50 %", "+40 points")),
        ("expulsion", "never", 0.0, 1.0, ("yes", "never", "-")),
        ("peak_current_A", "at most", 1800.0, 1400.0, ("1400 A", "1800 A", "+400 A")),
        ("interior_peak_K", "at most", 403.15, None, ("-", "130 °C", "-")),
    ],
)
def test_each_limit_in_its_unit(
    key: str, sense: Any, bound: float, value: float | None, words: tuple[str, str, str]
) -> None:
    limit = Limit("mine", key, sense, bound, "source")
    judged = LimitResult(limit, value, limit.what.title)
    assert judged_rows.limit_words(judged) == words


@pytest.mark.parametrize(
    ("share", "low", "high", "words"),
    [
        (0.0, 0.0, 0.001, "under 1 %"),
        (0.14, 0.03, 0.25, "14 % (±11)"),
        (0.5, 0.5, 0.5, "50 % (±1)"),
        (0.0, 0.0, 0.05, "0 % (±2)"),
    ],
)
def test_a_chance_is_said_with_its_error(share: float, low: float, high: float, words: str) -> None:
    chance = Chance("x", "", "harm", share, low, high)
    assert judged_rows.chance_words(chance) == words
    assert judged_rows.chance_words(None) == "-"


def rows(*overrides: str, preset: str = "default") -> dict[str, str]:
    setup = nugget.preset(preset, [*QUICK, *overrides])
    figures = run_weld(setup).figures
    parts = [report_rows.section_rows(section, setup, figures) for section in SECTIONS]
    return {label: text for part in parts for label, text in part}


def test_a_coupon_has_a_back_face_and_no_interior() -> None:
    found = rows(preset="coupon")
    assert found["Welded to"].startswith("a bare sheet: 0.3 mm can-steel")
    assert "Back face" in found
    inside = {"Separator, top", "Jelly roll, top", "Decomposition dose", "Heat into the interior"}
    assert not inside & found.keys()


def test_indirect_welds_count_one_spot_and_the_return_tip() -> None:
    found = rows("arrangement.kind=indirect", "switch=none")
    assert "straight on the can, 5 mm apart" in found["Arrangement"]
    assert found["Energy drawn"].endswith("J per spot, return tip included")
    assert "Each switch device" not in found


def test_opposed_sheets_that_are_alike_share_a_row() -> None:
    found = rows("source.kind=constant current", "source.current=9 kA", preset="sheets")
    assert "Each sheet" in found
    assert "Wall" not in found
    assert found["Source"] == "constant current: current 9 kA"
    assert "Source voltage" not in found
    assert found["Energy into the weld"].endswith("J per spot")


def test_trains_and_levels_are_spelled_out() -> None:
    setup = nugget.default_setup(
        [
            "pulse.0.duration=2 ms",
            "pulse.0.cool_time=10 ms",
            "pulse.1.duration=5 ms",
            "strip.shunt_fraction=1",
        ]
    )
    found = dict(report_rows.welded_rows(setup))
    assert found["Pulse"] == "2 ms, cool time 10 ms, 5 ms"
    sheets = dict(report_rows.welded_rows(nugget.preset("sheets")))
    assert sheets["Pulse"] == "12 half cycles, 100 ms"
    assert "slot" not in found["Strip"]
    assert found["Welded to"].startswith("negative end of an 18650 cell: ")
