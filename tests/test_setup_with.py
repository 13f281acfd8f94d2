"""A setup never changes; another one is made from it by `with_`, and nothing gets past the checks."""

from __future__ import annotations

import dataclasses
import pickle
from typing import Any

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.material import Material
from nugget.setup import Setup, default_setup, load_setup, preset
from nugget.setup.description import Pulse
from nugget.setup.quantity import Quantity

SETUP = default_setup()
UNITS: Any = pint.UnitRegistry()


def bronze(name: str = "bronze", resistivity: float = 1.2e-7) -> Material:
    return Material.constant(
        name, resistivity=resistivity, density=8800.0, melting=(1150.0, 1270.0), hardness=9e8
    )


def test_it_cannot_be_changed_in_place() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        SETUP.force_N = 60.0  # type: ignore[misc]
    with pytest.raises(ValidationError):
        SETUP.file.electrode.force = SETUP.file.electrode.force
    with pytest.raises(TypeError):
        SETUP.file.limits["expulsion"] = SETUP.file.limits["can_penetration"]
    with pytest.raises(TypeError):
        SETUP.held_materials["copper"] = bronze()  # type: ignore[index]
    tree = SETUP.document()
    tree["electrode"]["force"] = "60 N"
    assert SETUP.document()["electrode"]["force"] == "30 N"


def test_replace_has_no_way_past_the_checks() -> None:
    with pytest.raises(TypeError):
        dataclasses.replace(SETUP, force_N=-5.0)
    for force_N in (-5.0, float("nan"), 0.0):
        with pytest.raises(InputError, match="force_N"):
            dataclasses.replace(SETUP.si, force_N=force_N)
    with pytest.raises(InputError, match="thickness_m"):
        dataclasses.replace(SETUP.strip[0], thickness_m=0.15)
    electrode = SETUP.file.electrode
    for force in (Quantity(-5.0, "-5 N"), Quantity(float("nan"), "30 N")):
        unchecked = SETUP.file.model_copy(update={"electrode": electrode.model_copy(update={"force": force})})
        with pytest.raises(InputError, match="force_N"):
            Setup(unchecked)


@pytest.mark.parametrize(
    "value", ["60 N", 60.0, 60, np.float64(60.0), UNITS.Quantity(60.0, "N"), UNITS.Quantity(0.06, "kN")]
)
def test_a_quantity_in_any_form(value: object) -> None:
    changed = SETUP.with_({"electrode.force": value})
    assert changed.force_N == changed.get("electrode.force") == 60.0
    assert changed == SETUP.with_(electrode__force=60.0)
    assert SETUP.force_N == 30.0


def test_temperatures_of_pint_mind_their_zero() -> None:
    assert SETUP.with_(ambient__temperature=UNITS.Quantity(25.0, "degC")).ambient_K == 298.15
    assert SETUP.with_(ambient__temperature=298.15).ambient_K == 298.15


def test_limits_take_numbers_in_si_units() -> None:
    changed = SETUP.with_({"limits.interior_temperature": 380.0, "limits.can_penetration": 0.4})
    values = {limit.id: limit.value for limit in changed.limits}
    assert (values["interior_temperature"], values["can_penetration"]) == (380.0, 0.4)
    assert changed.get("limits.interior_temperature") == 380.0
    off = SETUP.with_({"limits.interior_temperature": None})
    assert "interior_temperature" not in {limit.id for limit in off.limits}


def test_a_list_of_pulses() -> None:
    pulses = [Pulse(1e-3, cool_time_s=4e-3), {"duration": 2e-3, "upslope": "0 ms"}, {"duration": "3 ms"}]
    changed = SETUP.with_({"pulse": pulses})
    assert [pulse.duration_s for pulse in changed.train] == [1e-3, 2e-3, 3e-3]
    assert changed.train[0].cool_time_s == 4e-3


def test_a_material_made_in_python_stands_for_its_name() -> None:
    changed = SETUP.with_({"strip.material": bronze()})
    assert changed.strip[0].material is changed.held_materials["bronze"]
    again = changed.with_({"electrode.force": "40 N"})
    assert again.strip[0].material is changed.strip[0].material
    assert again.with_({"cell.wall_material": "bronze"}).base[0].material is changed.strip[0].material
    layers = [{"material": bronze(), "thickness": 0.1e-3}, {"material": "nickel-200", "thickness": "50 um"}]
    assert [layer.material.name for layer in SETUP.with_({"strip.layers": layers}).strip] == [
        "bronze",
        "nickel-200",
    ]


