"""One broken material file for each way to go wrong, and what is said about it."""

from __future__ import annotations

from pathlib import Path

import pytest

from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.material_file import read

BAD = Path(__file__).parent / "data" / "bad"

MESSAGES = {
    "rows_out_of_order": "resistivity[1].rows[3]: got 400.0, expected a temperature above that of the row",
    "negative_value": "resistivity[1].rows[3]: got -48.5, expected a value above zero",
    "missing_unit": "resistivity[1].unit: got 'nothing', expected this required key",
    "wrong_dimension": "resistivity[1].unit: got 'W/(m K) (a unit of conductivity)', expected a unit of",
    "solidus_above_liquidus": "melting_range.solidus: got 1453.0, expected less than the liquidus, 1446",
    "stops_before_melting": (
        "resistivity: got 'a table that stops at 1173.15 K', expected rows up to the liquidus, 1719.15 K"
    ),
    "unknown_api": "api: got 7, expected 1, the version that this nugget reads",
    "misspelt_key": "resistivty: got 'an unknown key', expected one of",
    "no_source": "density[1].source: got 'nothing', expected this required key",
    "infinite_value": "resistivity[1].rows[3][2]: got inf, expected a finite number",
    "huge_value": "resistivity[1].rows[3]: got [900.0, 1e+308], expected at most 1e+15 in SI units",
    "text_for_number": "heat_of_fusion.value: got '292 kJ/kg', expected a valid number",
    "row_of_three": "resistivity[1].rows[1]: got '[20, 9.6, 0.1]', expected at most 2 values",
    "other_name": "name: got 'someone-else', expected material_other_name, as the file is called",
    "malformed": "got \"Expected ']' at the end of a table declaration (at line 6",
    "code": "conductivity_rule: got 'an unknown key'",
}


@pytest.mark.parametrize("failure", MESSAGES)
def test_a_broken_file_is_named_with_key_given_and_allowed(failure: str) -> None:
    path = BAD / f"material_{failure}.toml"
    with pytest.raises(InputError) as caught:
        read(path)
    assert str(caught.value).startswith(str(path))
    assert MESSAGES[failure] in str(caught.value)


def test_every_broken_file_has_its_message() -> None:
    assert {path.stem.removeprefix("material_") for path in BAD.glob("material_*.toml")} == set(MESSAGES)


def test_a_duplicate_name_names_both() -> None:
    folder = BAD / "material_duplicate"
    with pytest.raises(InputError) as caught:
        library.get("nickel-200", [folder])
    assert f"two of that name, from {folder / 'nickel-200.toml'} and built-in" in str(caught.value)
    assert library.get("nickel-201", [folder]).name == "nickel-201"
