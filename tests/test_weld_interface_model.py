"""One interface during the march: from cell temperatures to its contact."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from itertools import islice, pairwise
from typing import ClassVar

import numpy as np
import pytest
from small import coarse

from nugget.contact.bearing import Bearing, ContactLoad, CreepingSpot
from nugget.contact.laws import ContactConditions
from nugget.materials.property_tables import RATES_1_S
from nugget.setup import default_setup
from nugget.weld.interface_model import ContactModel, ContactStart, ContactState, Surroundings
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.stepper import GAMMA

SETUP = coarse()
MODEL = WeldModel(SETUP)
FLAT = WeldModel(coarse(name="sheets"))


def contact(
    model: WeldModel,
    T: float | np.ndarray,
    before: ContactState | None = None,
    number: int = 1,
    **options: float,
) -> ContactState:
    """Evaluate a contact with every cell at `T`."""
    contact_model = model.contact_models[number]
    warmth = np.full(model.grid.shape, T) if isinstance(T, float) else T
    around = Surroundings(warmth, np.full(model.grid.shape, 50.0))
    none = np.zeros(model.grid.shape[1])
    start = None if before is None else ContactStart.of(before)
    return contact_model.evaluate(around, none, start, **options)  # type: ignore[arg-type]


def remade(**changes: float) -> WeldModel:
    """The same model with another force or other factors."""
    contact = {k: v for k, v in changes.items() if k != "force_N"}
    setup = replace(SETUP.si, contact=replace(SETUP.contact, **contact))
    return WeldModel(replace(setup, force_N=changes.get("force_N", SETUP.force_N)))


def test_a_cold_contact_has_its_first_radius() -> None:
    for number in (0, 1):
        cold = contact(MODEL, SETUP.ambient_K, number=number)
        assert cold.equilibrium_radius_m == pytest.approx(MODEL.grid.interfaces[number].first_m, rel=1e-3)
        assert cold.radius_m == cold.equilibrium_radius_m
        assert cold.load_share == 1.0


def test_a_warmer_contact_is_wider() -> None:
    radii = [contact(MODEL, T).equilibrium_radius_m for T in (300.0, 700.0, 1100.0, 1500.0)]
    assert radii == sorted(radii)
    assert radii[0] < 0.5 * radii[-1]


def test_the_radius_never_shrinks() -> None:
    hot = contact(MODEL, 1300.0)
    again = contact(MODEL, 300.0, before=hot)
    assert again.equilibrium_radius_m == hot.equilibrium_radius_m


def test_melt_carries_what_its_solid_carries_at_the_solidus_under_slow_load() -> None:
    """20 to 30 MPa for steel, however hot the melt; no more of it up to the rates of a growing contact."""
    for T in (2000.0, 2800.0):
        molten = contact(MODEL, T)
        pressure = SETUP.force_N / (math.pi * molten.equilibrium_radius_m**2)
        assert 15e6 < pressure < 40e6
    rows = MODEL.contact_models[1].hardness(np.full((2, MODEL.grid.shape[1]), 2500.0))[:]
    assert rows[RATES_1_S < 101.0, 0] == pytest.approx(rows[0, 0])
    assert (rows[RATES_1_S > 101.0, 0] > 1.05 * rows[0, 0]).all()
    solid = MODEL.contact_models[1].hardness(np.full((2, MODEL.grid.shape[1]), 1600.0))[:]
    assert solid[-1, 0] > 5.0 * solid[0, 0]


def test_enclosed_melt_may_carry_more_but_never_more_than_its_solid_at_the_rate() -> None:
    hot = np.full((2, MODEL.grid.shape[1]), 2500.0)
    slow, thrice, much = (
        remade(melt_strength_factor=factor).contact_models[1].hardness(hot)[:][:, 0]
        for factor in (1.0, 3.0, 1e3)
    )
    solid = MODEL.contact_models[1].hardness(MODEL.contact_models[1].solidus_K)[:][:, 0]
    assert thrice == pytest.approx(np.minimum(3.0 * slow, solid), rel=0.02)
    assert thrice[0] == pytest.approx(slow[0]), "at the slow rate the solid has no more"
    assert much == pytest.approx(solid, rel=0.02)


def test_a_contact_at_its_cap_says_what_share_it_carries() -> None:
    heavy = contact(remade(force_N=300.0), 2500.0)
    assert heavy.equilibrium_radius_m == MODEL.grid.interfaces[1].cap_m
    assert 0.05 < heavy.load_share < 0.5


def test_a_plating_that_melts_makes_no_contact_jump() -> None:
    """What lies behind 2 um of nickel carries, molten or not."""
    plated = WeldModel(coarse("strip.material=nickel-plated-steel", name="default"))
    radii = [contact(plated, T).equilibrium_radius_m for T in np.arange(1700.0, 1760.0, 2.0)]
    assert max(b / a for a, b in pairwise(radii)) < 1.01


def test_a_contact_grows_by_the_time_it_is_given() -> None:
    cold = contact(MODEL, 300.0)
    around = Surroundings(np.full(MODEL.grid.shape, 1500.0), np.full(MODEL.grid.shape, 50.0))
    none = np.zeros(MODEL.grid.shape[1])
    model = MODEL.contact_models[1]
    radii = [
        model.evaluate(around, none, ContactStart.of(cold, 0.0, tau)).equilibrium_radius_m
        for tau in (1e-5, 1e-3, 1e-1)
    ]
    assert cold.equilibrium_radius_m <= radii[0] < 0.9 * radii[1] < 0.81 * radii[2]


def test_a_worn_flat_starts_as_many_spots() -> None:
    worn = WeldModel(coarse("electrode.worn_flat=0.8 mm"))
    cold = contact(worn, 300.0)
    assert cold.equilibrium_radius_m == pytest.approx(0.4e-3)
    inside = worn.grid.r < 0.4e-3
    carried = SETUP.force_N / (math.pi * 0.4e-3**2)
    hard = worn.contact_models[1].hardness(np.full((2, worn.grid.shape[1]), 300.0))[:][0, 0]
    assert cold.real_fraction[inside] == pytest.approx(carried / hard, rel=1e-3)
    assert cold.real_fraction[~inside] == pytest.approx(carried / hard, rel=1e-3), "nothing real lies beyond"


def test_beyond_a_worn_flat_everything_is_real_once_the_contact_has_passed_it() -> None:
    """And without a jump on the way: over the width of a cell, more with every bit of the radius."""
    worn = WeldModel(coarse("electrode.worn_flat=0.8 mm"))
    model, flat = worn.contact_models[1], 0.4e-3
    none = np.zeros(worn.grid.shape[1])
    load = ContactLoad(
        force_N=SETUP.force_N,
        hardness=model.hardness(np.full((2, worn.grid.shape[1]), 300.0)),
        rates_1_s=RATES_1_S,
        r_faces_m=worn.grid.r_faces,
        cap_m=0.75e-3,
        start_radius_m=flat,
        start_fraction=none,
        tau_s=math.inf,
        least_radius_m=0.0,
        least_fraction=none,
    )
    inside = worn.grid.r < flat
    passed = [
        CreepingSpot(2.0 * flat).bearing(replace(load, start_radius_m=a, least_radius_m=a)).real_fraction
        for a in np.linspace(flat, 1.4 * flat, 40)
    ]
    outside = np.array(passed)[:, ~inside]
    assert (np.array(passed)[:, inside] < 0.1).all()
    assert outside[0].max() < 0.1
    assert (outside[-1] == 1.0).all()
    assert (np.diff(outside, axis=0) >= 0.0).all()
    assert np.diff(outside, axis=0).max() < 0.3


def test_where_cells_lie_about_the_edge_of_a_worn_flat_decides_nothing() -> None:
    """A sliver of real contact in the cell that the edge cuts took a fifth off the resistance of the weld."""
    loads = []
    for fineness in (0.5, 0.7, 0.85, 1.0, 1.4):
        model = WeldModel(default_setup(["electrode.worn_flat=1.2 mm", f"numerics.refinement={fineness}"]))
        found = contact(model, 300.0)
        covered = found.contact_fraction * np.pi * np.diff(model.grid.r_faces**2)
        loads.append(1.0 / float((covered / found.electrical).sum()))
    assert max(loads) < 1.03 * min(loads)


def test_twice_the_force_or_half_the_hardness_is_twice_the_area() -> None:
    nominal = contact(MODEL, 600.0).equilibrium_radius_m
    assert contact(remade(force_N=2.0 * SETUP.force_N), 600.0).equilibrium_radius_m == pytest.approx(
        math.sqrt(2.0) * nominal
    )
    assert contact(remade(hardness_factor=0.5), 600.0).equilibrium_radius_m == pytest.approx(
        math.sqrt(2.0) * nominal
    )


@pytest.mark.parametrize("T", [900.0, 1200.0, 2500.0])
def test_the_radius_factor_is_that_of_even_metal(T: float) -> None:
    nominal, scaled = contact(MODEL, T), contact(remade(radius_factor=0.8), T)
    assert scaled.equilibrium_radius_m == pytest.approx(0.8 * nominal.equilibrium_radius_m, rel=1e-3)


def test_a_given_radius_is_used_and_the_wanted_one_reported() -> None:
    found = contact(MODEL, 600.0, radius_m=0.4e-3)
    assert found.radius_m == 0.4e-3
    assert found.equilibrium_radius_m == contact(MODEL, 600.0).equilibrium_radius_m


def test_coverage_belongs_to_the_radius_and_to_columns_with_two_sides() -> None:
    contact_model: ContactModel = MODEL.contact_models[0]
    small = contact(MODEL, 600.0, number=0, radius_m=0.3e-3)
    large = contact_model.at_radius(small, 0.6e-3)
    assert (large.contact_fraction >= small.contact_fraction).all()
    assert large.contact_fraction.sum() > small.contact_fraction.sum()
    assert (large.contact_fraction[contact_model.interface.columns :] == 0.0).all()
    assert contact_model.at_radius(small, 0.3e-3) is small
    assert (large.electrical == small.electrical).all()


def test_coverage_grows_evenly_while_the_edge_crosses_columns() -> None:
    """What the edge correction adds must neither jump nor turn back."""
    contact_model = MODEL.contact_models[1]
    cap, start = contact_model.interface.cap_m, contact(MODEL, 600.0, radius_m=0.1e-3)
    area = MODEL.grid.area_z
    radii = np.linspace(0.1e-3, cap, 400)
    covered = np.array(
        [float((contact_model.at_radius(start, a).contact_fraction * area).sum()) for a in radii]
    )
    step = np.diff(covered) / (math.pi * np.diff(radii**2))
    assert (step > 0.0).all()
    assert step.max() < 5.0


def test_a_hot_ring_around_a_cold_core_carries_less() -> None:
    field = np.full(MODEL.grid.shape, 400.0)
    even = contact(MODEL, field)
    core = field.copy()
    core[:, MODEL.grid.r < 0.5 * even.equilibrium_radius_m] = 2500.0
    assert contact(MODEL, core).equilibrium_radius_m > even.equilibrium_radius_m


def test_side_temperatures_are_those_of_the_cells_when_no_heat_flows() -> None:
    even = contact(MODEL, 700.0, before=contact(MODEL, 700.0))
    columns = MODEL.grid.interfaces[1].columns
    assert even.above_K[:columns] == pytest.approx(700.0)
    assert even.below_K[:columns] == pytest.approx(700.0)


def test_asperities_share_the_load_under_flat_faces() -> None:
    cold, hot = contact(FLAT, 300.0), contact(FLAT, 1200.0)
    interface = FLAT.grid.interfaces[1]
    assert cold.equilibrium_radius_m == hot.equilibrium_radius_m == interface.cap_m
    inside = slice(0, interface.columns)
    assert (hot.real_fraction[inside] > cold.real_fraction[inside]).all()
    assert (hot.electrical[inside] < cold.electrical[inside]).all()
    again = contact(FLAT, 300.0, before=hot)
    assert (again.real_fraction[inside] == hot.real_fraction[inside]).all(), "real contact never shrinks"


def test_gas_conducts_across_the_gap() -> None:
    contact_model = MODEL.contact_models[0]
    air = SETUP.contact.gas
    assert contact_model.gap_W_m2K == pytest.approx(
        float(air.conductivity_z(SETUP.ambient_K)) / SETUP.contact.stand_off_m
    )


@dataclass(frozen=True)
class Wearing:
    """A film that wears by a rate of its own: ``dm/dt = -m / tau_s``, m its share that is left."""

    grows: ClassVar[bool] = True
    lasts_s: float = 1e-3
    film_ohm_m2: float = 1e-10

    def first_memory(self, columns: int) -> np.ndarray:
        return np.ones(columns)

    def remember(self, contact: ContactConditions) -> np.ndarray:
        assert contact.memory is not None
        return np.asarray(contact.memory / (1.0 + contact.tau_s / self.lasts_s))

    def resistance(self, contact: ContactConditions) -> np.ndarray:
        assert contact.memory is not None
        return np.asarray(self.film_ohm_m2 * contact.memory + 1e-12)


def test_a_law_may_keep_a_state_of_its_own() -> None:
    """It starts at the first touch, moves with every stage of a step, and never within one."""
    setup = replace(SETUP.si, contact=replace(SETUP.contact, faying=Wearing()))
    march = March(setup)
    states = list(islice(march, 120))
    left = 1.0
    for before, after in pairwise(states):
        if after.electric is not None:
            # What the two-stage formula makes of one step of dm/dt = -m / tau.
            z = -(after.time_s - before.time_s) / 1e-3
            left *= (1.0 + (1.0 - 2.0 * GAMMA) * z) / (1.0 - GAMMA * z) ** 2
        assert after.contacts[1].memory == pytest.approx(left, rel=1e-9)
    assert left == pytest.approx(math.exp(-SETUP.train_s / 1e-3), rel=0.05), "worn by the end of the pulse"
    assert states[-1].time_s > 0.2e-3
    assert states[-1].contacts[0].memory is None


@dataclass(frozen=True)
class HalfOfIt:
    """A radius law of our own: always half of the cap, and what it was told."""

    told: list[ContactLoad] = field(default_factory=list)

    def bearing(self, load: ContactLoad) -> Bearing:
        self.told.append(load)
        return Bearing(0.5 * load.cap_m, 1.0, np.ones(load.hardness_Pa.shape[1]))


def test_another_radius_law_takes_the_place_of_the_balance() -> None:
    law, interface = HalfOfIt(), MODEL.grid.interfaces[1]
    model = ContactModel(SETUP, MODEL.grid, interface, MODEL.tables, law)
    around = Surroundings(np.full(MODEL.grid.shape, 600.0), np.full(MODEL.grid.shape, 50.0))
    first = model.first_touch(around)
    assert first.radius_m == 0.5 * interface.cap_m
    start = replace(ContactStart.of(first, 1e-3, 2e-5), radius_m=1.1 * first.radius_m)
    model.evaluate(around, np.zeros(MODEL.grid.shape[1]), start)
    load = law.told[-1]
    assert (load.tau_s, load.start_radius_m, load.least_radius_m) == (2e-5, start.radius_m, first.radius_m)
    assert load.hardness_Pa.shape == (len(load.rates_1_s), MODEL.grid.shape[1])
    assert law.told[0].tau_s == math.inf


def test_a_law_is_told_how_fast_the_contact_grows() -> None:
    """(a - a_start) / (tau a), and the pressure at that radius."""
    told: list[ContactConditions] = []

    class Listening:
        grows = True

        def resistance(self, contact: ContactConditions) -> np.ndarray:
            told.append(contact)
            return np.full_like(contact.above_K, 1e-11)

    interface = replace(MODEL.grid.interfaces[1], law=Listening())
    model = ContactModel(SETUP, MODEL.grid, interface, MODEL.tables)
    around = Surroundings(np.full(MODEL.grid.shape, 600.0), np.full(MODEL.grid.shape, 50.0))
    first = model.first_touch(around)
    assert told[-1].rate_1_s == 0.0
    start = ContactStart.of(first, 1e-3, 2e-5)
    model.evaluate(around, np.zeros(MODEL.grid.shape[1]), start, radius_m=1.25 * first.radius_m)
    assert told[-1].rate_1_s == pytest.approx(0.2 / 2e-5)
    assert told[-1].pressure_Pa == pytest.approx(SETUP.force_N / (math.pi * (1.25 * first.radius_m) ** 2))
    assert (told[-1].time_s, told[-1].tau_s) == (1e-3, 2e-5)


def at_temperature(model: WeldModel, T: float) -> ContactState:
    return contact(model, T, before=contact(model, T))


def test_the_current_carries_heat_across_unlike_metals() -> None:
    """(S_above - S_below) T, of the sign of the tip; nickel on iron about 45 mV at 1500 K."""
    plus, minus, mean = (
        at_temperature(WeldModel(coarse(f"arrangement.polarity={sign}", name="default")), 1500.0).peltier_V
        for sign in ("positive", "negative", "mean")
    )
    assert np.asarray(plus)[0] == pytest.approx(-np.asarray(minus)[0])
    assert 0.02 < abs(np.asarray(plus)[0]) < 0.08
    assert mean == 0.0


def test_carried_heat_changes_sign_with_the_current_and_is_booked() -> None:
    setup = coarse("arrangement.polarity=positive", name="default")
    march = March(setup)
    states = list(islice(march, 38))
    last, model = states[-1], march.model
    assert last.electric is not None
    there = model.thermoelectric_W(last.electric, 1000.0, last.contacts)
    assert model.thermoelectric_W(last.electric, -1000.0, last.contacts) == pytest.approx(-there)
    area, by_hand = model.grid.area_z, 0.0
    for q, c in zip(last.electric.interface_heat, last.contacts, strict=True):
        amperes = np.sqrt(q / c.electrical) * area * c.contact_fraction  # of one through the electrode
        assert 0.5 < float(amperes.sum()) <= 1.001, "the rest goes along the strip"
        by_hand += 1000.0 * float((amperes * c.peltier_V).sum())
    assert there == pytest.approx(by_hand)
    assert abs(last.energy.thermoelectric_J) > 1e-3
    assert last.energy.worst_J < 1e-6 * last.energy.load_J
