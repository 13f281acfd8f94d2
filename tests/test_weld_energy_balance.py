"""The running integrals of a march."""

from __future__ import annotations

import numpy as np
import pytest

from nugget.weld.energy_balance import RATES, EnergyBalance


def rates(**given: float) -> np.ndarray:
    return np.array([given.get(name, 0.0) for name in RATES])


def test_each_integral_is_read_by_its_name() -> None:
    one, two = rates(load=100.0, charge=8.0), rates(load=200.0, charge=4.0)
    energy = EnergyBalance().add((1e-3, 3e-3), (one, two), 0.7)
    assert energy["load"] == pytest.approx(0.7)
    assert energy["charge"] == pytest.approx(0.02)
    assert energy["drawn"] == 0.0


def test_the_worst_imbalance_is_kept() -> None:
    """Load = stored + holder + air + sheet outside; a later balance does not excuse an earlier one."""
    rate = rates(load=100.0, holder=10.0, air=5.0, outside=15.0)
    balanced = EnergyBalance().add((1.0,), (rate,), 70.0)
    assert balanced.worst_J == pytest.approx(0.0, abs=1e-12)
    off = balanced.add((1.0,), (rate,), 139.0)
    assert off.worst_J == pytest.approx(1.0)
    assert off.add((1.0,), (rate,), 210.0).worst_J == pytest.approx(1.0)


def test_the_clamp_adds_up_and_touches_nothing_else() -> None:
    energy = EnergyBalance().add((1.0,), (rates(load=1.0),), 1.0).clamp(0.25).clamp(0.5)
    assert energy.clamp_J == 0.75
    assert energy["load"] == 1.0
    assert energy.worst_J == 0.0
