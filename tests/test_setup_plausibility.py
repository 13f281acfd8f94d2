"""What lies far outside the trade is remarked upon, what is usual is not."""

from __future__ import annotations

import pytest

from nugget.cli.main import main
from nugget.setup import default_setup, preset, preset_names, remarks
from nugget.setup.plausibility import trade_ranges

BANK = [
    "source.kind=capacitor bank",
    "source.cell_capacitance=3000 F",
    "source.cell_resistance=0.3 mohm",
    "source.start_voltage=8 V",
]


@pytest.mark.parametrize("name", preset_names())
def test_no_preset_is_remarked_upon(name: str) -> None:
    assert remarks(preset(name)) == ()


@pytest.mark.parametrize(
    ("override", "path"),
    [
        ("strip.thickness=1.5 mm", "strip.thickness is 1.5 mm"),
        ("electrode.force=3000 N", "electrode.force is 3000 N"),
        ("electrode.force=1 kN", "electrode.force is 1 kN"),
        ("pulse.0.duration=6 sec", "pulse.0.duration is 6 sec"),
        ("source.open_circuit_voltage=230 V", "source.open_circuit_voltage is 230 V"),
        ("leads.resistance=0.2 ohm", "leads.resistance is 0.2 ohm"),
    ],
)
def test_a_slip_is_named_with_the_range_of_the_trade(override: str, path: str) -> None:
    (said,) = remarks(default_setup([override]))
    assert said.startswith(f"{path}: the trade uses ")
    assert "common practice, no source" in said


def test_what_is_usual_for_one_kind_is_not_for_another() -> None:
    flat = ["electrode.tip_shape=flat", "electrode.force=3 kN"]
    assert remarks(default_setup(flat)) == ()
    assert remarks(default_setup(["electrode.force=3 kN"])) != ()


def test_a_capacitor_cell_beyond_its_rating() -> None:
    assert "4 V across each capacitor" in remarks(default_setup([*BANK, "source.cells_in_series=2"]))[0]
    assert remarks(default_setup([*BANK, "source.cells_in_series=3"])) == ()


def test_a_relay_that_does_not_keep_a_short_pulse() -> None:
    relay = ["switch.kind=relay", "switch.opening_delay=4 ms"]
    (said,) = remarks(default_setup([*relay, "pulse.0.duration=7 ms"]))
    assert said.startswith("pulse.0.duration is 7 ms, and the relay keeps it to 1.2 ms")
    assert remarks(default_setup([*relay, "pulse.0.duration=20 ms"])) == ()


def test_every_range_of_the_trade_belongs_to_a_field_and_has_a_source() -> None:
    known = {*default_setup().fields}
    for one in trade_ranges():
        assert one.source or not one.low
        if "*" not in one.field and not one.field.startswith("source."):
            assert one.field in known


def test_the_command_line_says_it_before_it_computes(capsys: pytest.CaptureFixture[str]) -> None:
    quick = [
        "--set",
        "numerics.refinement=0.25",
        "--set",
        "numerics.tolerance=40 K",
        "--set",
        "numerics.max_time=1 ms",
    ]
    assert main(["pulse", "--json", "--workers", "1", *quick, "--set", "electrode.force=1 kN"]) == 0
    said = capsys.readouterr().err.splitlines()
    assert any(
        line.startswith("nugget: is this meant? electrode.force is 1 kN: the trade uses") for line in said
    )
