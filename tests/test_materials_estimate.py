"""Materials from catalogue values: the rules, how far they reach, and the text they end in."""

from __future__ import annotations

import tomllib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.errors import InputError
from nugget.materials import checks, library, template
from nugget.materials.estimate import Catalogue, base_of, document
from nugget.materials.material import Material
from nugget.materials.material_file import build

ALLOYS = {
    "brass-c260": "Cu 70, Zn 30",
    "cuni-70-30": "Cu 70, Ni 30",
    "stainless-304": "Fe 74, Cr 18, Ni 8",
    "nickel-200": "Ni 100",
    "low-carbon-steel": "Fe 100",
    "copper-class-3": "Cu 97, Ni 3",
    "aluminium-can": "Al 99, Mn 1",
    "tungsten": "W 100",
    "molybdenum": "Mo 100",
    "zinc": "Zn 100",
}


def catalogue(name: str, composition: str = "") -> Catalogue:
    """What a catalogue would print of a built-in material."""
    known = library.get(name)
    assert known.resistivity is not None
    return Catalogue(
        composition=template.composition(composition, "--composition") if composition else {},
        resistivity_ohm_m=float(known.resistivity(293.15)),
        density_kg_m3=known.density_kg_m3,
        solidus_K=known.solidus_K,
        liquidus_K=known.liquidus_K,
        tensile_strength_Pa=known.tensile_strength_Pa,
    )


def made(text: str) -> Material:
    found, problems = build(tomllib.loads(text), "my-strip.toml", "test")
    assert problems == []
    assert isinstance(found, Material)
    return found


@pytest.mark.parametrize("composition", ["known", "unknown"])
@pytest.mark.parametrize("name", ALLOYS)
def test_the_rules_come_near_what_is_known_of_an_alloy(name: str, composition: str) -> None:
    """From three catalogue values: resistivity within 13 %, conductivity 30 %, heat capacity 20 %."""
    known = library.get(name)
    guess = made(
        template.from_catalogue(
            catalogue(name, ALLOYS[name] if composition == "known" else ""), "my-strip", "x"
        )
    )
    assert known.solidus_K is not None
    t = np.linspace(293.15, known.solidus_K, 50)
    assert known.resistivity is not None
    assert guess.resistivity is not None
    assert np.max(np.abs(guess.resistivity(t) / known.resistivity(t) - 1.0)) < 0.13
    assert np.max(np.abs(guess.conductivity_r(t) / known.conductivity_r(t) - 1.0)) < 0.30
    peaks = ((t > 850.0) & (t < 1190.0)) | ((t > 1640.0) & (t < 1690.0))
    near_peak = peaks & ("steel" in name)  # the rule leaves out the Curie peak and the heats of transition
    off = np.abs(guess.heat_capacity(t) / known.heat_capacity(t) - 1.0)
    assert np.max(off[~near_peak]) < 0.23
    assert known.liquidus_K is not None
    assert known.boiling_K is not None
    liquid = np.linspace(known.liquidus_K, min(known.boiling_K, guess.boiling_K or 0.0), 20)
    assert np.max(np.abs(guess.resistivity(liquid) / known.resistivity(liquid) - 1.0)) < 0.13
    assert np.max(np.abs(guess.conductivity_r(liquid) / known.conductivity_r(liquid) - 1.0)) < 0.30
    assert guess.heat_of_fusion_J_kg == pytest.approx(known.heat_of_fusion_J_kg, rel=0.15)


def test_everything_a_rule_supplied_is_marked() -> None:
    guess = made(template.from_catalogue(catalogue("cuni-70-30"), "my-strip", "x"))
    assert {word.split(" (")[0] for word in guess.estimated} == {
        "heat_of_fusion",
        "boiling",
        "heat_capacity",
        "conductivity",
        "resistivity",
        "hardness",
        "rate_exponent",
        "flow_stress",
    }
    assert guess.resistivity is not None
    assert guess.resistivity.stretches[0].citation.confidence == "unknown"


def test_a_named_catalogue_is_cited() -> None:
    given_ = Catalogue({}, 38e-8, 8900.0, solidus_K=1443.0, liquidus_K=1513.0, source="Maker's sheet 12")
    guess = made(template.from_catalogue(given_, "my-strip", "x"))
    assert guess.scalar_citations["density"].work == "Maker's sheet 12"
    assert guess.scalar_citations["density"].confidence == "found"


def test_the_base_metal_is_the_main_element_or_the_nearest() -> None:
    assert base_of(Catalogue({"Cu": 0.55, "Ni": 0.45})) == "Cu"
    assert base_of(Catalogue({}, density_kg_m3=7900.0, liquidus_K=1720.0)) == "Fe"
    assert base_of(Catalogue({}, density_kg_m3=2730.0, liquidus_K=920.0)) == "Al"
    assert base_of(Catalogue({"Cr": 1.0}, density_kg_m3=7150.0, liquidus_K=2180.0)) in (
        "Fe",
        "Zn",
        "Mo",
        "Ni",
    )


def test_a_given_temperature_coefficient_is_followed() -> None:
    guess = made(
        template.from_catalogue(
            Catalogue({}, 50e-8, 8900.0, coefficient_1_K=1e-3, solidus_K=1400.0, liquidus_K=1420.0),
            "my-strip",
            "x",
        )
    )
    assert guess.resistivity is not None
    assert float(guess.resistivity(793.15)) == pytest.approx(75e-8, rel=1e-3)


