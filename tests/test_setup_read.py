"""From text with units to one weld in SI units, and back."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.contact.laws import AsperityContact, MetallicContact, TableContact
from nugget.errors import InputError
from nugget.setup import (
    default_setup,
    fact_sources,
    find_field,
    load_setup,
    preset,
    preset_names,
    quantity_fields,
    setup_from_dict,
)
from nugget.setup.facts import cell_facts
from nugget.setup.schema import SetupFile
from nugget.supply.kinds import (
    Battery,
    CapacitorBank,
    ConstantCurrent,
    ConstantVoltage,
    SineCurrent,
    Source,
    Trace,
    Transformer,
)


def written(folder: Path, text: str) -> Path:
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_default_is_the_river_level_logger() -> None:
    setup = default_setup()
    assert [layer.material.name for layer in setup.strip] == ["nickel-200"]
    assert setup.strip[0].thickness_m == pytest.approx(0.12e-3)
    assert setup.strip[0].radius_m == pytest.approx(4e-3)
    assert [layer.role for layer in setup.base] == ["can", "disc", "separator", "roll"]
    assert setup.base[0].thickness_m == pytest.approx(0.3e-3)
    assert setup.arrangement == "series across"
    assert setup.spacing_m == pytest.approx(5e-3)
    assert setup.force_N == 30.0
    assert isinstance(setup.circuit.source, Battery)
    assert setup.circuit.series_ohm == pytest.approx(7e-3, rel=0.02)
    assert setup.joint.rule == "button"
    assert setup.joint.minimum_diameter_m == pytest.approx(0.48e-3)
    assert isinstance(setup.contact.tip, MetallicContact)
    assert isinstance(setup.contact.faying, MetallicContact)


def test_every_number_lands_in_its_place(tmp_path: Path) -> None:
    text = """
    hold_time = "50 ms"
    [cell]
    conductance_below = "5 W/(m2 K)"
    interior = [{ role = "roll", material = "jelly-roll-lfp", thickness = "15 mm", radius = "8 mm" }]
    [electrode]
    material = "copper"
    face_diameter = "1 mm"
    tip_length = "2 mm"
    shank_diameter = "4 mm"
    shank_length = "11 mm"
    holder_temperature = "30 degC"
    dome_radius = "5 mm"
    worn_flat = "0.3 mm"
    [arrangement]
    kind = "indirect"
    return_resistance = "2 mohm"
    [contact]
    stand_off = "7 um"
    faying_radius_allowance = "0.1 mm"
    radius_factor = 0.8
    hardness_factor = 1.5
    [source]
    kind = "constant current"
    current = "1000 A"
    [[pulse]]
    duration = "10 ms"
    output_fraction = 0.5
    upslope = "1 ms"
    downslope = "2 ms"
    cool_time = "3 ms"
    [ambient]
    temperature = "10 degC"
    heat_transfer_coefficient = "12 W/(m2 K)"
    [numerics]
    refinement = 2
    tolerance = "1 K"
    max_time = "9 s"
    melt_conductivity_factor = 3.0
    """
    setup = load_setup(written(tmp_path, text))
    tip, contact, pulse, numerics = setup.electrode, setup.contact, setup.train[0], setup.numerics
    assert setup.hold_s == pytest.approx(0.05)
    assert setup.base[0].conductance_below_W_m2K == 5.0
    assert setup.base[1].material.name == "jelly-roll-lfp"
    assert (setup.base[1].thickness_m, setup.base[1].radius_m) == pytest.approx((15e-3, 8e-3))
    assert (tip.material.name, tip.tip_shape) == ("copper", "rounded")
    assert (tip.face_diameter_m, tip.tip_length_m) == pytest.approx((1e-3, 2e-3))
    assert (tip.shank_diameter_m, tip.shank_length_m) == pytest.approx((4e-3, 11e-3))
    assert tip.holder_temperature_K == pytest.approx(303.15)
    assert (tip.dome_radius_m, tip.worn_flat_m) == pytest.approx((5e-3, 0.3e-3))
    assert default_setup().electrode.dome_radius_m == pytest.approx(3e-3), "twice the face"
    assert default_setup(["electrode.tip_shape=flat"]).electrode.dome_radius_m == math.inf
    assert setup.return_ohm == pytest.approx(2e-3)
    assert (contact.stand_off_m, contact.faying_radius_allowance_m) == pytest.approx((7e-6, 0.1e-3))
    assert (contact.radius_factor, contact.hardness_factor) == (0.8, 1.5)
    assert (pulse.duration_s, pulse.output_fraction) == (0.01, 0.5)
    assert (pulse.upslope_s, pulse.downslope_s, pulse.cool_time_s) == pytest.approx((1e-3, 2e-3, 3e-3))
    assert (setup.ambient_K, setup.heat_transfer_W_m2K, setup.stirring) == (pytest.approx(283.15), 12.0, 3.0)
    assert (numerics.refinement, numerics.tolerance_K, numerics.max_time_s) == (2.0, 1.0, 9.0)
    assert default_setup().return_ohm == 0.0


def test_the_roll_is_deeper_than_heat_gets() -> None:
    assert default_setup().base[-1].thickness_m >= 12e-3


def test_default_limits_carry_their_sources() -> None:
    limits = {limit.id: limit for limit in default_setup().limits}
    assert limits["interior_temperature"].value == pytest.approx(403.15)
    assert "Arora and Zhang" in limits["interior_temperature"].source
    assert "(from memory)" in limits["interior_temperature"].source
    assert limits["can_penetration"].value == 0.5
    assert limits["can_penetration"].source.startswith("assumption")
    assert (limits["strip_melted_through"].value, limits["tip_sticking"].value) == (1.0, 1.0)
    assert limits["indentation"].value == 0.25
    assert limits["switch_device_current"].value == 400.0
    assert "source_current" not in limits
    kinetics = default_setup().kinetics
    assert kinetics is not None
    assert (kinetics.frequency_1_s, kinetics.activation_J_mol) == (1.667e15, pytest.approx(135080.0))


def test_a_changed_limit_is_no_longer_the_source_s() -> None:
    for override in ("limits.interior_temperature=120 degC", "limits.interior_temperature.value=120 degC"):
        limit = next(one for one in default_setup([override]).limits if one.id == "interior_temperature")
        assert limit.value == pytest.approx(393.15)
        assert limit.source == "stated in the setup"


def test_a_limit_can_be_left_out_or_allowed() -> None:
    setup = default_setup(["limits.interior_dose=none", "limits.expulsion=true"])
    assert not {"interior_dose", "expulsion"} & {limit.id for limit in setup.limits}
    assert setup_from_dict(setup.document()).limits == setup.limits


def test_without_a_roll_nothing_is_said_of_an_interior() -> None:
    setup = preset("empty-can")
    assert [layer.role for layer in setup.base] == ["can"]
    assert setup.kinetics is None
    assert not {"interior_temperature", "interior_dose"} & {limit.id for limit in setup.limits}


def test_a_short_file_changes_only_what_it_says(tmp_path: Path) -> None:
    setup = load_setup(written(tmp_path, '[strip]\nthickness = "0.2 mm"\n'))
    plain = default_setup()
    assert setup.strip[0].thickness_m == pytest.approx(0.2e-3)
    assert setup.joint.minimum_diameter_m == pytest.approx(0.8e-3)
    assert (setup.base, setup.circuit, setup.train) == (plain.base, plain.circuit, plain.train)


def test_overrides_lie_over_the_file(tmp_path: Path) -> None:
    path = written(
        tmp_path, '[[pulse]]\nduration = "2 ms"\ncool_time = "20 ms"\n[[pulse]]\nduration = "5 ms"\n'
    )
    setup = load_setup(path, ["pulse.1.duration=12 ms", 'title="Trial"', "electrode.force = 20 N"])
    assert [pulse.duration_s for pulse in setup.train] == [pytest.approx(2e-3), pytest.approx(12e-3)]
    assert setup.train_s == pytest.approx(34e-3)
    assert setup.title == "Trial"
    assert setup.force_N == 20.0


def test_one_index_more_adds_a_pulse() -> None:
    setup = default_setup(["pulse.0.cool_time=10 ms", "pulse.1.duration=3 ms"])
    assert len(setup.train) == 2


def test_cell_facts_follow_size_and_end() -> None:
    positive = default_setup(["cell.end=positive"])
    assert [layer.role for layer in positive.base] == ["can", "gap", "disc", "separator", "roll"]
    assert positive.base[0].radius_m == pytest.approx(3.5e-3)
    larger = positive.with_({"cell.size": "26650", "cell.end": "negative"})
    assert larger.base == preset("26650-negative").base
    measured = default_setup(["cell.wall=0.25 mm", "cell.interior.0.thickness=0.4 mm"])
    assert measured.base[0].thickness_m == pytest.approx(0.25e-3)
    assert measured.base[1].thickness_m == pytest.approx(0.4e-3)


def test_a_measured_wall_loses_the_built_in_source() -> None:
    assert "common practice" in fact_sources(default_setup())["cell.wall"]
    assert "cell.wall" not in fact_sources(default_setup(["cell.wall=0.25 mm"]))


def test_built_in_sources_come_in_the_order_of_the_file() -> None:
    """Whatever the seed of hashes: the same setup writes the same record."""
    paths = [path for path in fact_sources(default_setup()) if path.count(".") == 1]
    keys = list(default_setup().document()["cell"])
    inside = [path.removeprefix("cell.") for path in paths if path.startswith("cell.")]
    known = list(cell_facts("cell", "18650", "negative"))
    assert inside == [key for key in known if key in inside]
    assert len(inside) > 2
    assert {*inside} <= {*keys}


def test_layered_strip_is_taken_apart() -> None:
    setup = default_setup(["strip.material=nickel-plated-steel"])
    assert len(setup.strip) > 1
    assert sum(layer.thickness_m for layer in setup.strip) == pytest.approx(0.12e-3)
    listed = default_setup(
        [
            'strip.layers=[{material="nickel-200", thickness="0.1 mm"},'
            ' {material="copper", thickness="0.05 mm"}]'
        ]
    )
    assert [layer.material.name for layer in listed.strip] == ["nickel-200", "copper"]
    assert listed.joint.minimum_diameter_m == pytest.approx(0.6e-3)


def test_a_plated_can_is_all_wall() -> None:
    setup = default_setup(["cell.wall_material=nickel-plated-can", "cell.conductance_below=1e4 W/(m2 K)"])
    walls = [layer for layer in setup.base if layer.role == "can"]
    assert len(walls) > 1
    assert sum(layer.thickness_m for layer in walls) == pytest.approx(0.3e-3)
    assert [layer.conductance_below_W_m2K for layer in walls] == [None] * (len(walls) - 1) + [1e4]


def test_the_form_of_the_tip_chooses_the_contact_law() -> None:
    flat = default_setup(["electrode.tip_shape=flat"])
    assert flat.contact.tip == AsperityContact(4e8, 1e-12, 3e7)
    assert flat.with_({"electrode.tip_shape": "rounded"}).contact == default_setup().contact
    table = 'contact.faying={law="table", table=[{temperature="20 degC", resistance="1e-10 ohm m2"}]}'
    law = default_setup([table]).contact.faying
    assert isinstance(law, TableContact)
    assert law.grows
    np.testing.assert_allclose(law.resistance_ohm_m2, [1e-10])


@pytest.mark.parametrize(
    ("thickness", "wall", "rule", "expected_mm"),
    [
        ("0.15 mm", "0.3 mm", "button", 0.6),
        ("0.49 mm", "1 mm", "button", 1.96),
        ("0.5 mm", "1 mm", "sheet", 4 * 0.5**0.5),
        ("1 mm", "2 mm", "sheet", 4.0),
        ("1 mm", "0.3 mm", "button", 1.2),  # the thinner part tears
    ],
)
def test_joint_target_by_thickness(thickness: str, wall: str, rule: str, expected_mm: float) -> None:
    joint = default_setup([f"strip.thickness={thickness}", f"cell.wall={wall}"]).joint
    assert joint.rule == rule
    assert joint.minimum_diameter_m == pytest.approx(expected_mm * 1e-3)


def test_own_joint_target() -> None:
    joint = default_setup(["joint.minimum_diameter=0.7 mm"]).joint
    assert (joint.rule, joint.minimum_diameter_m) == ("diameter", pytest.approx(0.7e-3))


def test_leads_by_copper_or_by_resistance() -> None:
    by_copper = default_setup(["leads.length=1 m", "leads.cross_section=10 mm2"]).circuit
    assert by_copper.lead_ohm == pytest.approx(1.678e-8 * 1.0 / 10e-6, rel=0.01)  # CRC, 293 K
    stated = default_setup(["leads.resistance=2.5 mohm"]).circuit
    assert (stated.lead_ohm, stated.lead_length_m, stated.lead_area_m2) == (pytest.approx(2.5e-3), 0.0, 0.0)


SOURCES: dict[str, tuple[str, Source]] = {
    "constant current": ('current="1.4 kA"', ConstantCurrent(1400.0)),
    "sine current": ('current_rms="2 kA", frequency="50 Hz"', SineCurrent(2000.0, 50.0)),
    "constant voltage": ('voltage="6 V"', ConstantVoltage(6.0)),
    "battery": ('open_circuit_voltage="12 V", internal_resistance="4 mohm"', Battery(12.0, 0.004)),
    "capacitor bank": (
        'capacitance="2 F", start_voltage="9 V", series_resistance="4 mohm"',
        CapacitorBank(2.0, 9.0, 0.004),
    ),
    "transformer": (
        'open_circuit_voltage_rms="3 V", frequency="500 Hz", winding_resistance="0.5 mohm", '
        'leakage_inductance="1 uH", firing_angle="1 rad"',
        Transformer(3.0, 500.0, 0.0005, 1e-6, 1.0),
    ),
}


@pytest.mark.parametrize("kind", sorted(SOURCES))
def test_each_kind_of_source(kind: str) -> None:
    fields, expected = SOURCES[kind]
    setup = default_setup([f'source={{kind="{kind}", {fields}}}', "pulse.0.duration=3 ms"])
    assert setup.circuit.source == expected
    assert setup_from_dict(setup.document()) == setup


def transformer(*overrides: str) -> list[str]:
    return [
        'source={kind="transformer", open_circuit_voltage_rms="3 V", frequency="60 Hz", '
        'winding_resistance="0.5 mohm", leakage_inductance="1 uH", firing_angle="90 deg"}',
        *overrides,
    ]


def test_a_transformer_pulse_is_whole_half_cycles() -> None:
    setup = default_setup(transformer("pulse=[{half_cycles=3}]"))
    assert setup.train[0].duration_s == pytest.approx(3 / 120)
    source = setup.circuit.source
    assert isinstance(source, Transformer)
    assert source.firing_angle_rad == pytest.approx(np.pi / 2)
    rounded = default_setup(transformer("pulse.0.duration=16.6667 ms"))
    assert rounded.train[0].duration_s == 2 * (0.5 / 60)  # exactly, so that it ends at a voltage zero


def test_a_trace_is_read_next_to_its_setup_file(tmp_path: Path) -> None:
    (tmp_path / "scope.csv").write_text("# bench\ntime_ms, voltage_V, current_kA\n1,0,0\n2,5,1.2\n4,4,1.0\n")
    path = written(tmp_path, '[source]\nkind = "trace"\nquantity = "current"\nfile = "scope.csv"\n')
    setup = load_setup(path)
    source = setup.circuit.source
    assert isinstance(source, Trace)
    np.testing.assert_allclose(source.time_s, [0.0, 1e-3, 3e-3])
    np.testing.assert_allclose(source.sample, [0.0, 1200.0, 1000.0])
    (tmp_path / "scope.csv").unlink()  # the record is whole without the file
    again = setup_from_dict(json.loads(json.dumps(setup.document())))
    assert again.document() == setup.document()
    np.testing.assert_array_equal(again.circuit.source.sample, source.sample)  # type: ignore[attr-defined]


def test_another_trace_file_is_read_anew(tmp_path: Path) -> None:
    for name, peak in (("one.csv", 1000), ("two.csv", 1300)):
        (tmp_path / name).write_text(f"time_ms,current_A\n0,0\n1,{peak}\n")
    path = written(tmp_path, '[source]\nkind = "trace"\nquantity = "current"\nfile = "one.csv"\n')
    source = load_setup(path, ["source.file=two.csv"]).circuit.source
    assert isinstance(source, Trace)
    assert source.sample[-1] == 1300.0


@pytest.mark.parametrize("name", preset_names())
def test_every_preset_round_trips(name: str) -> None:
    setup = preset(name)
    assert setup_from_dict(json.loads(json.dumps(setup.document()))) == setup


def numbers(low: float, high: float, unit: str) -> st.SearchStrategy[str]:
    return st.floats(low, high).map(lambda value: f"{value!r} {unit}")


CHANGES: dict[str, st.SearchStrategy[Any]] = {
    "cell.size": st.sampled_from(["18650", "21700", "26650", "32700"]),
    "cell.end": st.sampled_from(["negative", "positive"]),
    "cell.kind": st.sampled_from(["cell", "empty can"]),
    "cell.wall": numbers(0.1, 1, "mm"),
    "cell.conductance_below": numbers(1, 1e6, "W/(m2 K)"),
    "strip.material": st.sampled_from(["nickel-200", "nickel", "nickel-plated-steel", "copper"]),
    "strip.thickness": numbers(0.05, 0.6, "mm"),
    "strip.width": numbers(8, 20, "mm"),
    "strip.shunt_fraction": st.floats(0, 1),
    "electrode.tip_shape": st.sampled_from(["rounded", "flat"]),
    "electrode.force": numbers(1, 2000, "N"),
    "contact.hardness_factor": st.floats(0.2, 5),
    "arrangement.kind": st.sampled_from(["series along", "indirect"]),
    "contact.tip.film": numbers(0, 1e-9, "ohm m2"),
    "leads.resistance": numbers(0.1, 5, "mohm"),
    "limits.interior_temperature": st.one_of(st.just("none"), numbers(60, 200, "degC")),
    "limits.expulsion": st.booleans(),
    "joint.rule": st.sampled_from(["auto", "button", "sheet"]),
    "pulse.0.duration": numbers(1, 50, "ms"),
    "source": st.sampled_from(
        [
            {"kind": "constant current", "current": "1300 A"},
            {
                "kind": "capacitor bank",
                "capacitance": "2 F",
                "start_voltage": "9 V",
                "series_resistance": "3 mohm",
            },
        ]
    ),
    "ambient.temperature": numbers(-20, 40, "degC"),
    "numerics.refinement": st.floats(0.5, 2),
}


@given(st.fixed_dictionaries({}, optional=CHANGES))
def test_the_resolved_setup_reproduces_itself(changes: dict[str, object]) -> None:
    setup = default_setup().with_(changes)
    again = setup_from_dict(json.loads(json.dumps(setup.document())))
    assert again == setup
    assert again.document() == setup.document()


LEAVES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.just("8 mm")
KEYS = st.sampled_from(
    [
        "cell",
        "strip",
        "source",
        "contact",
        "tip",
        "limits",
        "pulse",
        "kind",
        "size",
        "end",
        "width",
        "0",
        "interior",
    ]
)
TREES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4)
)


@given(st.dictionaries(KEYS, TREES, max_size=4))
def test_whatever_is_written_there_is_a_setup_or_one_line(tree: dict[str, Any]) -> None:
    try:
        setup_from_dict(tree)
    except InputError as refusal:
        line = str(refusal)
    else:
        line = "a setup"
    assert line
    assert "\n" not in line


def test_studies_find_the_fields_that_hold_numbers() -> None:
    setup = default_setup()
    fields = quantity_fields(setup)
    assert fields["pulse.0.duration"].dimension == "time"
    assert fields["limits.interior_temperature"].dimension == "temperature"
    assert fields["strip.shunt_fraction"].dimension == "number"
    assert fields["switch.devices"].dimension == "count"
    assert "strip.material" not in fields
    assert "source.current" in quantity_fields(
        default_setup(['source={kind="constant current", current="1 kA"}'])
    )


def test_looking_a_field_up_reads_no_file_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Studies ask for fields in their loops."""
    setup = default_setup()
    checked: list[type] = []
    for name in ("model_validate", "__init__"):
        monkeypatch.setattr(SetupFile, name, lambda *_, **__: checked.append(SetupFile))
    for path in ("pulse.0.duration", "electrode.force", "strip.thickness"):
        assert find_field(setup, path).path == path
        assert setup.get(path) == setup.get(path)
    assert checked == []
    assert setup.fields is setup.fields


