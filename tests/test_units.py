"""Text with a unit to SI floats and back."""

from __future__ import annotations

import math
import re
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.units import DIMENSIONS, _by_pint, in_unit, to_si, to_text

SPELLINGS = [
    (dimension, unit, factor)
    for dimension, (_, _, factors) in DIMENSIONS.items()
    for unit, factor in factors.items()
    if unit != "degC"
]


@pytest.mark.parametrize(("dimension", "unit", "factor"), SPELLINGS)
def test_every_row_of_the_table_agrees_with_pint(dimension: str, unit: str, factor: float) -> None:
    unit_si, example, _ = DIMENSIONS[dimension]
    assert _by_pint(1.0, unit, dimension, unit_si, example) == pytest.approx(factor, rel=1e-12)


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


@given(st.floats(allow_nan=False, allow_infinity=False), st.sampled_from(sorted(DIMENSIONS)))
def test_text_reads_back_to_the_same_float(value: float, dimension: str) -> None:
    assert to_si(to_text(value, dimension), dimension) == value


@given(st.floats(-1e6, 1e6), st.sampled_from(SPELLINGS))
def test_a_unit_undoes_its_factor(number: float, row: tuple[str, str, float]) -> None:
    dimension, unit, _ = row
    si = to_si(f"{number!r} {unit}", dimension)
    assert in_unit(si, dimension, unit) == pytest.approx(number, rel=1e-14, abs=1e-300)


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
