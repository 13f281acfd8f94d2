"""Figures of merit of one weld: they follow from the history, and the energies add up."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from small import Marched, coarse, matter

from nugget.api import Weld
from nugget.outcome.figures import figures_of
from nugget.outcome.interior import time_above
from nugget.outcome.joint import peel_force, shear_force
from nugget.outcome.recorder import Recorder
from nugget.outcome.registry.damage_figures import _sticking_ratio
from nugget.outcome.weld import run_weld
from nugget.setup import default_setup, load_setup
from nugget.weld.march import March

ASKED = {
    *("nugget_diameter_m", "one_side_melt_diameter_m", "bonded_diameter_m", "can_penetration"),
    *("strip_through_ratio", "expulsion", "can_inner_peak_K", "interior_peak_K", "interior_peak_time_s"),
    *("weld_energy_J", "source_energy_J", "peak_current_A", "energy_residual", "circuit_residual"),
    *("cells", "steps", "peak_reached"),
}


def test_what_was_asked_for_is_there(weld: Weld) -> None:
    assert set(weld.figures) >= ASKED


def test_figures_are_json_without_a_nan(weld: Weld) -> None:
    again = json.loads(json.dumps(weld.figures, allow_nan=False))
    assert again == weld.figures


@pytest.mark.parametrize(
    ("figure", "column"),
    [
        ("nugget_diameter_m", "nugget_diameter_m"),
        ("one_side_melt_diameter_m", "one_side_melt_diameter_m"),
        ("bonded_diameter_m", "bonded_diameter_m"),
        ("can_penetration", "can_penetration"),
        ("strip_penetration", "strip_penetration"),
        ("can_inner_peak_K", "can_inner_K"),
        ("interior_peak_K", "separator_K"),
        ("hottest_K", "hottest_K"),
        ("peak_current_A", "current_A"),
        ("interior_heat_J", "interior_heat_J"),
    ],
)
def test_maxima_are_those_of_the_history(weld: Weld, figure: str, column: str) -> None:
    """A smooth peak between two samples may lie a little above both; a joint ends in a kink."""
    highest = float(weld.history[column].max())
    assert highest > 0.0
    above = 1.005 if figure.endswith("_K") else 1.0
    assert highest <= weld.figures[figure] <= highest * above


@pytest.mark.parametrize("name", ["copper-coupon", "thin-pile"])
def test_a_face_is_reported_no_hotter_than_it_was(name: str) -> None:
    """Both end their pulse in a kink, through which a parabola rose by hundreds of kelvins."""
    setup = load_setup(Path(__file__).parent / "data" / f"{name}.toml")
    weld = run_weld(setup)
    for layer, found in weld.layer_peaks.items():
        highest = float(weld.history[f"{layer}_K"].max())
        assert highest <= found["peak_K"] <= highest + setup.numerics.tolerance_K
    assert weld.can_inner_peak_K == weld.layer_peaks["can_inner"]["peak_K"]


def test_the_onset_of_melting_is_the_first_fused_moment(weld: Weld) -> None:
    fused = weld.history["nugget_diameter_m"] > 0.0
    assert weld.melting_onset_s == weld.history["time_s"][fused][0]
    assert 0.0 < weld.melting_onset_s < 2.5e-3


def test_the_interior_peaks_after_the_pulse(weld: Weld) -> None:
    assert weld.peak_reached
    assert weld.interior_peak_time_s > 10.0 * 2.5e-3
    assert weld.setup.ambient_K < weld.interior_peak_K < weld.can_inner_peak_K
    assert weld.can_inner_peak_time_s < weld.interior_peak_time_s
    assert set(weld.layer_peaks) == {"can_inner", "disc", "separator", "roll"}


def test_time_above_the_limit_is_that_of_the_winding(weld: Weld) -> None:
    limit = next(k.value for k in weld.setup.limits if k.figure == "interior_peak_K")
    assert weld.time_above_limit_s == time_above(weld.history["time_s"], weld.history["interior_K"], limit)
    assert 0.0 < weld.interior_dose < 1.0


def test_energies_of_the_pair_add_up(weld: Weld) -> None:
    """Source energy = source, leads, switch, load and clamp; the load is two spots."""
    parts = ("source_loss_J", "lead_loss_J", "switch_loss_J", "weld_energy_J", "clamp_energy_J")
    assert sum(weld.figures[part] for part in parts) == pytest.approx(weld.source_energy_J, rel=2e-3)
    assert weld.circuit_residual < 2e-3
    assert weld.energy_residual < 1e-9
    lost = weld.holder_heat_J + weld.air_heat_J + weld.outside_heat_J
    assert 0.0 < lost < weld.weld_energy_J
    assert 0.1 * weld.weld_energy_J < weld.tip_heat_J + weld.holder_heat_J
    assert 0.0 < weld.tip_heat_J < weld.weld_energy_J - lost
    assert weld.outside_heat_J > 0.0


def test_losses_are_those_of_both_spots(weld: Weld, melting: Marched) -> None:
    """Series, opposed and mirrored count the whole weld; indirect has its heat at one tip only."""
    march, states = melting
    recorder = Recorder(march)
    recorder.add(states[-1])
    found = figures_of(recorder, False)
    assert found["outside_heat_J"] == pytest.approx(2.0 * states[-1].energy.outside_J)
    assert found["holder_heat_J"] == pytest.approx(2.0 * states[-1].energy.holder_J)
    assert found["peak_reached"] is False


def test_the_wall_that_is_left(weld: Weld) -> None:
    assert 0.0 < weld.can_penetration < 1.0
    assert weld.wall_left_m == pytest.approx((1.0 - weld.can_penetration) * 0.3e-3)
    assert not weld.burn_through


def test_what_the_joint_holds_in_shear_and_in_peel(weld: Weld) -> None:
    """Per spot by the laws of the joint, per pair in peel."""
    strip = weld.setup.strip[0]
    strength = strip.material.tensile_strength_Pa
    assert strength is not None
    given = weld.nugget_diameter_m, strip.thickness_m, strength
    assert weld.shear_force_N == pytest.approx(shear_force(*given))
    assert weld.peel_force_N == pytest.approx(peel_force(*given))
    assert weld.peel_force_pair_N == pytest.approx(2.0 * weld.peel_force_N)
    assert weld.faying_pair == "nickel-200 on can-steel: they mix"


def test_how_far_the_tip_sinks(weld: Weld) -> None:
    deep = (0.5 * weld.tip_contact_diameter_m) ** 2 / (2.0 * weld.setup.electrode.dome_radius_m)
    assert weld.indentation_m == pytest.approx(deep, rel=1e-6)
    assert weld.indentation_share == pytest.approx(deep / 0.12e-3, rel=1e-6)
    assert weld.strip_left_m == pytest.approx(0.12e-3 - deep, rel=1e-6)


def made(melting: Marched, enthalpy: np.ndarray | None = None, **setup: object) -> dict[str, object]:
    """Figures of a single made-up moment."""
    march, states = melting
    other = March(replace(march.setup.si, **setup), march.model)  # type: ignore[arg-type]
    recorder = Recorder(other)
    recorder.setup = other.setup
    recorder.add(states[0] if enthalpy is None else replace(states[0], enthalpy=enthalpy))
    return figures_of(recorder, True)


def test_a_strip_without_a_known_strength_has_no_force(melting: Marched) -> None:
    strip = melting[0].setup.strip[0]
    assert made(melting, strip=(replace(strip, material=matter()),))["shear_force_N"] is None


def test_nothing_melted_has_no_onset(melting: Marched) -> None:
    found = made(melting)
    assert found["melting_onset_s"] is None
    assert found["nugget_diameter_m"] == found["can_penetration"] == 0.0
    assert not found["expulsion"]


@pytest.mark.parametrize(("role", "through"), [("strip", False), ("can", True)])
def test_boiling_is_expulsion_and_in_the_wall_burn_through(
    melting: Marched, role: str, through: bool
) -> None:
    march, states = melting
    h = states[0].enthalpy.copy()
    place = march.model.grid.rows(role).start, 0
    h[place] = march.model.tables.boiling_J_m3[march.model.grid.material[place]] + 1e9
    found = made(melting, h)
    assert found["vapour_energy_J"] > 0.0  # type: ignore[operator]
    assert found["expulsion"] is True
    assert found["burn_through"] is through


def test_a_molten_wall_is_burn_through_and_a_molten_strip_is_melted_through(melting: Marched) -> None:
    march, states = melting
    model, h = march.model, states[0].enthalpy.copy()
    tables, index = model.tables, model.index
    can, strip = model.grid.rows("can"), model.grid.rows("strip")
    for rows in (can, strip):
        h[rows, :3] = tables.liquidus_J_m3[index[rows, :3]]
    found = made(melting, h)
    assert found["can_penetration"] == pytest.approx(1.0)
    assert found["wall_left_m"] == pytest.approx(0.0, abs=1e-12)
    assert found["burn_through"] is True
    across = 2.0 * model.grid.r[2]
    assert found["strip_through_ratio"] == pytest.approx(across / 0.12e-3, rel=0.2)
    assert found["tip_melt_diameter_m"] == pytest.approx(across, rel=0.2)
    froze = 0.25 * math.pi * found["tip_melt_diameter_m"] ** 2 * 380e6 / march.setup.force_N  # type: ignore[operator]
    assert found["tip_sticking_ratio"] == pytest.approx(froze)
    assert found["strip_molten_beside_tip"] is False
    h[can.start] = states[0].enthalpy[can.start]
    assert made(melting, h)["burn_through"] is False


def test_materials_past_their_tables_are_named(weld: Weld, melting: Marched) -> None:
    march, states = melting
    metals = {"nickel-200", "can-steel", "cucrzr"}
    assert metals.isdisjoint(weld.held_past_table)
    recorder = Recorder(march)
    recorder.add(states[0])
    recorder.hottest_by_material[:] = march.model.tables.table_end_K + 2.0
    names = [material.name for material in march.model.grid.materials]
    assert figures_of(recorder, True)["held_past_table"] == names


def test_a_coupon_has_no_interior_to_report() -> None:
    found = run_weld(coarse("pulse.0.duration=0.1 ms", until_ms=0.3)).figures
    nothing = ("interior_peak_K", "interior_peak_time_s", "interior_dose", "time_above_limit_s")
    assert [found[name] for name in nothing] == [None] * 4
    assert found["can_inner_peak_K"] > 293.0
    assert found["interior_heat_J"] == 0.0
    assert found["peak_reached"] is False


def test_what_freezes_to_the_tip_is_never_weaker_for_being_unknown() -> None:
    """The strongest layer counts, and hard strip where a strength is not known."""
    history = {"tip_melt_diameter_m": np.array([0.3e-3])}
    plain = default_setup().si
    metal = plain.strip[0].material

    def ratio(*strengths: float | None) -> float:
        layers = tuple(
            replace(plain.strip[0], material=replace(metal, name=f"metal {one}", tensile_strength_Pa=one))
            for one in strengths
        )
        return float(_sticking_ratio(history, replace(plain, strip=layers))[0])

    assert ratio(380e6, 200e6) == ratio(200e6, 380e6) == ratio(380e6)
    assert ratio(None) > ratio(380e6) > 0.0
