"""Sources and switches as a setup file tells them."""

from __future__ import annotations

import pytest

from nugget.errors import InputError
from nugget.setup import default_setup
from nugget.supply.kinds import Battery, CapacitorBank
from nugget.supply.switches import Switch

BANK = ["source.kind=capacitor bank", "source.start_voltage=8 V"]
CELLS = ["source.cells_in_series=3", "source.cells_in_parallel=2"]
TRANSFORMER = [
    'source={kind="transformer", open_circuit_voltage_rms="3 V", frequency="50 Hz",'
    ' winding_resistance="0.5 mohm", leakage_inductance="1 uH"}',
    "pulse=[{half_cycles=2}]",
]


def test_a_bank_of_single_capacitors() -> None:
    """Two strings of three: 2/3 of the capacitance, 3/2 of the resistance."""
    setup = default_setup([*BANK, *CELLS, "source.cell_capacitance=300 F", "source.cell_resistance=2 mohm"])
    assert setup.circuit.source == CapacitorBank(pytest.approx(200.0), 8.0, pytest.approx(3e-3))
    assert setup.get("source.capacitance") == pytest.approx(200.0)
    assert setup.get("source.cell_capacitance") == 300.0


def test_a_battery_of_single_cells() -> None:
    setup = default_setup([*CELLS, "source.cell_voltage=3.9 V", "source.cell_resistance=6 mohm"])
    assert setup.circuit.source == Battery(pytest.approx(11.7), pytest.approx(9e-3))


def test_a_measured_resistance_replaces_that_of_the_cells() -> None:
    cells = default_setup([*CELLS, "source.cell_voltage=4 V", "source.cell_resistance=6 mohm"])
    assert cells.with_source_resistance(7e-3).circuit.source == Battery(pytest.approx(12.0), 7e-3)
    assert cells.with_({"source.cells_in_parallel": 3}).circuit.source == Battery(
        pytest.approx(12.0), pytest.approx(6e-3)
    )


def test_a_source_of_cells_is_written_and_read() -> None:
    setup = default_setup([*CELLS, "source.cell_voltage=4 V", "source.cell_resistance=6 mohm"])
    assert type(setup).from_document(setup.document()) == setup


def test_a_transformer_is_switched_on_its_primary_side() -> None:
    """It fires at voltage zero unless told otherwise; no transistor of the default stays behind."""
    setup = default_setup(TRANSFORMER)
    assert setup.circuit.switch == Switch()
    assert setup.circuit.series_ohm == pytest.approx(0.5e-3 + setup.circuit.lead_ohm)
    assert setup.get("source.firing_angle") == 0.0
    assert "switch_device_current" not in {limit.id for limit in setup.limits}


def test_the_switch_follows_the_source_unless_it_is_told() -> None:
    mains = default_setup(TRANSFORMER)
    back = mains.with_(
        {"source": {"kind": "constant voltage", "voltage": "6 V"}, "pulse": [{"duration": 6e-3}]}
    )
    assert back.circuit.switch == default_setup().circuit.switch
    told = default_setup([*TRANSFORMER, "switch.devices=4"])
    assert told.circuit.switch == Switch("transistors", 1.5e-3, 4)


def test_no_switch_is_a_word() -> None:
    assert default_setup(["switch=none"]).circuit.switch == Switch()


def test_a_relay_has_times_and_a_limit_of_its_own() -> None:
    setup = default_setup(["switch.kind=relay", "pulse.0.duration=20 ms", "switch.opening_scatter=3 ms"])
    assert setup.circuit.switch == Switch("relay", 0.3e-3, 1, 2e-3, 8e-3, 3e-3)
    assert setup.pulse_spread_s == pytest.approx((9e-6 + 4e-6 / 12) ** 0.5)
    ids = {limit.id for limit in setup.limits}
    assert "relay_current" in ids
    assert "switch_device_current" not in ids
    with pytest.raises(InputError, match=r"at least 10 ms, the shortest that the relay makes"):
        setup.with_({"pulse.0.duration": 9e-3})
    assert default_setup().pulse_spread_s == 0.0
