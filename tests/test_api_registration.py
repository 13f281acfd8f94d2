"""Laws, sources and limits that Python registers for its own process."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from small import COARSE

import nugget
from nugget import plugins
from nugget.contact.laws import MetallicContact
from nugget.errors import InputError
from nugget.setup.description import Kinetics
from nugget.setup.own_laws import OWN_LAWS
from nugget.supply.kinds import ConstantCurrent

LAW = "contact.faying={ law = 'mine', options = { film_ohm_m2 = 4e-12 } }"


@pytest.fixture(autouse=True)
def forgotten() -> Iterator[None]:
    before = dict(plugins._REGISTERED)
    yield
    plugins._REGISTERED.clear()
    plugins._REGISTERED.update(before)


def test_a_law_is_used_by_name_with_its_options() -> None:
    @nugget.register_law("mine")
    def law(film_ohm_m2: float = 1e-12) -> MetallicContact:
        return MetallicContact(film_ohm_m2)

    assert law(2e-12).film_ohm_m2 == 2e-12
    setup = nugget.preset("coupon", [LAW])
    assert isinstance(setup.contact.faying.made, MetallicContact)
    assert setup.contact.faying.film_ohm_m2 == 4e-12


def test_a_source_and_limits_are_used_by_name() -> None:
    nugget.register_source("mine")(lambda current_A=500.0: ConstantCurrent(current_A))
    nugget.register_limit("mine")(
        lambda: nugget.Limit("thin", "can_penetration", "at most", 0.05, "the team's own")
    )
    nugget.register_limit("other")(lambda: Kinetics("a reaction", 1e10, 1e5, "made up for a test"))
    setup = nugget.default_setup(
        [
            "source={ kind = 'plugin', plugin = 'mine', options = { current_A = 700 } }",
            "damage_limits=[{ plugin = 'mine' }, { plugin = 'other' }]",
        ]
    )
    assert setup.circuit.source.value(0.0) == 700.0
    assert [limit.value for limit in setup.limits if limit.source == "the team's own"] == [0.05]
    assert setup.kinetics is not None
    assert setup.kinetics.title == "a reaction"


def test_registering_again_takes_the_place_of_the_first() -> None:
    for value in (500.0, 600.0):
        nugget.register_source("mine")(lambda value=value: ConstantCurrent(value))
    setup = nugget.default_setup(["source={ kind = 'plugin', plugin = 'mine' }"])
    assert setup.circuit.source.value(0.0) == 600.0


def test_a_name_of_our_own_is_taken() -> None:
    for name in OWN_LAWS:
        with pytest.raises(InputError, match="there is one of nugget's own"):
            nugget.register_law(name)(MetallicContact)


@pytest.mark.parametrize("name", ["Mine", "", "my law", "../mine"])
def test_a_name_that_no_setup_file_could_hold_is_refused(name: str) -> None:
    with pytest.raises(InputError, match="small letters"):
        nugget.register_law(name)(MetallicContact)


def test_what_works_as_nothing_is_refused_like_a_plugin() -> None:
    with pytest.raises(InputError, match="something that can be called"):
        nugget.register_law("mine")(3)  # type: ignore[type-var]
    nugget.register_law("mine")(dict)  # type: ignore[type-var]
    with pytest.raises(InputError, match="plugin mine of this Python session: got 'dict'"):
        nugget.preset("coupon", ["contact.faying={ law = 'mine' }"])
    nugget.register_law("mine")(MetallicContact)
    with pytest.raises(InputError, match="TypeError"):
        nugget.preset("coupon", ["contact.faying={ law = 'mine', options = { depth = 1 } }"])


def test_a_setup_whose_law_nobody_registered_says_which() -> None:
    with pytest.raises(InputError, match=r"contact\.faying\.law: got 'mine'"):
        nugget.preset("coupon", [LAW])
    with pytest.raises(InputError, match=r"got 'mine', expected .* registered there first"):
        nugget.preset("coupon", ["source={ kind = 'plugin', plugin = 'mine' }"])


def test_a_weld_with_a_registered_law_is_marched_and_read_back_only_where_it_is_known(
    tmp_path: object,
) -> None:
    nugget.register_law("mine")(MetallicContact)
    setup = nugget.preset("coupon", [*COARSE, "pulse.0.duration=0.05 ms", LAW])
    path = nugget.simulate(setup).save(f"{tmp_path}/weld.npz")
    assert nugget.load_weld(path).setup.contact.faying.made == MetallicContact(4e-12)
    plugins.unregister(plugins.CONTACT_LAWS, "mine")
    with pytest.raises(InputError, match="mine"):
        nugget.load_weld(path)