def test_two_materials_of_one_name_are_refused_by_name() -> None:
    nickel = library.get("nickel-200")
    assert nickel.resistivity is not None
    other = dataclasses.replace(
        nickel, resistivity=dataclasses.replace(nickel.resistivity, value=2.0 * nickel.resistivity.value)
    )
    alone = SETUP.with_({"strip.material": other})
    assert alone.strip[0].material is other
    both = SETUP.with_({"cell.wall_material": "nickel-200"})
    with pytest.raises(InputError, match=r"strip.material: got .*'nickel-200'.* of cell.wall_material"):
        both.with_({"strip.material": other})
    with pytest.raises(InputError, match="another material 'nickel-200'"):
        SETUP.with_({"strip.material": nickel, "cell.wall_material": other})
    with pytest.raises(InputError, match=r"material nickel-200: got .*different data"):
        dataclasses.replace(both.si, strip=(dataclasses.replace(both.strip[0], material=other),))
    with pytest.raises(InputError, match="of leads"):
        SETUP.with_({"strip.material": dataclasses.replace(other, name="copper")})


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"electrode.force": -5.0}, "electrode.force: got -5.0, expected a force between 0.1 N"),
        ({"electrode.force": "60 mm"}, "electrode.force: got '60 mm', expected a force"),
        ({"electrode.force": UNITS.Quantity(1.0, "mm")}, "electrode.force: got "),
        ({"electrode.force": float("nan")}, "electrode.force: got nan, expected a force between"),
        ({"electrode.force": True}, "electrode.force: got True, expected a force"),
        ({"electrode.farce": 60.0}, "electrode.farce: got 60.0, expected a known key; the nearest is"),
        ({"electrode..force": 60.0}, "field: got 'electrode..force', expected a path"),
        ({"strip.thickness": 0.15}, "strip.thickness: got 0.15, expected a length between"),
        ({"strip.material": "cheese"}, "strip.material: got 'cheese', expected"),
        ({"limits.supported_force": 0.5}, "limits.supported_force: got 0.5, expected a known key"),
        ({"contact.radius_factor": float("inf")}, "contact.radius_factor: got inf"),
        ({"materials": ["absent.toml"]}, "materials: got "),
        ({"electrode.force": Quantity(60.0, "30 N")}, "electrode.force: got "),
    ],
)
def test_what_cannot_be_is_one_line(changes: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError) as caught:
        SETUP.with_(changes)
    assert str(caught.value).startswith(says)
    assert "\n" not in str(caught.value)


def test_what_follows_follows_and_what_was_stated_stays() -> None:
    stated = SETUP.with_({"contact.stand_off": "7 um", "limits.can_penetration": 0.4})
    larger = stated.with_({"cell.size": "26650", "strip.thickness": 0.2e-3})
    assert larger.base == preset("26650-negative").base
    assert larger.joint.minimum_diameter_m == pytest.approx(0.8e-3)
    assert larger.contact.stand_off_m == stated.contact.stand_off_m
    assert larger.get("limits.can_penetration") == 0.4


@given(st.floats(0.1, 1e5), st.floats(1e-7, 1e-4), st.floats(213.15, 400.0))
def test_a_number_stays_the_number(force_N: float, film_m: float, ambient_K: float) -> None:
    changes = {
        "electrode.force": force_N,
        "contact.faying_radius_allowance": film_m,
        "ambient.temperature": ambient_K,
    }
    for setup in (SETUP.with_(changes), Setup.from_document(SETUP.with_(changes).document())):
        assert (setup.force_N, setup.contact.faying_radius_allowance_m, setup.ambient_K) == (
            force_N,
            film_m,
            ambient_K,
        )


def test_numbers_are_written_as_people_write_them() -> None:
    electrode = SETUP.with_({"electrode.face_diameter": 1.2e-3, "electrode.force": 60.0}).document()[
        "electrode"
    ]
    assert (electrode["face_diameter"], electrode["force"]) == ("1.2 mm", "60 N")


def test_a_number_of_what_follows_from_others() -> None:
    assert SETUP.get("joint.minimum_diameter") == SETUP.joint.minimum_diameter_m
    assert SETUP.get("leads.resistance") == SETUP.circuit.lead_ohm
    assert SETUP.get("force") == 30.0, "the end of a path will do"
    assert SETUP.get("pulse.0.half_cycles") is None
    with pytest.raises(InputError, match=r"the nearest is electrode.force"):
        SETUP.get("electrode.farce")


def test_an_override_within_a_list_that_another_set_changes_that_list() -> None:
    """It went over the list of the setup below, and what the first had said was gone without a word."""
    two = 'pulse=[{ duration = "3 ms" }, { duration = "2 ms" }]'
    setup = default_setup([two, "pulse.0.cool_time=1 ms", "pulse.2.duration=4 ms"])
    assert [one.duration_s for one in setup.train] == pytest.approx([3e-3, 2e-3, 4e-3])
    assert [one.cool_time_s for one in setup.train] == pytest.approx([1e-3, 0.0, 0.0])
    longer = setup.with_({"pulse": [setup.train[1]], "pulse.0.duration": 5e-3})
    assert [one.duration_s for one in longer.train] == [5e-3]
    with pytest.raises(InputError, match="override pulse: got 3, expected an index from 0 to 2"):
        default_setup([two, "pulse.3.duration=1 ms"])


def test_overrides_as_text_as_a_list_or_as_a_mapping(tmp_path: Any) -> None:
    text = "pulse.0.duration=5 ms"
    (tmp_path / "mine.toml").write_text("")
    for made in (
        default_setup(text),
        default_setup([text]),
        default_setup({"pulse.0.duration": 5e-3}),
        load_setup(tmp_path / "mine.toml", text),
        preset("default", {"pulse.0.duration": "5 ms"}),
    ):
        assert made == SETUP.with_({"pulse.0.duration": "5 ms"})
    with pytest.raises(InputError, match="override"):
        default_setup([{"pulse.0.duration": 5e-3}])  # type: ignore[list-item]


def test_equal_setups_are_equal_and_hash_alike() -> None:
    one, other = SETUP.with_(electrode__force="0.06 kN"), SETUP.with_(electrode__force=60.0)
    assert (one, hash(one)) == (other, hash(other))
    assert one != SETUP
    assert SETUP.with_({"strip.material": bronze()}) == SETUP.with_({"strip.material": bronze()})
    assert SETUP.with_({"strip.material": bronze()}) != SETUP.with_(
        {"strip.material": bronze(resistivity=2e-7)}
    )
    assert pickle.loads(pickle.dumps(one)) == one


def test_variants_say_what_they_are() -> None:
    assert SETUP.with_source_resistance(5e-3).get("source.internal_resistance") == 5e-3
    stiff = SETUP.with_({"source": {"kind": "constant voltage", "voltage": 5.0}}).with_source_resistance(1e-3)
    assert stiff.circuit.lead_ohm == SETUP.circuit.lead_ohm + 1e-3
