"""Units of material files: accepted spellings, conversion, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.errors import InputError
from nugget.materials.measures import UNITS, to_si

PAIRS = [(quantity, unit) for quantity, units in UNITS.items() for unit in units]


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "si"),
    [
        (20.0, "degC", "temperature", 293.15),
        (68.0, "degF", "temperature", 293.15),
        (100.0, "% IACS", "resistivity", 1.7241379e-8),
        (58.0, "MS/m", "resistivity", 1.7241379e-8),
        (58.0, "ohm cmil/ft", "resistivity", 9.642e-8),
        (6.93, "1e-8 ohm m", "resistivity", 6.93e-8),
        (0.47, "105 HV", "hardness", 0.47 * 105 * 9.80665e6),
        (0.106, "cal/(g K)", "heat_capacity", 443.504),
        (2.0, "um", "thickness", 2e-6),
    ],
)
def test_a_printed_value_becomes_si(value: float, unit: str, quantity: str, si: float) -> None:
    assert float(to_si(value, unit, quantity, "file: key")) == pytest.approx(si, rel=1e-4)


@pytest.mark.parametrize("spelling", ["W/(m K)", "W/m/K", "W/m K", "W/(m*K)", "W/(m·K)"])
def test_usual_spellings_of_one_unit_are_one_unit(spelling: str) -> None:
    assert float(to_si(70.0, spelling, "conductivity", "file: key")) == 70.0


@pytest.mark.parametrize("spelling", ["µohm cm", "micro-ohm cm", "uΩ cm"])
def test_micro_may_be_spelled_out(spelling: str) -> None:
    assert float(to_si(9.6, spelling, "resistivity", "file: key")) == pytest.approx(9.6e-8)


def test_a_unit_of_something_else_is_named_as_such() -> None:
    with pytest.raises(
        InputError, match=r"file: key: got 'W/\(m K\) \(a unit of conductivity\)', expected a unit of resist"
    ):
        to_si(1.0, "W/(m K)", "resistivity", "file: key")


def test_an_unknown_unit_is_answered_with_the_known_ones() -> None:
    with pytest.raises(InputError, match="got 'furlong', expected a unit of temperature: K, degC, degF"):
        to_si(1.0, "furlong", "temperature", "file: key")


@given(st.sampled_from(PAIRS), st.floats(0.01, 1e4), st.floats(0.01, 1e4))
def test_conversion_keeps_the_order_of_values_or_turns_all_of_it(
    pair: tuple[str, str], a: float, b: float
) -> None:
    quantity, unit = pair
    first, second = to_si([a, b], unit, quantity, "file: key")
    sign = -1.0 if UNITS[quantity][unit].inverse else 1.0
    assert np.sign(second - first) in (0.0, sign * np.sign(b - a))