@pytest.mark.parametrize(
    "path", ["pulse.0.duration", "strip.thickness", "strip.shunt_fraction", "switch.devices"]
)
def test_a_field_reads_and_writes_what_a_setup_takes(path: str) -> None:
    setup = default_setup()
    field = quantity_fields(setup)[path]
    texts = {"time": "7 ms", "length": "0.2 mm", "number": "0.25", "count": "4"}
    value = field.read(texts[field.dimension])
    changed = setup.with_({path: field.write(value)})
    assert quantity_fields(changed)[path].read(texts[field.dimension]) == value
    assert changed != setup


def test_reading_setups_loads_no_heavy_library() -> None:
    code = (
        "import sys, nugget.setup as s; [s.preset(n) for n in s.preset_names()];"
        "print([m for m in ('pint', 'scipy', 'matplotlib', 'fipy', 'rich') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_thick_melt_is_stirred_unless_the_setup_says_otherwise() -> None:
    assert default_setup().stirring == 1.0
    thick = default_setup(["strip.thickness=1 mm", "cell.wall=1 mm"])
    assert thick.stirring == pytest.approx(5.0)
    between = default_setup(["strip.thickness=0.4 mm", "cell.wall=1 mm"])
    assert between.stirring == pytest.approx(1.0 + 4.0 * (0.64 - 0.3) / 1.2)
    assert default_setup(["strip.thickness=1 mm", "numerics.melt_conductivity_factor=2.0"]).stirring == 2.0
