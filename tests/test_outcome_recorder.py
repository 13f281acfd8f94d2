"""What one march says, step by step."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from small import Marched, coarse

from nugget.merit.figure import FIGURES
from nugget.outcome.recorder import Recorder
from nugget.weld.march import March


@pytest.fixture(scope="module")
def recorder(melting: Marched) -> Recorder:
    march, states = melting
    found = Recorder(march)
    for state in states:
        found.add(state)
    return found


def test_every_column_has_one_entry_per_moment(recorder: Recorder, melting: Marched) -> None:
    history = recorder.history()
    assert {len(column) for column in history.values()} == {len(melting[1])}
    assert all(np.isfinite(column).all() for column in history.values())
    assert history["time_s"].tolist() == [state.time_s for state in melting[1]]
    assert history["current_A"].tolist() == [state.circuit.current_A for state in melting[1]]


def test_the_interior_of_a_cell_is_followed(recorder: Recorder) -> None:
    assert {"can_inner_K", "disc_K", "roll_K"} <= set(recorder.history())


def test_one_side_melts_before_both_and_metal_bonds_before_it_melts(recorder: Recorder) -> None:
    history = recorder.history()
    assert (history["nugget_diameter_m"] <= history["one_side_melt_diameter_m"] + 1e-12).all()
    assert (history["nugget_diameter_m"] <= history["bonded_diameter_m"] + 1e-12).all()
    assert history["nugget_diameter_m"].max() > 0.1e-3
    assert (history["nugget_inner_diameter_m"] <= history["nugget_outer_diameter_m"]).all()
    assert (history["nugget_outer_diameter_m"] <= 2.0 * history["contact_radius_m"] + 1e-12).all()


def test_metal_that_the_tip_has_only_just_reached_still_lies_beside_it(melting: Marched) -> None:
    """A contact that jumps over molten metal chills it at once: that is no strip melted through."""
    march, states = melting
    model, cold = march.model, states[0]
    column = int(np.flatnonzero(cold.contacts[0].contact_fraction == 0.0)[0])
    rows = model.grid.rows("strip")
    enthalpy, temperature = cold.enthalpy.copy(), cold.temperature.copy()
    enthalpy[rows, column] = 1.1 * model.tables.liquidus_J_m3[model.index[rows, column]]
    temperature[rows, column] = 1.1 * model.tables.melting_K[model.index[rows, column]]
    tip, *others = cold.contacts
    held = replace(
        tip,
        contact_fraction=np.ones_like(tip.contact_fraction),
        above_K=temperature[rows.stop],
        below_K=temperature[rows.stop - 1],
    )
    narrow = replace(cold, enthalpy=enthalpy, temperature=temperature)
    wide = replace(narrow, contacts=(held, *others))
    recorder = Recorder(march)
    for microseconds, state in ((0.0, narrow), (1.0, wide), (2.0, wide), (30.0, wide)):
        recorder.add(replace(state, time_s=state.time_s + 1e-6 * microseconds))
    beside, under = (recorder.history()[f"strip_{name}"] for name in ("beside_tip", "penetration"))
    assert beside[:3] == pytest.approx(1.0, abs=0.1)
    assert (under[:3] < 0.1).all()
    assert under[3] == pytest.approx(1.0, abs=0.1)
    assert beside[3] < 0.1


def test_heat_in_the_interior_only_comes_from_the_weld(recorder: Recorder) -> None:
    heat = recorder.history()["interior_heat_J"]
    assert heat[0] == 0.0
    assert heat[-1] > heat[len(heat) // 2] >= 0.0
    assert heat[-1] < recorder.history()["weld_J"][-1]


def test_heat_of_the_tips_is_their_enthalpy(recorder: Recorder, melting: Marched) -> None:
    model, first, last = recorder.model, melting[1][0], melting[1][-1]
    rows = [r for b in model.grid.layer_rows if b.role in ("tip", "shank") for r in range(b.start, b.end)]
    gained = ((last.enthalpy - first.enthalpy) * model.heat.volume)[rows].sum()
    assert recorder.tip_heat_J() == pytest.approx(gained)
    assert 0.0 < gained < recorder.history()["weld_J"][-1]


def test_snapshots_are_taken_at_their_moments(recorder: Recorder, melting: Marched) -> None:
    history = recorder.history()
    hottest = recorder.snapshots["hottest"]
    assert hottest.time_s == history["time_s"][np.argmax(history["hottest_K"])]
    assert hottest.temperature_K[recorder.model.grid.active].max() == history["hottest_K"].max()
    inmost = history[FIGURES["interior_peak_K"].column]
    assert recorder.snapshots["interior peak"].time_s == history["time_s"][np.argmax(inmost)]


def test_the_hottest_of_each_material_is_kept(recorder: Recorder, melting: Marched) -> None:
    grid = recorder.model.grid
    for k in range(len(grid.materials)):
        highest = max(float(state.temperature[grid.material == k].max()) for state in melting[1])
        assert recorder.hottest_by_material[k] == highest


def test_a_run_is_not_done_while_a_pulse_is_on_or_the_roll_still_warms(recorder: Recorder) -> None:
    assert not recorder.done()


def test_a_run_is_done_when_every_probe_has_passed() -> None:
    march = March(coarse("pulse.0.duration=0.2 ms", until_ms=20))
    recorder = Recorder(march)
    for state in march:
        recorder.add(state)
        if recorder.done():
            break
    history = recorder.history()
    rise = history["can_inner_K"] - march.setup.ambient_K
    assert history["time_s"][-1] > 0.2e-3
    assert rise[-1] <= 0.95 * rise.max()
    assert (rise[np.argmax(rise) : -1] > 0.95 * rise.max()).all(), "and no sooner"


def test_a_mirrored_weld_reports_its_lower_half() -> None:
    """Both sheets are the same sheet: what melts above the faying surface melts below it."""
    march = March(coarse(name="sheets"))
    recorder, rest = Recorder(march), march.begin
    h, strip = rest.enthalpy.copy(), march.model.grid.rows("strip")
    liquid = recorder.melt.solidus + 0.8 / recorder.melt.per_span
    h[strip.start, :5] = liquid[strip.start, :5]
    recorder.add(replace(rest, enthalpy=h))
    history = recorder.history()
    assert 0.0 < history["can_penetration"][0] < 1.0
    assert history["can_penetration"][0] == history["strip_penetration"][0]
