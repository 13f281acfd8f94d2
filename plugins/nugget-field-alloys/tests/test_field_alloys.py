"""The package is found, its materials come from its own files, and their data pass the check."""

from __future__ import annotations

import pytest

from nugget import plugins
from nugget.materials import checks, discovery, library

ALLOYS = ["cuni-90-10", "phosphor-bronze-c519"]


def test_the_entry_point_is_found() -> None:
    assert "field-alloys" in plugins.names(plugins.MATERIALS)
    assert not discovery.catalogue().problems


@pytest.mark.parametrize("name", ALLOYS)
def test_an_alloy_comes_from_this_package_and_passes_its_check(name: str) -> None:
    alloy = library.get(name)
    assert alloy.origin == "plugin field-alloys of nugget-field-alloys 1.0.0"
    assert not [verdict for verdict in checks.check(alloy) if verdict.result == "fail"]


def test_room_temperature_values_are_those_of_the_data_sheets() -> None:
    bronze, cuni = library.get("phosphor-bronze-c519"), library.get("cuni-90-10")
    assert bronze.resistivity is not None
    assert cuni.resistivity is not None
    assert float(bronze.resistivity(293.15)) == pytest.approx(12.2e-8)
    assert float(bronze.conductivity_r(293.15)) == pytest.approx(65.8)
    assert float(cuni.resistivity(293.15)) == pytest.approx(19.1e-8)


def test_the_layered_strip_is_made_of_known_materials() -> None:
    layers = library.expand("nickel-plated-bronze", 0.15e-3)
    assert [name for name, _ in layers] == ["nickel", "phosphor-bronze-c519", "nickel"]
    assert all(library.get(name).name == name for name, _ in layers)
