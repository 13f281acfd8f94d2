"""Statements without marches: made-up welds whose figures follow their inputs by known rules."""

from __future__ import annotations

from nugget.setup import Setup
from nugget.study.durations.criteria import criteria_of
from nugget.study.statement.samples import Sample

SAMPLE = "nugget.study.statement.statement.sample"
"""What `monkeypatch.setattr` replaces by `fake`."""


def fake(setup: Setup) -> Sample:
    """A weld whose joint follows the force, and the heat inside the hardness factor."""
    size_m = 0.66e-3 * setup.force_N / 30.0
    peak_K = 300.0 + 60.0 / setup.contact.hardness_factor
    target_m = setup.joint.minimum_diameter_m
    inside = setup.file.cell.kind == "cell"
    values: dict[str, float | None] = {limit.id: 0.0 for limit in setup.limits}
    values = {id: value if inside or not id.startswith("interior") else None for id, value in values.items()}
    excess = {one.key: -1.0 for one in criteria_of(setup) if one.kind != "bond"}
    excess["minimum_diameter"] = size_m / target_m - 1.0
    if "interior_temperature" in values and inside:
        values["interior_temperature"] = peak_K
        excess["interior_temperature"] = (peak_K - 370.0) / 70.0
    figures = {
        "nugget_diameter_m": size_m,
        "minimum_diameter_m": target_m,
        "bonded_diameter_m": size_m,
        "can_penetration": 0.2,
        "can_inner_peak_K": 4.0 * peak_K,
        "peak_current_A": 1400.0,
        "weld_energy_J": 20.0,
    } | ({"interior_peak_K": peak_K} if inside else {})
    broken = ("interior_temperature",) if inside and peak_K > 370.0 else ()
    return Sample(figures, values, broken, True, "", excess)
