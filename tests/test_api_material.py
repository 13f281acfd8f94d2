"""Materials made in Python."""

from __future__ import annotations

import dataclasses
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pint
import pytest
from small import coarse

import nugget
from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.checks import check
from nugget.materials.material import Material
from nugget.materials.template import from_material

FEW: dict[str, Any] = {"resistivity": 1e-7, "density": 8800.0, "melting": (1300.0, 1400.0)}


def test_three_values_are_enough_and_the_rest_is_marked_estimated() -> None:
    metal = Material.constant("plain", **FEW)
    assert metal.density_kg_m3 == 8800.0
    assert (metal.solidus_K, metal.liquidus_K) == (1300.0, 1400.0)
    for T in (293.15, 900.0, 2000.0):
        assert float(metal.resistivity(T)) == 1e-7  # type: ignore[misc]
    for rule in ("conductivity", "heat_capacity", "hardness", "heat_of_fusion", "boiling"):
        assert rule in metal.estimated
    assert "resistivity" not in metal.estimated
    assert "density" not in metal.estimated
    assert metal.citations()["resistivity"].confidence == "unknown"
    verdicts = {verdict.topic: verdict.result for verdict in check(metal)}
    assert verdicts["Lorenz ratio"] == verdicts["enthalpy"] == verdicts["melting"] == "ok"


def test_what_is_given_is_kept_to_the_last_digit() -> None:
    given = 1.234567890123e-7
    metal = Material.constant(
        "plain",
        **FEW | {"resistivity": given},
        conductivity=61.23456789,
        heat_capacity=432.123456,
        hardness=0.987654321e9,
        heat_of_fusion=2.3456789e5,
        boiling=2987.654321,
        tensile_strength=3.5e8,
        source="a table",
    )
    assert float(metal.resistivity(700.0)) == given  # type: ignore[misc]
    assert float(metal.conductivity_z(700.0)) == 61.23456789
    assert float(metal.heat_capacity(700.0)) == 432.123456
    assert float(metal.hardness(700.0)) == 0.987654321e9  # type: ignore[misc]
    assert metal.heat_of_fusion_J_kg == 2.3456789e5
    assert metal.boiling_K == 2987.654321
    assert metal.tensile_strength_Pa == 3.5e8
    assert set(metal.estimated) == {"rate_exponent", "flow_stress"}
    assert metal.citations()["conductivity"].work == "a table"


@pytest.mark.parametrize(
    "resistivity", [7.2e-8, "7.2 uohm cm", pint.UnitRegistry().Quantity(7.2, "microohm * centimeter")]
)
def test_numbers_text_and_pint_are_the_same_quantity(resistivity: object) -> None:
    metal = Material.constant("plain", **FEW | {"resistivity": resistivity})
    assert float(metal.resistivity(500.0)) == pytest.approx(7.2e-8, rel=1e-12)  # type: ignore[misc]


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"resistivity": "13 kg/m3"}, "plain: resistivity"),
        ({"resistivity": -1e-7}, "plain: resistivity"),
        ({"resistivity": pint.UnitRegistry().Quantity(1.0, "volt")}, "plain: resistivity"),
        ({"density": float("nan")}, "plain: density"),
        ({"melting": (1400.0, 1300.0)}, "plain: melting"),
        ({"melting": (1.0, 2.0, 3.0)}, "plain: melting"),
        ({"boiling": 1350.0}, "material plain: boiling"),
        ({"composition": "Qq 100"}, "plain: composition"),
        ({"heat_capacity": None, "conductivity": "many"}, "plain: conductivity"),
    ],
)
def test_a_value_that_cannot_be_is_one_line_that_names_it(change: dict[str, Any], where: str) -> None:
    with pytest.raises(InputError, match=where) as caught:
        Material.constant("plain", **FEW | change)
    assert "\n" not in str(caught.value)
    assert "--" not in str(caught.value)


def test_a_name_that_no_setup_file_could_hold_is_refused() -> None:
    with pytest.raises(InputError, match="name of the material"):
        Material.constant("Plain Metal", **FEW)


def test_catalogue_values_follow_temperature_by_the_rules() -> None:
    bronze = Material.from_catalogue("bronze", **FEW, composition={"Cu": 0.94, "Zn": 0.06})
    assert bronze.resistivity is not None
    assert float(bronze.resistivity(293.15)) == pytest.approx(1e-7, rel=1e-4)
    assert float(bronze.resistivity(1200.0)) > 1.3e-7
    assert any(e.startswith("resistivity (") for e in bronze.estimated)
    with pytest.raises(InputError, match="density"):
        Material.from_catalogue("bronze", resistivity=1e-7, melting=(1300.0, 1400.0))


