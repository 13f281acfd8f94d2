"""Rates, hot flow, tempers and composition from a material file, and what is said of a wrong one."""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any

import numpy as np
import pytest

from nugget.materials.material import Material
from nugget.materials.material_file import build
from nugget.materials.strength import CreepLaw, HotLaw, SinhLaw, StressRows

CITED = {"source": "this test", "confidence": "unknown"}
HOT_WORKING = {
    "factor": "1e15 1/s",
    "exponent": 4.3,
    "activation_energy": "400 kJ/mol",
    "inverse_stress": "0.012 1/MPa",
} | CITED


def strip() -> dict[str, Any]:
    return tomllib.loads((files("nugget.materials") / "data" / "nickel-200.toml").read_text("utf-8"))


def bare() -> dict[str, Any]:
    """A file that says nothing about rates, tempers, composition."""
    new = {"rate_exponent", "creep", "tempers", "temper", "seebeck", "composition"}
    return {key: value for key, value in strip().items() if key not in new}


def rows(rate: str, *rows: tuple[float, float], strain: float = 0.08) -> dict[str, Any]:
    listed = [[float(T), float(s)] for T, s in rows]
    return {"rate": rate, "strain": strain, "temperature": "K", "unit": "MPa", "rows": listed} | CITED


def made(data: dict[str, Any]) -> Material:
    found, problems = build(data, "my.toml", "test")
    assert not problems
    assert isinstance(found, Material)
    return found


def test_a_file_without_any_of_it_is_valid_and_estimated() -> None:
    found = made(bare())
    assert found.strength.estimated
    assert found.strength.hot is None
    assert {"rate_exponent", "flow_stress"} <= set(found.estimated)
    assert (found.seebeck, found.composition, found.tempers, found.temper) == (None, {}, (), None)


def test_a_zero_exponent_alone_means_no_rate() -> None:
    found = made(bare() | {"rate_exponent": {"value": 0.0} | CITED})
    assert not found.strength.estimated
    T = np.linspace(300.0, 1700.0, 50)
    assert np.array_equal(found.hardness_at(T, 1e4), found.hardness(T))  # type: ignore[misc]
    assert "flow_stress" not in found.estimated


def test_each_kind_of_hot_law_is_read_in_its_units() -> None:
    creep = made(strip()).strength.hot
    assert isinstance(creep, CreepLaw)
    assert (creep.activation_J_mol, creep.modulus_Pa, creep.burgers_m) == pytest.approx(
        (284e3, 78.9e9, 0.249e-9)
    )
    sinh = made(bare() | {"hot_working": HOT_WORKING}).strength.hot
    assert sinh == SinhLaw(1e15, 4.3, 400e3, pytest.approx(0.012e-6))
    parts = [rows("10 1/s", (900, 300)), rows("10 1/s", (1500, 80)), rows("100 1/s", (900, 400), (1500, 120))]
    table = made(bare() | {"flow_stress": parts}).strength.hot
    assert isinstance(table, StressRows)
    assert table.rates_1_s == (10.0, 100.0)
    assert table.stress_Pa(np.array(1500.0), np.array(10.0)) == pytest.approx(80e6)


def raised(law: HotLaw) -> float:
    """Flow stress near melting at 100 1/s over that at 10 1/s."""
    slow, fast = law.stress_Pa(np.array([1700.0, 1700.0]), np.array([10.0, 100.0]))
    return float(fast / slow)


def test_rows_at_one_rate_take_the_given_exponent_or_the_estimated_one() -> None:
    alone = bare() | {"flow_stress": [rows("10 1/s", (900, 300), (1700, 60))]}
    guess = made(alone).strength.hot
    assert isinstance(guess, StressRows)
    raised = guess.stress_Pa(np.array(1700.0), np.array(100.0)) / guess.stress_Pa(
        np.array(1700.0), np.array(10.0)
    )
    assert raised == pytest.approx(10**0.18, rel=0.01)
    exponent = {"temperature": "K", "unit": "1", "rows": [[900.0, 0.1], [1700.0, 0.3]]} | CITED
    given = made(alone | {"flow_exponent": [exponent]}).strength.hot
    assert given is not None
    raised = given.stress_Pa(np.array(1700.0), np.array(100.0)) / given.stress_Pa(
        np.array(1700.0), np.array(10.0)
    )
    assert raised == pytest.approx(10**0.3)


CREEP = strip()["creep"]
TEMPERS = strip()["tempers"]
WRONG: dict[str, tuple[dict[str, Any], str]] = {
    "two laws": ({"creep": CREEP, "hot_working": HOT_WORKING}, "hot_working: got 'creep and hot_working'"),
    "rate in another unit": (
        {"flow_stress": [rows("100 MPa", (900, 300))]},
        "flow_stress.rate: got '100 MPa (a unit of hardness)', expected a unit of rate: 1/s",
    ),
    "rates that fall": (
        {"flow_stress": [rows("100 1/s", (900, 300)), rows("10 1/s", (900, 200))]},
        "flow_stress.rate: got '10 1/s', expected rates in rising order",
    ),
    "a strain far from an indentation": (
        {"flow_stress": [rows("100 1/s", (900, 300), strain=0.7)]},
        "flow_stress.strain: got 0.7, expected 0.02 to 0.3",
    ),
    "creep without exponent": (
        {"creep": CREEP | {"exponent": 0.0}},
        "creep.exponent: got 0.0, expected a value above zero",
    ),
    "a modulus that falls below zero": (
        {"creep": CREEP | {"modulus_fall": 1.4}},
        "creep.modulus_fall: got 1.4, expected a share from 0 to below 1",
    ),
    "a melting point in the wrong unit": (
        {"creep": CREEP | {"melting": "726 K"}},
        "creep: got 'a stress that is zero or no number', expected constants that give",
    ),
    "rate exponent too large": (
        {"rate_exponent": {"value": 4.6} | CITED},
        "rate_exponent.value: got 4.6, expected an exponent from 0 to 0.5",
    ),
    "temper that is not there": (
        {"temper": "soft", "tempers": TEMPERS},
        "temper: got 'soft', expected one of its tempers: annealed, quarter-hard",
    ),
    "one temper twice": (
        {"tempers": [TEMPERS[0], TEMPERS[0]]},
        "tempers: got 'annealed', expected each name once",
    ),
    "composition that does not add up": (
        {"composition": {"mass_percent": {"Ni": 0.996}} | CITED},
        "composition.mass_percent: got '0.996 in all', expected mass percents",
    ),
    "misspelt constant": ({"creep": CREEP | {"burger": "1 nm"}}, "creep.burger: got 'an unknown key'"),
}


@pytest.mark.parametrize("slip", WRONG)
def test_a_wrong_key_is_named_with_what_was_given_and_what_is_expected(slip: str) -> None:
    changes, message = WRONG[slip]
    found, problems = build(bare() | changes, "my.toml", "test")
    assert found is None
    assert str(problems[0]).startswith("my.toml: " + message)


def test_flow_stress_needs_hardness_and_melting_beside_it() -> None:
    data = bare() | {"creep": CREEP}
    del data["hardness"]
    _, problems = build(data, "my.toml", "test")
    assert "expected a hardness table and a melting range beside it" in str(problems[0])
