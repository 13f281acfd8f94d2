"""Errors for people: one clear line, and they travel home from worker processes."""

from __future__ import annotations

import math
import pickle
import tomllib
from pathlib import Path

import pytest

from nugget import constants
from nugget.errors import InputError, NuggetError, SolverError

ERRORS = [InputError("mine.toml: strip.width", "8 mn", "a length"), SolverError(3.2e-3, "no way on")]


def test_an_input_error_names_place_value_and_what_is_wanted() -> None:
    assert str(ERRORS[0]) == "mine.toml: strip.width: got '8 mn', expected a length"


def test_a_march_error_says_when_and_why() -> None:
    assert str(ERRORS[1]) == "the simulation stopped at 3.2 ms: no way on"


@pytest.mark.parametrize("error", ERRORS)
def test_errors_survive_the_way_home_from_a_worker(error: NuggetError) -> None:
    again = pickle.loads(pickle.dumps(error))
    assert type(again) is type(error)
    assert str(again) == str(error)
    assert vars(again) == vars(error)


@pytest.mark.parametrize("error", ERRORS)
def test_one_class_catches_them_all(error: NuggetError) -> None:
    with pytest.raises(NuggetError):
        raise error


def test_the_version_is_that_of_the_package() -> None:
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))
    assert project["project"]["version"] == constants.VERSION


def test_constants_follow_from_the_defined_ones() -> None:
    """Boltzmann and Avogadro constants and the elementary charge are exact in the SI of 2019."""
    boltzmann, charge, avogadro = 1.380649e-23, 1.602176634e-19, 6.02214076e23
    lorenz = math.pi**2 / 3.0 * (boltzmann / charge) ** 2
    assert pytest.approx(lorenz, rel=2e-3) == constants.LORENZ_V2_K2
    assert pytest.approx(boltzmann * avogadro, rel=1e-9) == constants.GAS_CONSTANT_J_MOL_K
    assert pytest.approx(25.0) == constants.REFERENCE_K - constants.ZERO_CELSIUS_K
