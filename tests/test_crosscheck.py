"""The cross-check with FiPy: it passes on the model as it is, and fails on one that is wrong."""

from __future__ import annotations

import dataclasses
import json
import pickle
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import nugget
from nugget.cli.main import main
from nugget.crosscheck import check
from nugget.crosscheck.check import ALLOWED, CrossCheckError, cross_check
from nugget.crosscheck.fipy_fields import exposed_area, import_fipy
from nugget.crosscheck.properties import EnthalpyCurve
from nugget.grid.stack import build_grid
from nugget.setup import Setup, default_setup, preset
from nugget.weld.model import WeldModel

COARSE = ["numerics.refinement=0.25", "hold_time=0.1 ms"]
SHORT = [*COARSE, "pulse.0.duration=0.1 ms", "numerics.max_time=0.15 ms", "leads.inductance=0 uH"]
"""Heating, melting and cooling in some twenty steps, each of which is compared."""
FLOATING = (
    'cell.interior=[{role="disc", material="polypropylene", thickness="0.1 mm"},'
    ' {role="disc", material="copper", thickness="0.2 mm"},'
    ' {role="roll", material="jelly-roll-nmc", thickness="20 mm"}]'
)
"""A copper disc between two insulators: a conductor that nothing feeds."""
RING = FLOATING.replace('material="copper"', 'material="polypropylene", inner_radius="2 mm"')
ARRANGEMENTS = {
    "across, until the strip melts and cools": default_setup(
        ["numerics.refinement=0.3", "pulse.0.duration=0.2 ms", "hold_time=1 ms"]
    ),
    "across": default_setup(SHORT),
    "along, positive end": preset("18650-positive", [*SHORT, "arrangement.kind=series along"]),
    "indirect": default_setup([*SHORT, "arrangement.kind=indirect"]),
    "opposed, mirrored, sine current": preset(
        "sheets", [*COARSE, "pulse=[{half_cycles=2}]", "numerics.max_time=20 ms"]
    ),
    "opposed, mirrored, fired thyristor": preset(
        "sheets",
        [
            *COARSE,
            'source={kind="transformer", open_circuit_voltage_rms="3 V", winding_resistance="0.2 mohm",'
            ' leakage_inductance="1 uH", firing_angle="60 deg", frequency="400 Hz"}',
            "pulse=[{half_cycles=1}]",
            "numerics.max_time=1.5 ms",
            "numerics.tolerance=20 K",
        ],
    ),
    "capacitor bank": default_setup(
        [
            *SHORT,
            'source={kind="capacitor bank", capacitance="0.2 F", start_voltage="9 V",'
            ' series_resistance="3 mohm"}',
        ]
    ),
    "opposed, not mirrored": default_setup([*SHORT, "cell.kind=coupon", "arrangement.kind=opposed"]),
    "two pulses, inductance": default_setup(
        [
            *COARSE,
            'pulse=[{duration="0.1 ms", cool_time="0.05 ms"}, {duration="0.05 ms"}]',
            "leads.inductance=5 uH",
            "numerics.tolerance=20 K",
            "numerics.max_time=0.22 ms",
        ]
    ),
    "films": default_setup([*SHORT, "contact.tip.film=2e-11 ohm m2", "contact.faying.film=2e-11 ohm m2"]),
    "ring below the wall": default_setup([*SHORT, RING]),
    "floating conductor": default_setup([*SHORT, FLOATING]),
}


@pytest.mark.parametrize("name", ARRANGEMENTS)
def test_the_model_agrees_with_fipy_in_every_arrangement(name: str) -> None:
    found = cross_check(ARRANGEMENTS[name])
    assert found.passed
    assert found.steps > 10
    names = " ".join(d.name for d in found.differences)
    for part in ("load", "potential", "current", "faying contact", "heat made", "heat stored"):
        assert part in names
    # Not the same numbers by the same hands: two assemblies differ in rounding and in their tables.
    assert any(d.ours != d.theirs for d in found.differences)


class _Wrong(WeldModel):
    """Interfaces that resist but heat only half as much as they should."""

    def heat_W(self, solution: Any, *rest: Any) -> Any:
        half = tuple(0.5 * q for q in solution.interface_heat)
        return super().heat_W(dataclasses.replace(solution, interface_heat=half), *rest)


def _electric(setup: Setup) -> WeldModel:
    """Radial paths of the current that are a tenth too long."""
    model = WeldModel(setup)
    faces = model.electric.faces
    model.electric.faces = dataclasses.replace(faces, half_r=1.1 * faces.half_r)
    return model


