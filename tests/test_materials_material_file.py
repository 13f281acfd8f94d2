"""Material files: what a good one becomes, and what is said about a bad one."""

from __future__ import annotations

from pathlib import Path

import pytest

from nugget.errors import InputError
from nugget.materials.layered import Layered
from nugget.materials.material import Material
from nugget.materials.material_file import build, read, read_all

SOURCE = 'source = "Smith, Handbook, table 1"\nconfidence = "found"'
GOOD = f"""
api = 1
name = "strip"
title = "Strip"
family = "metal"

[melting_range]
solidus = 1400
liquidus = 1450
unit = "degC"
{SOURCE}

[heat_of_fusion]
value = 290
unit = "kJ/kg"
{SOURCE}

[[density]]
temperature = "degC"
unit = "g/cm3"
rows = [[25, 8.9]]
{SOURCE}

[[heat_capacity]]
temperature = "K"
unit = "J/(kg K)"
rows = [[293.15, 440], [2000, 700]]
{SOURCE}

[[conductivity]]
temperature = "K"
unit = "W/(m K)"
rows = [[293.15, 70], [2000, 70]]
{SOURCE}

[[resistivity]]
temperature = "degC"
unit = "uohm cm"
rows = [[20, 9.6], [1400, 60]]
{SOURCE}

[[resistivity]]
temperature = "degC"
unit = "uohm cm"
rows = [[1450, 85], [2700, 100]]
source = "a rule"
confidence = "estimated"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "strip.toml"
    path.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def strip(tmp_path: Path) -> Material:
    found = read(write(tmp_path, GOOD))
    assert isinstance(found, Material)
    return found


def test_everything_arrives_in_si(strip: Material) -> None:
    assert strip.density_kg_m3 == pytest.approx(8900.0)
    assert strip.solidus_K == pytest.approx(1673.15)
    assert strip.heat_of_fusion_J_kg == pytest.approx(290e3)
    assert strip.resistivity is not None
    assert float(strip.resistivity(293.15)) == pytest.approx(9.6e-8)


def test_parts_of_a_table_join_and_the_weakest_confidence_stays(strip: Material) -> None:
    assert strip.resistivity is not None
    assert len(strip.resistivity.temperature_K) == 4
    assert strip.resistivity.citation.confidence == "estimated"
    assert strip.resistivity.citation.work == "Smith, Handbook, table 1; a rule"


def test_what_a_rule_supplied_is_named_with_its_temperatures(strip: Material) -> None:
    assert strip.estimated == ("resistivity (1673 to 2973 K)",)


def test_isotropic_material_shares_one_conductivity_curve(strip: Material) -> None:
    assert strip.conductivity_r is strip.conductivity_z


def test_every_property_has_its_citation(strip: Material) -> None:
    assert set(strip.citations()) >= {
        "resistivity",
        "conductivity",
        "heat_capacity",
        "density",
        "melting_range",
    }


def test_a_value_past_the_table_is_held(strip: Material) -> None:
    assert float(strip.heat_capacity(9000.0)) == 700.0


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("api = 1", "api = 2", "strip.toml: api: got 2, expected 1, the version"),
        ("api = 1", "", "api: got 'no api version', expected 1"),
        ("title", "titel", r"titel: got 'an unknown key'.*nearest: title"),
        ('title = "Strip"', "", "title: got 'nothing', expected this required key"),
        ("value = 290", "valeu = 290", r"heat_of_fusion.valeu: got 'an unknown key'.*nearest: value"),
        ("value = 290", 'value = "290"', "heat_of_fusion.value: got '290', expected a valid number"),
        ("value = 290", "value = -290", "heat_of_fusion.value: got -290.0, expected a value above zero"),
        ("value = 290", "value = nan", "heat_of_fusion.value: got nan, expected a finite number"),
        (
            'unit = "kJ/kg"',
            'unit = "kJ"',
            "heat_of_fusion.unit: got 'kJ', expected a unit of heat of fusion: J/kg",
        ),
        (
            "[20, 9.6], [1400, 60]",
            "[1400, 60], [20, 9.6]",
            r"resistivity\[1\].rows\[2\]: got 20.0, expected a temp",
        ),
        ("[1450, 85]", "[1390, 85]", r"resistivity\[2\].rows\[1\]: got 1390.0, expected a temperature above"),
        ("[20, 9.6]", "[20, -9.6]", r"resistivity\[1\].rows\[1\]: got -9.6, expected a value above zero"),
        ("[20, 9.6]", "[20, 9.6, 1]", r"resistivity\[1\].rows\[1\]: .* expected at most 2 values"),
        ("[20, 9.6]", "[-300, 9.6]", "above absolute zero"),
        (
            "solidus = 1400",
            "solidus = 1460",
            "melting_range.solidus: got 1460.0, expected less than the liquidus, 1450",
        ),
        (
            "[2000, 700]",
            "[1600, 700]",
            "heat_capacity: got 'a table that stops at 1600 K', expected rows up to the liq",
        ),
        (
            "[[conductivity]]",
            "[[conductivity_r]]",
            "got 'conductivity_r', expected either conductivity, or both",
        ),
        ('name = "strip"', 'name = "My Strip"', "name: got 'My Strip', expected"),
        (
            'confidence = "found"',
            'confidence = "sure"',
            "confidence: got 'sure', expected 'library', 'found', 'memory'",
        ),
        (SOURCE, 'confidence = "found"', "source: got 'nothing'"),
    ],
)
def test_a_mistake_is_named_with_file_key_and_what_is_allowed(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    assert old in GOOD
    with pytest.raises(InputError, match=message):
        read(write(tmp_path, GOOD.replace(old, new, 1)))


def test_all_mistakes_of_a_file_are_found_at_once(tmp_path: Path) -> None:
    text = GOOD.replace("[20, 9.6]", "[20, -9.6]").replace("solidus = 1400", "solidus = 1460")
    found, problems = read_all(write(tmp_path, text))
    assert found is None
    assert len(problems) == 2


def test_broken_toml_and_missing_files_are_input_errors(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="expected valid TOML"):
        read(write(tmp_path, "api = = 1"))
    with pytest.raises(InputError, match="expected a readable file"):
        read(tmp_path / "absent.toml")
    (tmp_path / "latin.toml").write_bytes(b"api = 1 # \xff")
    with pytest.raises(InputError, match="expected a UTF-8 text file"):
        read(tmp_path / "latin.toml")


def layered(*layers: dict[str, object]) -> tuple[object, list[InputError]]:
    head = {
        "api": 1,
        "kind": "layered",
        "name": "clad",
        "title": "Clad",
        "source": "x",
        "confidence": "unknown",
    }
    return build(head | {"layer": list(layers)}, "clad.toml", "test")


def test_fixed_layers_keep_their_thickness_and_shares_split_the_rest() -> None:
    found, _ = layered(
        {"material": "a", "thickness": "2 um"},
        {"material": "b", "share": 0.25},
        {"material": "c", "share": 0.75},
    )
    assert isinstance(found, Layered)
    assert found.split(102e-6) == (
        ("a", pytest.approx(2e-6)),
        ("b", pytest.approx(25e-6)),
        ("c", pytest.approx(75e-6)),
    )
    with pytest.raises(InputError, match="more than its 2 um of plating"):
        found.split(2e-6)


@pytest.mark.parametrize(
    ("layer", "message"),
    [
        ({"material": "a"}, "got 'neither', expected either thickness or share"),
        ({"material": "a", "thickness": "2 um", "share": 1.0}, "got 'both'"),
        ({"material": "a", "thickness": "2 K"}, "a unit of temperature"),
        ({"material": "a", "share": 0.5}, "shares that add up to 0.5"),
        ({"material": "a", "share": -1.0}, "a share above zero"),
    ],
)
def test_a_layer_rule_that_cannot_be_followed_is_refused(layer: dict[str, object], message: str) -> None:
    _, problems = layered(layer)
    assert message in str(problems[0])
