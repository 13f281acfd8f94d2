"""The temper of the strip, chosen in the setup."""

from __future__ import annotations

import pytest

from nugget.errors import InputError
from nugget.setup import default_setup


def test_a_temper_makes_the_strip_harder() -> None:
    soft = default_setup()
    hard = soft.with_({"strip.temper": "hard"})
    one, other = soft.strip[0].material, hard.strip[0].material
    assert one.name == other.name == "nickel-200"
    assert other.temper == "hard"
    assert other.hardness_at(300.0, 100.0) > 1.9 * one.hardness_at(300.0, 100.0)


def test_the_core_of_a_plated_strip_is_what_was_rolled() -> None:
    plated = default_setup().with_({"strip.material": "nickel-plated-steel", "strip.temper": "half-hard"})
    assert [layer.material.temper for layer in plated.strip] == [None, "half-hard", None]


def test_layers_have_their_own_tempers() -> None:
    layers = [
        {"material": "nickel-201", "thickness": "0.05 mm", "temper": "quarter-hard"},
        {"material": "copper-etp", "thickness": "0.1 mm"},
    ]
    made = default_setup().with_({"strip.layers": layers})
    assert [layer.material.temper for layer in made.strip] == ["quarter-hard", "half-hard"]
    with pytest.raises(InputError, match=r"strip.temper: got .hard., expected the temper beside"):
        default_setup().with_({"strip.layers": layers, "strip.temper": "hard"})


def test_a_temper_that_is_not_offered_is_refused() -> None:
    with pytest.raises(InputError, match=r"strip.temper: got .soft., expected one of annealed, quarter-hard"):
        default_setup().with_({"strip.temper": "soft"})
    with pytest.raises(InputError, match="zinc offers no tempers"):
        default_setup().with_({"strip.material": "zinc", "strip.temper": "hard"})
