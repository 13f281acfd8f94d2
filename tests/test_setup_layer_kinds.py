"""Layers of every kind: said in a setup, laid on the grid, probed, reported and drawn."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from small import COARSE

from nugget.errors import InputError
from nugget.field.electric import ElectricField
from nugget.field.heat import HeatField
from nugget.grid.stack import build_grid
from nugget.outcome.weld import run_weld
from nugget.setup import Setup, load_setup
from nugget.setup.layer_kinds import (
    KINDS,
    LayerKind,
    interior_names,
    is_electrode,
    is_interior,
    judged_as,
    kind_of,
)
from nugget.weld.march import March
from nugget.weld.model import WeldModel

RING = """{ role = "gasket", material = "polypropylene", thickness = "0.4 mm", radius = "7 mm", \
inner_radius = "2 mm"%s }"""
ROLL = """{ role = "roll", material = "jelly-roll-nmc", thickness = "10 mm" }"""


def cell(tmp_path: Path, *layers: str) -> Setup:
    """The built-in example with these layers between wall and roll."""
    file = tmp_path / "setup.toml"
    file.write_text(f"[cell]\ninterior = [{', '.join((*layers, ROLL))}]\n")
    return load_setup(file, [*COARSE, "pulse.0.duration=0.3 ms", "numerics.max_time=5 ms"])


def layer(role: str, material: str = "polypropylene", thickness: str = "0.2 mm") -> str:
    return f'{{ role = "{role}", material = "{material}", thickness = "{thickness}" }}'


def test_every_kind_is_said_once() -> None:
    assert all(name == kind.name for name, kind in KINDS.items())
    assert sum(kind.innermost for kind in KINDS.values()) == 1
    assert kind_of("lower tip") is KINDS["tip"]
    assert [is_electrode(role) for role in ("lower shank", "tip", "strip")] == [True, True, False]
    assert not is_interior("hottest")


@pytest.mark.parametrize("role", [name for name in interior_names() if not KINDS[name].innermost])
def test_every_interior_kind_is_welded_probed_and_reported(role: str, tmp_path: Path) -> None:
    material = {"gas": "air", "liquid": "electrolyte", "metal": "nickel-200", "polymer": "polypropylene"}
    weld = run_weld(cell(tmp_path, layer(role, material.get(KINDS[role].family, "polyethylene-separator"))))
    assert [b.role for b in weld.layers if is_interior(b.role)] == ["roll", role]
    peaks = weld.figures["layer_peaks"]
    assert list(peaks) == ["can_inner", role, "roll"]
    # In perfect contact both faces are one, but for rounding.
    assert peaks["can_inner"]["peak_K"] >= peaks[role]["peak_K"] * (1.0 - 1e-12)
    assert peaks[role]["peak_K"] > peaks["roll"]["peak_K"]


def test_a_kind_of_our_own_is_one_entry(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Grid, probes, figures, tables and pictures know it from there."""
    from nugget.outcome.report_rows import face_rows
    from nugget.plot.histories import histories_figure
    from nugget.plot.section import section_figure

    monkeypatch.setitem(KINDS, "vent", LayerKind("vent", "interior", "vent disc", "vent", "own top"))
    weld = run_weld(cell(tmp_path, layer("vent", "aluminium", "0.3 mm")))
    assert weld.figures["layer_peaks"]["vent"]["peak_K"] > weld.setup.ambient_K
    assert "Vent disc, top" in dict(face_rows(weld.setup, weld.figures))
    words = [text.get_text() for axes in section_figure(weld).axes for text in axes.texts]
    assert any(word.startswith("vent") for word in words)
    histories_figure(weld)


def test_an_unknown_kind_is_refused_with_those_that_there_are(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"cell\.interior\.0\.role: got 'lid', expected one of gap, disc, "):
        cell(tmp_path, layer("lid"))


def test_a_ring_must_be_wider_than_its_hole(tmp_path: Path) -> None:
    ring = layer("gasket")[:-1] + ', radius = "3 mm", inner_radius = "3 mm" }'
    with pytest.raises(
        InputError, match=r"inner_radius: got '3 mm', expected less than the outer radius, 3 mm"
    ):
        cell(tmp_path, ring)


def test_the_grid_has_a_face_at_the_hole_and_the_filling_in_it(tmp_path: Path) -> None:
    grid = build_grid(cell(tmp_path, RING % ', hole = "electrolyte"'))
    rows = grid.rows("gasket")
    names = np.array([m.name for m in grid.materials])[grid.material[rows]]
    assert np.abs(grid.r_faces - 2e-3).min() < 1e-9
    hole, ring = grid.r < 2e-3, (grid.r > 2e-3) & (grid.r < 7e-3)
    assert (names[:, hole] == "electrolyte").all()
    assert (names[:, ring] == "polypropylene").all()
    assert not grid.active[rows][:, grid.r > 7e-3].any()
    volume = grid.volume[rows][:, ring].sum()
    assert volume == pytest.approx(math.pi * (7e-3**2 - 2e-3**2) * 0.4e-3)


def test_air_fills_a_hole_unless_said_otherwise(tmp_path: Path) -> None:
    setup = cell(tmp_path, RING % "")
    ring = next(part for part in setup.base if part.role == "gasket")
    assert ring.hole is not None
    assert ring.hole.name == "air"


