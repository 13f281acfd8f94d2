"""The law and the limits are found by name, take their options and behave as they say."""

from __future__ import annotations

import numpy as np
import pytest

from nugget import plugins
from nugget.contact.laws import ContactConditions, ContactLaw
from nugget.errors import InputError
from nugget.setup.description import Kinetics, Limit

T = np.array([293.15, 443.15, 1700.0])
ONE = np.ones(3)


def law(**options: float) -> ContactLaw:
    # The protocol is what nugget asks for; a checker of types takes it for abstract.
    return plugins.make(plugins.CONTACT_LAWS, "tarnish", ContactLaw, options)  # type: ignore[type-abstract]


def test_the_film_fades_with_heat_down_to_the_floor() -> None:
    cold, warm, hot = law(film_ohm_m2=2e-11, fading_K=150.0).resistance(ContactConditions(T, T, ONE, ONE))
    assert cold == pytest.approx(2e-11)
    assert warm == pytest.approx(2e-11 / np.e)
    assert hot == pytest.approx(1e-14)


def test_the_spot_grows_as_a_metallic_one() -> None:
    assert law().grows is True


@pytest.mark.parametrize("options", [{"film_ohm_m2": -1.0}, {"fading_K": 0.0}, {"colour": 3.0}])
def test_options_that_make_no_sense_are_input_errors(options: dict[str, float]) -> None:
    with pytest.raises(InputError, match=r"plugin tarnish of nugget-tarnish 1\.0\.0"):
        law(**options)


def test_the_limits_name_their_sources() -> None:
    limit = plugins.make(plugins.DAMAGE_LIMITS, "separator-shutdown", Limit, {"temperature_K": 400.0})
    assert (limit.figure, limit.value) == ("interior_peak_K", 400.0)
    assert "Arora" in limit.source
    kinetics = plugins.make(plugins.DAMAGE_LIMITS, "negative-electrode", Kinetics)
    assert kinetics.activation_J_mol == pytest.approx(135080.0)
    assert "Hatchard" in kinetics.source