def _heat(setup: Setup) -> WeldModel:
    """Axial paths of the heat that are a tenth too long."""
    model = WeldModel(setup)
    faces = model.heat.faces
    model.heat.faces = dataclasses.replace(faces, half_z=1.1 * faces.half_z)
    return model


def _interface(setup: Setup) -> WeldModel:
    return _Wrong(setup)


@pytest.mark.parametrize("wrong", [_electric, _heat, _interface])
def test_a_wrong_coefficient_in_the_model_fails_loudly(wrong: Callable[[Setup], WeldModel]) -> None:
    setup = ARRANGEMENTS["films"]
    with pytest.raises(CrossCheckError, match=r"the cross-check with FiPy failed: .* differs by") as failure:
        cross_check(setup, model=wrong(setup))
    assert failure.value.check.worst.share > ALLOWED


def test_the_error_travels_between_processes() -> None:
    difference = check.Difference("load", "ohm", 1e-3, 1.0, np.nan, np.nan)
    failed = check.CrossCheck((difference,), 3, 2e-3)
    assert not failed.passed
    error = pickle.loads(pickle.dumps(CrossCheckError(failed)))
    assert str(error) == str(CrossCheckError(failed))


def test_every_step_is_reported(capsys: pytest.CaptureFixture[str]) -> None:
    seen: list[int] = []
    found = nugget.cross_check(ARRANGEMENTS["across"], on_step=lambda state: seen.append(state.step))
    assert seen == list(range(1, found.steps + 1))


def test_the_record_of_a_pulse_keeps_the_differences(capsys: pytest.CaptureFixture[str]) -> None:
    options = [part for one in SHORT for part in ("--set", one)]
    assert main(["pulse", "--cross-check", "--json", *options]) == 0
    record = json.loads(capsys.readouterr().out)["cross_check"]
    assert record["allowed_share"] == ALLOWED
    assert max(d["share"] for d in record["differences"]) <= ALLOWED


def test_a_failed_cross_check_ends_the_command(
    capsys: pytest.CaptureFixture[str], tmp_path: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(check, "ALLOWED", 1e-12)
    options = [part for one in SHORT for part in ("--set", one)]
    assert main(["pulse", "--cross-check", "--out", str(tmp_path / "out"), *options]) == 1
    said = capsys.readouterr()
    assert "repeated with FiPy" in said.out
    assert "heat stored" in said.out
    assert "TOO FAR APART" in said.out
    *progress, last = said.err.splitlines()
    told = ("As set up", "nugget: about ")  # the second where the machine is busy and it takes over a minute
    assert all(line.startswith(told) for line in progress)
    assert "cross-check with FiPy failed" in last
    assert not (tmp_path / "out").exists()


def test_fipy_does_not_see_the_command_line(monkeypatch: pytest.MonkeyPatch) -> None:
    line = ["nugget", "pulse", "--cross-check"]
    monkeypatch.setattr(sys, "argv", line)
    import_fipy()
    assert sys.argv is line


def test_the_air_side_of_a_rounded_tip_is_counted_face_by_face() -> None:
    """Top of a sheet outside the tip, underside of nothing, sides of tip and shank."""
    grid = build_grid(preset("coupon", SHORT))
    area = exposed_area(grid)
    sheet = next(layer for layer in grid.layer_rows if layer.role == "can")
    assert area[sheet.start].sum() == pytest.approx(np.pi * sheet.radius_m**2, rel=1e-9)
    shank = next(layer for layer in grid.layer_rows if layer.role == "shank")
    height = grid.dz[shank.start : shank.end].sum()
    radius = grid.r_faces[np.count_nonzero(grid.active[shank.end - 1])]
    assert area[shank.start + 1 : shank.end].sum() == pytest.approx(
        2.0 * np.pi * radius * (height - grid.dz[shank.start]), rel=1e-9
    )


def test_a_boiling_cell_stands_still() -> None:
    strip = default_setup().strip[0].material
    curve = EnthalpyCurve(strip)
    assert strip.boiling_K is not None
    above = curve.h[-1] + np.array([0.0, 1e9, 1e10])
    assert curve.temperature(above) == pytest.approx(curve.T[-1], abs=0.3)
    assert curve.enthalpy(curve.temperature(above)) == pytest.approx(above, rel=1e-9)
