"""Contact laws: resistance per area inside the contact."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.constants import LORENZ_V2_K2
from nugget.contact.laws import (
    FLOOR_OHM_M2,
    AsperityContact,
    ContactConditions,
    ContactLaw,
    MetallicContact,
    TableContact,
    understood,
)
from nugget.errors import InputError
from nugget.setup import default_setup
from nugget.setup.own_laws import OWN_LAWS, OwnLaw

TABLE = TableContact(np.array([300.0, 900.0]), np.array([4e-10, 1e-10]))
LAWS = [MetallicContact(1e-12), AsperityContact(4e8, 1e-12), TABLE]


def of(law: ContactLaw, T: float = 300.0, fraction: float = 1.0, rho: float = 2e-7) -> float:
    one = np.ones(1)
    found = law.resistance(ContactConditions(T * one, T * one, fraction * one, rho * one))
    assert found.shape == (1,)
    return float(found[0])


@pytest.mark.parametrize("law", LAWS)
def test_every_law_offers_what_the_solver_asks(law: ContactLaw) -> None:
    assert isinstance(law, ContactLaw)
    assert law.grows == (not isinstance(law, AsperityContact))


@pytest.mark.parametrize("law", [MetallicContact(), AsperityContact(4e8), TableContact(*np.zeros((2, 1)))])
def test_no_interface_is_a_perfect_conductor(law: ContactLaw) -> None:
    assert of(law) == FLOOR_OHM_M2


def test_one_metallic_spot_is_its_film() -> None:
    assert of(MetallicContact(3e-12)) == 3e-12
    assert of(MetallicContact(3e-12), T=1500.0, rho=1e-6) == 3e-12


def test_asperities_by_hand() -> None:
    """n = 1e8 per m2, a quarter in real contact: rho sqrt(pi) / (4 sqrt(2.5e7)) x 0.5^1.5."""
    expected = 2e-7 * math.sqrt(math.pi) / (4.0 * 5000.0) * 0.5**1.5 + 1e-12 / 0.25
    assert of(AsperityContact(1e8, 1e-12), fraction=0.25) == pytest.approx(expected)


def test_full_contact_of_asperities_is_the_film_alone() -> None:
    assert of(AsperityContact(1e8, 1e-12)) == pytest.approx(1e-12)


@given(a=st.floats(0.0, 1.0), b=st.floats(0.0, 1.0), spots=st.floats(1e6, 1e10))
def test_more_real_contact_resists_less(a: float, b: float, spots: float) -> None:
    law = AsperityContact(spots, 1e-12)
    low, high = sorted((a, b))
    assert math.isfinite(of(law, fraction=low))
    assert of(law, fraction=high) <= of(law, fraction=low)


def test_more_spots_resist_less_and_better_metal_too() -> None:
    assert of(AsperityContact(4e8), fraction=0.1) == pytest.approx(
        0.5 * of(AsperityContact(1e8), fraction=0.1)
    )
    assert of(AsperityContact(4e8), fraction=0.1, rho=1e-7) == pytest.approx(
        0.5 * of(AsperityContact(4e8), fraction=0.1)
    )


def heat_of(law: MetallicContact | AsperityContact, T: float = 1000.0, fraction: float = 1.0) -> float:
    one = np.ones(1)
    return float(law.heat_conductance(ContactConditions(T * one, T * one, fraction * one, 2e-7 * one))[0])


@pytest.mark.parametrize("fraction", [0.01, 0.25, 1.0])
@pytest.mark.parametrize("law", [MetallicContact(3e-12), AsperityContact(4e8, 1e-12), AsperityContact(4e8)])
def test_without_a_lattice_a_film_passes_heat_as_it_passes_current(
    law: MetallicContact | AsperityContact, fraction: float
) -> None:
    by_electrons = LORENZ_V2_K2 * 1000.0 / of(law, T=1000.0, fraction=fraction)
    assert heat_of(law, fraction=fraction) == pytest.approx(by_electrons)


def test_the_lattice_of_a_film_passes_heat_beside_its_electrons() -> None:
    """1e-11 ohm m2 at 1500 K: 3.66e6 W/(m2 K) by electrons, a nanometre that would cost a tip 700 K."""
    assert heat_of(MetallicContact(1e-11), T=1500.0) == pytest.approx(3.66e6)
    assert heat_of(MetallicContact(1e-11, 3e7), T=1500.0) == pytest.approx(3.66e6 + 3e7)
    assert of(MetallicContact(1e-11, 3e7), T=1500.0) == 1e-11


def test_constrictions_stand_in_series_with_the_film() -> None:
    bare, filmed = AsperityContact(4e8), AsperityContact(4e8, 1e-11, 3e7)
    film = 0.25 * (LORENZ_V2_K2 * 1000.0 / 1e-11 + 3e7)
    assert heat_of(filmed, fraction=0.25) == pytest.approx(
        1.0 / (1.0 / heat_of(bare, fraction=0.25) + 1.0 / film), rel=1e-3
    )


@pytest.mark.parametrize(("T", "expected"), [(200.0, 4e-10), (600.0, 2.5e-10), (2000.0, 1e-10)])
def test_a_table_is_linear_and_held_past_its_ends(T: float, expected: float) -> None:
    assert of(TABLE, T=T) == pytest.approx(expected)


class OldForm:
    """What a plugin of the older form offers."""

    grows = True

    def resistance(
        self, temperature_K: np.ndarray, fraction: np.ndarray, resistivity_sum_ohm_m: np.ndarray
    ) -> np.ndarray:
        return temperature_K * fraction * resistivity_sum_ohm_m


def test_a_law_of_the_older_form_is_told_mean_fraction_and_resistivity() -> None:
    law, one = understood(OldForm()), np.ones(2)  # type: ignore[arg-type]
    assert isinstance(law, ContactLaw)
    assert law.grows
    found = law.resistance(ContactConditions(300.0 * one, 500.0 * one, 0.5 * one, 2e-7 * one))
    assert found == pytest.approx(400.0 * 0.5 * 2e-7)


def test_a_law_of_today_stays_itself() -> None:
    assert understood(TABLE) is TABLE


def test_a_law_of_our_own_is_one_entry_and_goes_by_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    """Not by the keys that a section happens to have: this one has those of asperities."""
    made = OwnLaw(("contact_spot_density",), lambda interface, rounded: MetallicContact(3e-12))
    monkeypatch.setitem(OWN_LAWS, "even", made)
    setup = default_setup(["contact.tip.law=even", "contact.tip.contact_spot_density=1e8 1/m2"])
    assert setup.contact.tip == MetallicContact(3e-12)
    with pytest.raises(InputError, match="only contact_spot_density: the law is even"):
        setup.with_({"contact.tip.film": 1e-12})
