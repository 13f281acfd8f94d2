"""The built-in materials: all of them load, and agree with what is known of them."""

from __future__ import annotations

import cantera
import numpy as np
import pytest

from nugget.constants import LORENZ_V2_K2, REFERENCE_K
from nugget.errors import InputError
from nugget.materials import checks, library
from nugget.materials.discovery import BUILT_IN, catalogue
from nugget.materials.layered import Layered
from nugget.materials.material import Material

NAMES = [entry.name for entry in catalogue().entries if entry.origin == BUILT_IN]
STRIPS = [
    "nickel-200",
    "nickel-201",
    "nickel-plated-steel",
    "low-carbon-steel",
    "copper-etp",
    "nickel-clad-copper",
    "copper-nickel-clad",
    "cuni-70-30",
    "brass-c260",
    "stainless-304",
    "aluminium-1100",
    "zinc-coated-steel",
]
ELECTRODES = [
    "copper",
    "cucrzr",
    "copper-class-3",
    "tungsten",
    "molybdenum",
    "tungsten-copper",
    "alumina-dispersion-copper",
]
CAN_AND_INTERIOR = [
    "can-steel",
    "nickel-plated-can",
    "aluminium-can",
    "polypropylene",
    "pet",
    "polyethylene-separator",
    "jelly-roll-nmc",
    "jelly-roll-lfp",
    "electrolyte",
    "air",
    "gas-gap",
]
PLAIN = [name for name in NAMES if isinstance(library.find(name), Material)]
METALS = [name for name in PLAIN if library.get(name).family == "metal"]


def test_the_library_holds_what_the_trade_uses() -> None:
    assert set(STRIPS + ELECTRODES + CAN_AND_INTERIOR) <= set(NAMES)


@pytest.mark.parametrize("name", PLAIN)
def test_every_built_in_material_passes_its_check(name: str) -> None:
    verdicts = checks.check(library.get(name), [library.get(other) for other in PLAIN])
    assert [verdict for verdict in verdicts if verdict.result == "fail"] == []
    assert not [v for v in verdicts if v.topic in ("jumps", "hardness", "Lorenz ratio") and v.result != "ok"]


@pytest.mark.parametrize("name", NAMES)
def test_a_built_in_file_is_named_after_its_material(name: str) -> None:
    assert library.find(name).name == name
    assert library.find(name).origin == "built-in"


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with pytest.raises(InputError, match=r"got 'nickle-200'.*nearest: nickel-200"):
        library.get("nickle-200")


def test_a_layered_product_is_not_a_single_material() -> None:
    with pytest.raises(
        InputError, match=r"a single material; nickel-plated-steel is layered \(nickel, low-carbon"
    ):
        library.get("nickel-plated-steel")


@pytest.mark.parametrize("name", [n for n in NAMES if n not in PLAIN])
def test_the_layers_of_a_product_are_known_and_add_up(name: str) -> None:
    layers = library.expand(name, 0.2e-3)
    assert sum(thickness for _, thickness in layers) == pytest.approx(0.2e-3, rel=1e-12)
    assert all(library.get(material).name == material for material, _ in layers)
    assert isinstance(library.find(name), Layered)


def test_a_plain_material_expands_to_itself() -> None:
    assert library.expand("nickel-200", 0.15e-3) == (("nickel-200", 0.15e-3),)


@pytest.mark.parametrize("name", METALS)
def test_a_metal_is_known_from_room_temperature_to_its_boiling_point(name: str) -> None:
    metal = library.get(name)
    assert metal.resistivity is not None
    assert metal.boiling_K is not None
    assert metal.hardness is not None
    for curve in (metal.resistivity, metal.conductivity_r, metal.heat_capacity):
        assert curve.temperature_K[0] <= REFERENCE_K
        assert curve.temperature_K[-1] >= metal.boiling_K
    assert metal.solidus_K is not None
    assert metal.liquidus_K is not None
    assert metal.liquidus_K - metal.solidus_K > 9.99


@pytest.mark.parametrize("name", METALS)
def test_lorenz_ratio_of_a_metal_is_plausible(name: str) -> None:
    metal = library.get(name)
    assert metal.resistivity is not None
    assert metal.boiling_K is not None
    t = np.linspace(293.15, metal.boiling_K, 500)
    ratio = metal.resistivity(t) * metal.conductivity_r(t) / t / LORENZ_V2_K2
    assert ratio.min() > 0.85
    assert ratio.max() < 1.6


@pytest.mark.parametrize("name", METALS)
def test_hardness_falls_and_ends_small_but_above_zero(name: str) -> None:
    hardness = library.get(name).hardness
    assert hardness is not None
    assert np.all(np.diff(hardness.value) <= 0.0)
    assert 0.005 < hardness.value[-1] / hardness.value[0] < 0.05


def test_nickel_strip_gives_the_contact_radius_worked_out_by_hand() -> None:
    """a_c0 = sqrt(F / (pi H)) = 0.1 mm at 30 N."""
    hardness = library.get("nickel-200").hardness
    assert hardness is not None
    assert np.sqrt(30.0 / (np.pi * float(hardness(293.15)))) == pytest.approx(0.1e-3, rel=0.02)


PHASES = {
    "nickel": ("Ni(cr)",),
    "zinc": ("Zn(cr)",),
    "molybdenum": ("Mo(cr)",),
    "aluminium": ("AL(cr)",),
    "iron": ("Fe(a)", "Fe(c)", "Fe(d)"),
    "copper": ("Cu(cr)",),
    "low-carbon-steel": ("Fe(a)", "Fe(c)", "Fe(d)"),
    "can-steel": ("Fe(a)", "Fe(c)", "Fe(d)"),
}


@pytest.mark.parametrize("name", PHASES)
def test_enthalpy_to_the_solidus_agrees_with_nasa_polynomials(name: str) -> None:
    """Within 2 % from 298 K to the solidus, transitions included.

    Steel transforms over a range, pure iron at one temperature: there the two differ by up to
    the heat of transition, so the range is left out.
    """
    metal = library.get(name)
    species = {s.name: s for s in cantera.Species.list_from_file("nasa_condensed.yaml")}
    phases = [species[phase] for phase in PHASES[name]]
    assert metal.solidus_K is not None

    def nasa(t: float) -> float:
        phase = next(p for p in phases if t <= p.thermo.max_temp)
        return float(phase.thermo.h(t) / phase.molecular_weight)

    t = np.linspace(298.15, metal.solidus_K, 4000)
    c = metal.heat_capacity(t)
    ours = np.concatenate(([0.0], np.cumsum(0.5 * (c[1:] + c[:-1]) * np.diff(t))))
    theirs = np.array([nasa(float(x)) for x in t]) - nasa(298.15)
    away = (t > 350.0) & ~((t > 1140.0) & (t < 1190.0) & name.endswith("steel"))
    assert np.max(np.abs(ours[away] / theirs[away] - 1.0)) < 0.02
    assert ours[-1] == pytest.approx(theirs[-1], rel=0.01)
