"""The other axis of a chart: any numeric field, from what the user writes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.errors import InputError
from nugget.setup import default_setup, preset
from nugget.study.inputs.variation import lobe_axis, read_axis, thickness_path, usual_axis

SETUP = default_setup(["strip.thickness=0.15 mm"])


def test_the_usual_axis_is_the_strip_thickness_of_the_trade() -> None:
    axis = usual_axis(SETUP)
    assert axis.field.path == "strip.thickness"
    assert (axis.values[0], axis.values[-1]) == (0.05e-3, 0.30e-3)
    assert axis.own == pytest.approx(0.15e-3)
    assert axis.own in axis.values
    assert axis.text(axis.own) == "0.15 mm"


def test_sheet_outside_the_usual_range_gets_an_axis_around_its_own() -> None:
    axis = usual_axis(preset("sheets"))
    assert axis.own == pytest.approx(0.5334e-3)
    assert axis.values[0] < axis.own < axis.values[-1]


def test_a_layered_strip_varies_its_thickest_layer() -> None:
    layers = (
        '[{ material = "nickel-200", thickness = "0.05 mm" }, { material = "copper", thickness = "0.1 mm" }]'
    )
    setup = default_setup([f"strip.layers={layers}"])
    assert thickness_path(setup) == "strip.layers.1.thickness"
    assert usual_axis(setup).own == pytest.approx(0.1e-3)


@pytest.mark.parametrize(
    ("text", "path", "ends"),
    [
        ("electrode.force=10 N:60 N:6", "electrode.force", (10.0, 60.0)),
        ("force=10:60 N:6", "electrode.force", (10.0, 60.0)),
        ("spacing=3:6 mm:6", "arrangement.spacing", (3e-3, 6e-3)),
        ("strip.shunt_fraction=0:1:5", "strip.shunt_fraction", (0.0, 1.0)),
        ("ambient.temperature=-10:40 degC:6", "ambient.temperature", (263.15, 313.15)),
        ("source.open_circuit_voltage=8:14.5 V:4", "source.open_circuit_voltage", (8.0, 14.5)),
    ],
)
def test_any_field_that_holds_a_number(text: str, path: str, ends: tuple[float, float]) -> None:
    axis = read_axis(SETUP, text)
    assert axis.field.path == path
    assert (axis.values[0], axis.values[-1]) == pytest.approx(ends)
    assert len(axis.values) == int(text.rsplit(":", 1)[1])
    for value in axis.values:
        changed = axis.setup_at(SETUP, value)
        assert changed.get(path) == value, "to the last bit"


def test_counts_stay_whole() -> None:
    assert read_axis(SETUP, "switch.devices=2:5:9").values == (2.0, 3.0, 4.0, 5.0)


@given(low=st.floats(1.0, 50.0), width=st.floats(0.5, 50.0), count=st.integers(2, 40))
def test_values_rise_from_end_to_end(low: float, width: float, count: int) -> None:
    axis = read_axis(SETUP, f"electrode.force={low!r}:{low + width!r} N:{count}")
    assert len(axis.values) == count
    assert all(a < b for a, b in zip(axis.values, axis.values[1:], strict=False))
    assert axis.values[0] == pytest.approx(low, rel=1e-8)
    assert axis.values[-1] == pytest.approx(low + width, rel=1e-8)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("electrode.force", "FIELD=FROM:TO:COUNT"),
        ("electrode.force=10 N:60 N", "FIELD=FROM:TO:COUNT"),
        ("electrode.farce=10 N:60 N:5", "the nearest is electrode.force"),
        ("thickness=0.1:0.2 mm:5", "cell.interior.0.thickness"),
        ("electrode.force=10 mm:60 mm:5", "measures something else"),
        ("electrode.force=10:60:5", "with its unit"),
        ("electrode.force=60 N:10 N:5", "a lower value first"),
        ("electrode.force=10 N:60 N:1", "a count from 2"),
        ("electrode.force=10 N:60 N:many", "a count from 2"),
        ("pulse.0.duration=1 ms:9 ms:5", "the chart's other axis"),
        ("duration=1 ms:9 ms:5", "the chart's other axis"),
    ],
)
def test_one_clear_line_for_what_cannot_be_read(text: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        read_axis(SETUP, text)
    assert "vary" in str(caught.value)
    assert says in str(caught.value)


@pytest.mark.parametrize(
    ("kind", "path"),
    [
        ("battery", "source.open_circuit_voltage"),
        ("constant current", "source.current"),
        ("constant voltage", "source.voltage"),
        ("sine current", "source.current_rms"),
        ("capacitor bank", "source.start_voltage"),
        ("transformer", "source.open_circuit_voltage_rms"),
    ],
)
def test_the_lobe_varies_what_makes_each_source_stronger(kind: str, path: str) -> None:
    values = {
        "constant current": ["source.current=1400 A"],
        "constant voltage": ["source.voltage=6 V"],
        "sine current": ["source.current_rms=1400 A", "source.frequency=50 Hz"],
        "capacitor bank": [
            "source.capacitance=1 F",
            "source.start_voltage=12 V",
            "source.series_resistance=3 mohm",
        ],
        "transformer": [
            "source.open_circuit_voltage_rms=4 V",
            "source.frequency=50 Hz",
            "source.winding_resistance=1 mohm",
            "source.leakage_inductance=1 uH",
            "source.firing_angle=0 deg",
            "pulse.0.duration=20 ms",
        ],
    }
    setup = default_setup([f"source.kind={kind}", *values.get(kind, [])])
    axis = lobe_axis(setup)
    assert axis.field.path == path
    assert axis.own is not None
    assert axis.values[0] < axis.own < axis.values[-1]
