"""What the weld asks of source, leads and switch, from a made-up history."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from small import coarse

from nugget.outcome.figures import read_figures
from nugget.outcome.reading import Reading
from nugget.setup.description import Circuit, Pulse
from nugget.supply.kinds import Battery, ConstantCurrent, SineCurrent, Source, Transformer
from nugget.supply.switches import Switch
from nugget.weld.energy_balance import EnergyBalance

TRANSISTORS = Switch("transistors", 6e-3, 5)
HISTORY = {
    "load_ohm": np.array([0.0, 2e-3, 2e-3, 0.0]),
    "current_A": np.array([0.0, 1000.0, -1200.0, 0.0]),
    "emf_V": np.array([0.0, 12.0, -11.4, 0.0]),
    "load_share": np.array([1.0, 0.9, 0.6, 0.7]),
}
ENERGY = EnergyBalance(action_A2s=5000.0, charge_C=-5.0, drawn_J=60.0, clamp_J=0.4)


def figures(source: Source | None = None, switch: Switch = TRANSISTORS) -> dict[str, Any]:
    source = Battery(12.0, 4e-3) if source is None else source
    circuit = Circuit(source, 2e-3, 0.0, switch)
    setup = replace(coarse().si, circuit=circuit, train=(Pulse(3e-3, cool_time_s=5e-3), Pulse(2e-3)))
    return circuit_figures(Reading(setup, HISTORY, ENERGY))


def circuit_figures(reading: Reading) -> dict[str, Any]:
    return read_figures(reading, "source") | read_figures(reading, "hardware")


def test_currents() -> None:
    """Peak either way round; mean and rms over the 5 ms that the pulses are on."""
    found = figures()
    assert found["peak_current_A"] == 1200.0
    assert found["mean_current_A"] == pytest.approx(5.0 / 5e-3)
    assert found["rms_current_A"] == pytest.approx(1000.0)
    assert found["charge_C"] == -5.0


def test_losses_by_ohms_law() -> None:
    found = figures()
    assert found["source_energy_J"] == 60.0
    assert found["source_loss_J"] == pytest.approx(5000.0 * 4e-3)
    assert found["lead_loss_J"] == pytest.approx(5000.0 * 2e-3)
    assert found["switch_loss_J"] == pytest.approx(5000.0 * 6e-3 / 5)
    assert found["lead_action_A2s"] == 5000.0
    assert found["clamp_energy_J"] == 0.4


def test_devices_share_the_current() -> None:
    found = figures()
    assert found["switch_device_current_A"] == pytest.approx(240.0)
    assert found["switch_loss_per_device_J"] == pytest.approx(found["switch_loss_J"] / 5)


def test_without_a_switch_there_is_nothing_to_say_about_it() -> None:
    found = figures(switch=Switch())
    assert found["switch_device_current_A"] is None
    assert found["relay_current_A"] is None
    assert found["switch_loss_per_device_J"] is None
    assert found["pulse_spread_s"] is None


def test_a_relay_carries_everything_and_keeps_time_badly() -> None:
    """1 ms of scatter and an evenly spread bounce of 2.4 ms: the root of 1 + 2.4^2 / 12 ms."""
    found = figures(switch=Switch("relay", 0.3e-3, bounce_s=2.4e-3, opening_s=8e-3, scatter_s=1e-3))
    assert found["relay_current_A"] == 1200.0
    assert found["switch_device_current_A"] is None
    assert found["switch_loss_J"] == pytest.approx(5000.0 * 0.3e-3)
    assert found["pulse_spread_s"] == pytest.approx(math.sqrt(1.0 + 0.48) * 1e-3)


@pytest.mark.parametrize("source", [Transformer(3.0, 50.0, 2e-3, 1e-6), SineCurrent(800.0, 50.0)])
def test_an_alternating_source_has_neither_mean_nor_sag(source: Source) -> None:
    """Its effective current is told, and what its winding takes at the peak of 1200 A."""
    found = figures(source)
    assert found["mean_current_A"] is found["voltage_sag_share"] is found["least_terminal_V"] is None
    assert found["rms_current_A"] == pytest.approx(1000.0)
    assert found["source_drop_V"] == (pytest.approx(2.4) if source.drive == "voltage" else None)


def test_the_supply_sags_by_what_its_own_resistance_drops() -> None:
    """12 V less 4 V, 11.4 V less 4.8 V: the least is 6.6 of 12 V."""
    found = figures()
    assert found["least_terminal_V"] == pytest.approx(6.6)
    assert found["voltage_sag_share"] == pytest.approx(1.0 - 6.6 / 12.0)
    assert figures(ConstantCurrent(1000.0))["voltage_sag_share"] is None


def test_the_least_support_of_the_force_is_kept() -> None:
    assert figures()["load_share"] == 0.6


def test_a_source_that_gave_nothing_has_no_sag() -> None:
    still = {name: np.zeros(3) for name in HISTORY} | {"load_ohm": np.full(3, 1e-3)}
    found = circuit_figures(Reading(coarse(), still, EnergyBalance()))
    assert found["voltage_sag_share"] is None
    assert found["peak_current_A"] == found["rms_current_A"] == 0.0
