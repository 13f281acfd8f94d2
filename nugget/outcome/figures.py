"""Figures of merit of one march."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.outcome.hardware import hardware_figures
from nugget.outcome.interior import dose, peak, time_above
from nugget.outcome.recorder import Recorder
from nugget.setup.description import Setup

BURN_THROUGH_SHARE = 0.999
"""A wall whose melted share reaches this is liquid to its inner face."""


def figures_of(recorder: Recorder, peak_reached: bool) -> dict[str, Any]:
    """Everything that the contract's section 5 asks of one march, JSON-ready, SI in the names."""
    history, setup = recorder.history(), recorder.setup
    last = recorder.last
    assert last is not None
    energy = last.energy
    factor = recorder.model.load_ohm(1.0) if setup.arrangement != "indirect" else 1.0
    found: dict[str, Any] = {"title": setup.title, "arrangement": setup.arrangement}
    found |= _joint(setup, history)
    found |= _interior(setup, history)
    found |= hardware_figures(setup, history, energy)
    resistive = energy.action_A2s * setup.circuit.series_ohm + energy.returned_J + energy.clamp_J
    drawn = energy.drawn_J
    found |= {
        "weld_energy_J": energy.returned_J,
        "holder_heat_J": factor * energy.holder_J,
        "tip_heat_J": factor * recorder.tip_heat_J(),
        "air_heat_J": factor * energy.air_J,
        "outside_heat_J": factor * energy.outside_J,
        "energy_residual": energy.worst_J / energy.load_J if energy.load_J > 0.0 else 0.0,
        "circuit_residual": abs(drawn - resistive) / abs(drawn) if drawn else 0.0,
        "peak_reached": peak_reached,
        "end_time_s": last.time_s,
        "cells": int(recorder.model.grid.active.sum()),
        "steps": last.step,
        "rejected_steps": last.rejected,
        "held_past_table": _held(recorder, history),
    }
    return found


def _joint(setup: Setup, history: dict[str, FloatArray]) -> dict[str, Any]:
    t = history["time_s"]
    # The largest step, not a parabola through it: a joint ends in a kink where the current stops.
    fused, one_side, bonded = (
        float(history[f"{name}_diameter_m"].max()) for name in ("fused", "one_side_melt", "bonded")
    )
    at = int(np.argmax(history["fused_diameter_m"]))
    wall_m = sum(layer.thickness_m for layer in setup.base if layer.role == "can")
    strip_m = sum(layer.thickness_m for layer in setup.strip)
    can, strip = float(history["can_penetration"].max()), float(history["strip_penetration"].max())
    vapour = float(history["vapour_J"].max())
    onset = t[history["fused_diameter_m"] > 0.0]
    return {
        "fused_diameter_m": fused,
        "fused_outer_diameter_m": float(history["fused_outer_diameter_m"][at]),
        "fused_inner_diameter_m": float(history["fused_inner_diameter_m"][at]),
        "one_side_melt_diameter_m": one_side,
        "bonded_diameter_m": bonded,
        "contact_diameter_m": 2.0 * float(history["contact_radius_m"].max()),
        "tip_contact_diameter_m": 2.0 * float(history["tip_radius_m"].max()),
        "target_diameter_m": setup.joint.target_diameter_m,
        "melting_onset_s": float(onset[0]) if onset.size else None,
        "can_penetration": can,
        "wall_left_m": (1.0 - can) * wall_m,
        "strip_penetration": strip,
        "strip_melted_through": strip >= BURN_THROUGH_SHARE,
        "strip_molten_beside_tip": float(history["strip_beside_tip"].max()) >= BURN_THROUGH_SHARE,
        "expulsion": bool(history["rim_molten"].any()) or vapour > 0.0,
        "burn_through": can >= BURN_THROUGH_SHARE or vapour > 0.0,
        "vapour_energy_J": vapour,
        "hottest_K": float(history["hottest_K"].max()),
        "pull_out_force_N": _pull_out(setup, fused, strip_m),
    }


def _pull_out(setup: Setup, diameter_m: float, thickness_m: float) -> float | None:
    """Force that tears a button out of the strip: pi d t sigma / sqrt 3, per spot [N].

    Shear of the strip around the fused zone at the von Mises shear strength; common practice,
    no source, and blind to the heat-affected zone.
    """
    strength = min((s.material.tensile_strength_Pa or math.inf for s in setup.strip), default=math.inf)
    if not math.isfinite(strength):
        return None
    return math.pi * diameter_m * thickness_m * strength / math.sqrt(3.0)


def _interior(setup: Setup, history: dict[str, FloatArray]) -> dict[str, Any]:
    t = history["time_s"]
    found: dict[str, Any] = {"can_inner_peak_K": None, "interior_peak_K": None, "interior_peak_time_s": None}
    found |= {"interior_dose": None, "time_above_limit_s": None, "layer_peaks": {}}
    for name in history:
        role = name.removesuffix("_K").split(" ")[0]
        if role in ("can_inner", "gap", "disc", "roll"):
            when, height = peak(t, history[name], setup.numerics.tolerance_K)
            found["layer_peaks"][name.removesuffix("_K")] = {"peak_K": height, "time_s": when}
    peaks = found["layer_peaks"]
    if "can_inner" in peaks:
        found["can_inner_peak_K"] = peaks["can_inner"]["peak_K"]
        found["can_inner_peak_time_s"] = peaks["can_inner"]["time_s"]
    if "roll" in peaks:
        found["interior_peak_K"] = peaks["roll"]["peak_K"]
        found["interior_peak_time_s"] = peaks["roll"]["time_s"]
        if setup.kinetics is not None:
            found["interior_dose"] = dose(t, history["roll_K"], setup.kinetics)
        for limit in setup.limits:
            if limit.key == "interior_peak_K":
                found["time_above_limit_s"] = time_above(t, history["roll_K"], limit.value)
    found["interior_heat_J"] = float(history["interior_heat_J"].max())
    return found


def _held(recorder: Recorder, history: dict[str, FloatArray]) -> list[str]:
    """Materials that became hotter than their tables reach; their last values were held."""
    tables, grid = recorder.model.tables, recorder.model.grid
    hottest = recorder.hottest_by_material
    return [m.name for k, m in enumerate(grid.materials) if hottest[k] > tables.table_end_K[k] + 1.0]
