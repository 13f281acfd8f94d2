"""The running integrals of a march."""

from __future__ import annotations

from dataclasses import fields

import pytest

from nugget.weld.energy_balance import EnergyBalance, Powers


def test_each_integral_is_read_by_its_name() -> None:
    one, two = Powers(load_W=100.0, charge_A=8.0), Powers(load_W=200.0, charge_A=4.0)
    energy = EnergyBalance().add((1e-3, 3e-3), (one, two), 0.7)
    assert energy.load_J == pytest.approx(0.7)
    assert energy.charge_C == pytest.approx(0.02)
    assert energy.drawn_J == 0.0


@pytest.mark.parametrize("power", [f.name for f in fields(Powers)])
def test_every_power_has_an_integral_of_its_own(power: str) -> None:
    energy = EnergyBalance().add((0.5, 0.25), (Powers(**{power: 4.0}), Powers(**{power: 8.0})), 0.0)
    integral = {"action_A2": "action_A2s", "charge_A": "charge_C"}.get(power, power.replace("_W", "_J"))
    for field in fields(EnergyBalance):
        if field.name != "worst_J":
            assert getattr(energy, field.name) == (4.0 if field.name == integral else 0.0)


def test_the_worst_imbalance_is_kept() -> None:
    """Load = stored + holder + air + sheet outside; a later balance does not excuse an earlier one."""
    rate = Powers(load_W=100.0, holder_W=10.0, air_W=5.0, outside_W=15.0)
    balanced = EnergyBalance().add((1.0,), (rate,), 70.0)
    assert balanced.worst_J == pytest.approx(0.0, abs=1e-12)
    off = balanced.add((1.0,), (rate,), 139.0)
    assert off.worst_J == pytest.approx(1.0)
    assert off.add((1.0,), (rate,), 210.0).worst_J == pytest.approx(1.0)


def test_the_clamp_adds_up_and_touches_nothing_else() -> None:
    energy = EnergyBalance().add((1.0,), (Powers(load_W=1.0),), 1.0).clamp(0.25).clamp(0.5)
    assert energy.clamp_J == 0.75
    assert energy.load_J == 1.0
    assert energy.worst_J == 0.0
