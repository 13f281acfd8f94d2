"""Text with a unit to SI floats and back."""

from __future__ import annotations

import math
import re
import subprocess
import sys
import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.units import DIMENSIONS, Unit, _powers, _registry, in_unit, spelling, to_si, to_text

SPELLINGS = [
    (dimension, name, unit) for dimension, one in DIMENSIONS.items() for name, unit in one.units.items()
]


TRADE = {"HV": "kgf/mm2", "HB": "kgf/mm2", "% IACS": "0.58 MS/m", "delta_degC": "K", "1": "m/m"}
"""What pint does not know, in units that it does."""


@pytest.mark.parametrize(("dimension", "name", "unit"), SPELLINGS)
def test_every_row_of_the_table_agrees_with_pint(dimension: str, name: str, unit: Unit) -> None:
    registry = _registry()
    number, _, bare = TRADE.get(name, name).rpartition("0.58 ")
    given = registry.parse_units(_powers(bare))
    si = registry.parse_units("" if dimension == "pure number" else _powers(DIMENSIONS[dimension].si))
    for value in (1.0, 30.0):
        by_pint = registry.Quantity(value * (0.58 if number or "IACS" in name else 1.0), given)
        found = (1.0 / by_pint if unit.inverse else by_pint).to(si).magnitude
        assert unit.to_si(value) == pytest.approx(found, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "expected"),
    [
        ("0.15 mm", "length", 0.15e-3),
        ("0.15mm", "length", 0.15e-3),
        ("  8   ms ", "time", 8e-3),
        (".5 kA", "current", 500.0),
        ("1e-12 ohm m2", "resistance times area", 1e-12),
        ("20 degC", "temperature", 293.15),
        ("-40 degC", "temperature", 233.15),
        ("68 degF", "temperature", 293.15),
        ("300 K", "temperature", 300.0),
        ("244 lbf", "force", 244 * 0.45359237 * 9.80665),
        ("6 mm^2", "area", 6e-6),
        ("0.1 dm", "length", 0.01),
        ("2 kiloohm", "resistance", 2000.0),
        ("7 mOhm", "resistance", 7e-3),
        ("7 mΩ", "resistance", 7e-3),
        ("0.6 µH", "inductance", 0.6e-6),
        ("20 °C", "temperature", 293.15),
        ("10 W/m²/K", "heat transfer coefficient", 10.0),
        ("10 W m-2 K-1", "heat transfer coefficient", 10.0),
        ("5 kgf", "force", 5 * 9.80665),
    ],
)
def test_quantities_read_as_people_write_them(text: str, dimension: str, expected: float) -> None:
    assert to_si(text, dimension) == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    ("text", "dimension", "message"),
    [
        ("", "length", "a length such as '8 mm'"),
        ("mm", "length", "a length such as '8 mm'"),
        ("8", "length", "a length with its unit, such as '8 mm'"),
        ("8 V", "length", "a length such as '8 mm': 'V' measures something else"),
        ("8 mn", "inductance", "an inductance such as '0.6 uH': 'mn' is not a known unit"),
        ("nan mm", "length", "a length such as '8 mm'"),
        ("inf s", "time", "a time such as '8 ms'"),
        ("1e999 mm", "length", "a finite length"),
        ("8 mm 3", "length", "a length such as '8 mm': 'mm 3' is not a known unit"),
        ("1,5 mm", "length", "a length such as '8 mm', with a decimal point instead of a comma"),
    ],
)
def test_a_refusal_says_what_would_do(text: str, dimension: str, message: str) -> None:
    with pytest.raises(ValueError, match=f"^{re.escape(message)}$"):
        to_si(text, dimension)


@pytest.mark.parametrize(
    "text",
    [
        "1 mm**9**9**9",
        "9**9**9 mm",
        "1 mm*9**9**8",
        "1 mm*(2**2**40)",
        "1 (mm)**9",
        f"1 {'m' * 100_000}",
        f"1 {'m*' * 2_000_000}m",
        "1 {mm}",
        "1 mm!",
        "١ mm",
        "1 __import__('os')",
        "1 m m",
        "1 m s",
        "1 % mm",
        "1 % ms",
    ],
)
def test_what_is_no_unit_is_refused_at_once(text: str) -> None:
    """Also what would be arithmetic for hours, what only looks like ``mm``, and a share of a unit."""
    start = time.process_time()
    for dimension in ("length", "time"):
        with pytest.raises(ValueError) as caught:  # noqa: PT011
            to_si(text, dimension)
        assert len(str(caught.value)) < 200
    assert time.process_time() - start < 5.0


def test_spellings_of_one_dimension_are_different_units() -> None:
    for one in DIMENSIONS.values():
        assert len({spelling(name) for name in one.units}) == len(one.units)


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(sorted(DIMENSIONS)))
def test_text_reads_back_to_the_same_float(value: float, dimension: str) -> None:
    assert to_si(to_text(value, dimension), dimension) == value


@given(st.floats(-1e6, 1e6), st.sampled_from(SPELLINGS))
def test_a_unit_undoes_its_factor(number: float, row: tuple[str, str, Unit]) -> None:
    dimension, name, unit = row
    if unit.inverse and number == 0.0:
        return
    try:
        si = to_si(f"{number!r} {name}", dimension)
    except ValueError:
        assert unit.inverse, "only one over next to nothing is no finite number"
        return
    assert in_unit(si, dimension, name) == pytest.approx(
        number, rel=1e-14, abs=1e-300 + 1e-12 * abs(unit.offset)
    )


@given(st.text(max_size=30), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_gives_a_finite_number_or_a_reason(text: str, dimension: str) -> None:
    for tried in (text, f"1 {text}"):
        try:
            found: float | str = to_si(tried, dimension)
        except ValueError as refusal:
            found = str(refusal)
        assert found if isinstance(found, str) else math.isfinite(found)


def test_common_units_do_not_load_pint() -> None:
    code = "import sys; from nugget.units import to_si; to_si('8 mm', 'length'); print('pint' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