def test_a_given_conductivity_is_met_and_scales_the_rest() -> None:
    plain = catalogue("cuni-70-30")
    scaled = Catalogue(**(vars(plain) | {"conductivity_W_mK": 29.0}))
    one, other = (made(template.from_catalogue(c, "my-strip", "x")) for c in (plain, scaled))
    assert float(other.conductivity_r(293.15)) == pytest.approx(29.0)
    ratio = float(other.conductivity_r(1300.0) / one.conductivity_r(1300.0))
    assert ratio == pytest.approx(29.0 / float(one.conductivity_r(293.15)), rel=1e-3)


def test_zinc_lowers_the_boiling_point_of_brass() -> None:
    content = document(catalogue("brass-c260", "Cu 70, Zn 30"), "x", "x")
    assert content["boiling"]["value"] == pytest.approx(1403.0, rel=0.06)


def test_a_composition_alone_leaves_a_file_that_says_what_is_missing() -> None:
    text = template.from_catalogue(Catalogue({"Cu": 0.7, "Ni": 0.3}), "my-strip", "x")
    assert "STILL TO BE ADDED" in text
    assert "melting_range, resistivity, conductivity, heat_capacity" in text
    found, problems = build(tomllib.loads(text), "my-strip.toml", "test")
    assert found is None
    assert "heat_capacity: got 'nothing', expected this required key" in str(problems[0])


@given(
    st.floats(2e-8, 1.4e-6),
    st.floats(2000.0, 19000.0),
    st.floats(600.0, 3500.0),
    st.floats(10.0, 100.0),
    st.sampled_from(["", "Cu 60, Zn 40", "Fe 70, Cr 20, Al 10", "Ni 80, Cr 20", "Mg 50, Al 50"]),
)
def test_any_catalogue_gives_a_file_that_can_be_read_and_checked(
    rho: float, density: float, solidus: float, span: float, composition: str
) -> None:
    shares = template.composition(composition, "x") if composition else {}
    given_ = Catalogue(shares, rho, density, solidus_K=solidus, liquidus_K=solidus + span)
    guess = made(template.from_catalogue(given_, "my-strip", 'a "quoted" \\ title'))
    assert guess.title == 'a "quoted" \\ title'
    failed = [v.topic for v in checks.check(guess) if v.result == "fail"]
    assert set(failed) <= {
        "range of conductivity",
        "range of heat_of_fusion_J_kg",
    }  # a light, dense or odd mixture may leave the usual range


@pytest.mark.parametrize("name", ["nickel-200", "jelly-roll-nmc", "nickel-plated-steel"])
def test_a_template_from_a_material_holds_the_same_data_under_a_new_name(name: str) -> None:
    text = template.from_material(name, "my-copy")
    assert text.startswith("# A material for nugget.")
    found, problems = build(tomllib.loads(text), "my-copy.toml", "test")
    assert problems == []
    assert found is not None
    assert found.name == "my-copy"
    known = library.find(name)
    if isinstance(found, Material) and isinstance(known, Material):
        assert np.array_equal(found.heat_capacity.value, known.heat_capacity.value)


@pytest.mark.parametrize(
    ("text", "solidus", "liquidus"),
    [
        ("1170 to 1240 degC", 1443.15, 1513.15),
        ("1443-1513 K", 1443.0, 1513.0),
        ("1085 degC", 1353.15, 1363.15),
    ],
)
def test_a_melting_range_may_be_two_temperatures_or_one(text: str, solidus: float, liquidus: float) -> None:
    assert template.melting(text, "--melting") == pytest.approx((solidus, liquidus))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: template.melting("1240 to 1170 degC", "--melting"), "expected the lower temperature first"),
        (
            lambda: template.melting("hot", "--melting"),
            "got 'hot', expected a number and a unit of temperature",
        ),
        (
            lambda: template.quantity("34", "resistivity", "--resistivity"),
            "got '34', expected a unit of resistivity",
        ),
        (
            lambda: template.quantity("34 furlong", "density", "--density"),
            "got '34 furlong', expected a unit of density",
        ),
        (lambda: template.composition("Cu 70, Xx 30", "--composition"), "got 'Xx', expected one of Ag, Al"),
        (lambda: template.composition("Cu 70", "--composition"), "got '70 % in all', expected mass percents"),
        (lambda: template.composition("copper", "--composition"), "expected element and mass percent"),
        (lambda: template.coefficient("0.001", "--x"), "expected a number and 1/K or ppm/K"),
    ],
)
def test_an_option_that_makes_no_sense_is_an_input_error(call: object, message: str) -> None:
    assert callable(call)
    with pytest.raises(InputError) as caught:
        call()
    assert message in str(caught.value)


def test_quantities_are_read_with_their_units() -> None:
    assert template.quantity("28 % IACS", "resistivity", "x") == pytest.approx(6.157e-8, rel=1e-3)
    assert template.quantity("8.94 g/cm3", "density", "x") == pytest.approx(8940.0)
    assert template.coefficient("150 ppm/K", "x") == pytest.approx(1.5e-4)
    assert template.coefficient(None, "x") is None