def test_an_empty_hole_is_inactive_and_loses_no_heat_to_the_air(tmp_path: Path) -> None:
    setup = cell(tmp_path, RING % "")
    base = tuple(replace(part, hole=None) for part in setup.base)
    grid = build_grid(replace(setup.si, base=base))
    rows, hole = grid.rows("gasket"), grid.r < 2e-3
    assert not grid.active[rows][:, hole].any()
    heat = HeatField(grid, 293.0, 293.0, 10.0)
    assert (heat.g_air[rows.stop, hole] == 0.0).all()
    assert (heat.g_air[rows.start - 1, hole] == 0.0).all()
    *_, last = March(replace(setup.si, base=base))
    roll = last.temperature[grid.rows("roll")]
    assert last.temperature[grid.active].max() > setup.ambient_K + 10.0
    assert np.abs(roll - setup.ambient_K).max() < 0.1, "nothing crosses the hole"


def test_a_ring_of_metal_warms_the_roll_more_than_one_of_plastic(tmp_path: Path) -> None:
    """Where it lies, not in its hole: heat crosses the ring."""
    tops = {}
    for metal in ("polypropylene", "copper"):
        weld = run_weld(
            cell(tmp_path, (RING % "").replace("polypropylene", metal).replace('"2 mm"', '"0.3 mm"'))
        )
        tops[metal] = weld.figures["layer_peaks"]["roll"]["peak_K"]
    assert tops["copper"] > tops["polypropylene"] + 1.0


def test_a_conductor_that_touches_no_ground_floats(tmp_path: Path) -> None:
    """A gas gap above a nickel tab: the tab carries nothing, and the rest is as without it."""
    setup = cell(tmp_path, layer("gap", "air"), layer("tab", "nickel-200", "0.1 mm"))
    model = WeldModel(setup)
    contacts = model.first_touch(np.full(model.grid.shape, setup.ambient_K))
    sigma = model.cells.conductivities(np.full(model.grid.shape, setup.ambient_K))[2]
    solution = model.solve_electric(sigma, contacts)
    tab = model.grid.rows("tab")
    assert (solution.heat[tab] == 0.0).all()
    lone = build_grid(cell(tmp_path, layer("gap", "air"), layer("disc", "polypropylene", "0.1 mm")))
    other = WeldModel(setup, lone)
    touch = other.first_touch(np.full(lone.shape, setup.ambient_K))
    alone = other.solve_electric(other.cells.conductivities(np.full(lone.shape, setup.ambient_K))[2], touch)
    assert solution.resistance_ohm == pytest.approx(alone.resistance_ohm, rel=1e-12)
    weld = run_weld(setup)
    assert weld.figures["nugget_diameter_m"] is not None


def test_a_conductor_right_under_the_wall_shares_its_current(tmp_path: Path) -> None:
    touching = cell(tmp_path, layer("tab", "copper", "0.1 mm"), layer("disc"))
    inside = ElectricField(build_grid(touching))
    rows = inside.grid.rows("tab")
    assert rows.start >= inside.rows.start
    assert inside.inside[rows.start - inside.rows.start, 0]


@pytest.mark.parametrize(
    ("role", "family", "melts", "judged"),
    [
        ("disc", "polymer", True, "disc"),
        ("disc", "polymer", False, "separator"),  # nobody knows when it melts
        ("disc", "composite", False, "separator"),
        ("gap", "composite", True, "separator"),
        ("tab", "composite", False, "separator"),
        ("film", "composite", False, "separator"),
        ("gasket", "liquid", False, "film"),
        ("gap", "liquid", False, "film"),
        ("gap", "polymer", True, "disc"),
        ("disc", "metal", True, "tab"),
        ("separator", "polymer", True, "separator"),
        ("roll", "metal", True, "roll"),
        ("", "liquid", False, "film"),
        ("", "gas", False, "gap"),
        ("", "composite", False, "separator"),
    ],
)
def test_a_layer_is_judged_as_what_its_material_is(role: str, family: str, melts: bool, judged: str) -> None:
    assert judged_as(role, family, melts) == judged


@pytest.mark.parametrize("role", ["disc", "gap", "tab", "film", "cap", "gasket"])
def test_no_name_lowers_what_a_separator_is_judged_by(role: str, tmp_path: Path) -> None:
    honest = run_weld(cell(tmp_path, layer("separator", "polyethylene-separator"))).figures
    named = run_weld(cell(tmp_path, layer(role, "polyethylene-separator"))).figures
    # Some kinds are as wide as the cap by default, which hardly changes what the middle does.
    assert named["interior_peak_K"] == pytest.approx(honest["interior_peak_K"], rel=1e-3)
    assert honest["interior_peak_K"] > honest["roll_peak_K"] + 20.0


def test_electrolyte_in_the_hole_of_a_disc_is_judged_as_a_film(tmp_path: Path) -> None:
    disc = layer("disc").replace(" }", ', inner_radius = "2 mm", hole = "electrolyte" }')
    setup = cell(tmp_path, disc, layer("separator", "polyethylene-separator"))
    assert "film_temperature" in {limit.id for limit in setup.limits}
    found = run_weld(setup).figures
    assert list(found["layer_peaks"]) == ["can_inner", "disc", "film", "separator", "roll"]
    assert found["film_peak_K"] > found["disc_peak_K"], "the spot is over the hole"


def test_a_polymer_melts_from_its_top_down(tmp_path: Path) -> None:
    """The metal below it is not counted."""
    setup = cell(tmp_path, layer("disc"), layer("tab", "nickel-200", "0.1 mm"))
    setup = setup.with_({"pulse.0.duration": 3e-3, "numerics.max_time": 0.06})
    found = run_weld(setup).figures
    assert 0.0 < found["disc_melted_share"] < 1.0
    assert found["disc_melted_depth_m"] == pytest.approx(found["disc_melted_share"] * 0.2e-3)
    assert found["disc_above_s"] > 0.0