def test_a_file_is_read_with_its_checks(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text(from_material("nickel-200", "mine"), encoding="utf-8")
    mine, known = Material.from_file(path), Material.from_library("nickel-200")
    assert np.array_equal(mine.heat_capacity.value, known.heat_capacity.value)
    path.write_text("api = 1\n", encoding="utf-8")
    with pytest.raises(InputError, match=r"mine\.toml"):
        Material.from_file(path)


def test_a_layered_product_is_no_single_material(tmp_path: Path) -> None:
    path = tmp_path / "pair.toml"
    path.write_text(
        'api = 1\nkind = "layered"\nname = "pair"\ntitle = "pair"\nsource = "none"\nconfidence = "unknown"\n'
        '[[layer]]\nmaterial = "nickel"\nshare = 0.5\n[[layer]]\nmaterial = "copper"\nshare = 0.5\n',
        encoding="utf-8",
    )
    with pytest.raises(InputError, match="a single material"):
        Material.from_file(path)


def test_replacing_changes_what_it_names_and_nothing_else() -> None:
    nickel = library.get("nickel-200")
    soft = nickel.replace(name="soft", hardness=[(293.15, 6e8), (1700.0, 6e6)], melting="1400 to 1420 degC")
    assert soft.name == "soft"
    assert float(soft.hardness(293.15)) == 6e8  # type: ignore[misc]
    assert soft.solidus_K == pytest.approx(1673.15)
    assert soft.citations()["hardness"].confidence == "unknown"
    assert soft.citations()["melting_range"].confidence == "unknown"
    untouched = {f.name for f in dataclasses.fields(Material)} - {
        *("name", "hardness", "solidus_K", "liquidus_K", "scalar_citations", "estimated", "origin"),
        *("temper", "tempers"),
    }
    for field in untouched:
        assert getattr(soft, field) is getattr(nickel, field) or getattr(soft, field) == getattr(
            nickel, field
        )
    heavy = nickel.replace(density="9 g/cm3", source="weighed")
    assert heavy.density_kg_m3 == 9000.0
    assert heavy.citations()["density"].work == "weighed"


def test_what_was_estimated_is_no_longer_so_once_it_is_given() -> None:
    metal = Material.constant("plain", **FEW)
    known = metal.replace(heat_capacity=400.0, source="measured")
    assert "heat_capacity" in metal.estimated
    assert "heat_capacity" not in known.estimated
    assert known.citations()["heat_capacity"].confidence == "found"


@pytest.mark.parametrize(
    "change",
    [
        {"hardnes": 1.0},
        {"resistivity": [(300.0, 1e-7), (200.0, 2e-7)]},
        {"resistivity": [(300.0, 1e-7), (600.0, 2e-7)]},
        {"resistivity": []},
        {"conductivity": [1.0, 2.0]},
        {"boiling": 400.0},
        {"name": "Not This"},
    ],
)
def test_a_change_that_cannot_be_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(InputError):
        library.get("nickel-200").replace(**change)


def test_a_material_prints_in_a_few_lines_and_travels() -> None:
    metal = Material.constant("plain", **FEW)
    assert 2 <= len(repr(metal).splitlines()) <= 4
    assert len(repr(metal)) < 400
    again = pickle.loads(pickle.dumps(metal))
    assert float(again.resistivity(300.0)) == 1e-7


def test_a_weld_of_a_material_made_in_python_is_saved_with_it(tmp_path: Path) -> None:
    metal = Material.from_catalogue("bronze", **FEW, composition={"Cu": 0.94, "Zn": 0.06})
    setup = coarse("pulse.0.duration=0.1 ms")
    weld = nugget.simulate(setup.with_(strip__material=metal))
    assert weld.figures["hottest_K"] != nugget.simulate(setup).figures["hottest_K"]
    again = nugget.load_weld(weld.save(tmp_path / "weld.npz"))
    assert again.setup == weld.setup
    assert nugget.simulate(again.setup).figures == weld.figures
    assert again.setup.strip[0].material.estimated == metal.estimated


def test_materials_are_values_of_a_sweep() -> None:
    soft = library.get("nickel-200").replace(name="soft", hardness="60 HV")
    hard = soft.replace(name="hard", hardness="200 HV")
    setup = coarse("pulse.0.duration=0.05 ms")
    found = nugget.sweep(setup, {"strip.material": ["nickel-200", soft, hard]})
    assert found.fields[0].labels == ("nickel-200", "soft", "hard")
    diameter = found["contact_diameter_m"]
    assert diameter[1] > diameter[2]
