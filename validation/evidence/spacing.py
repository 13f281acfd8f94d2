"""Standard against fine grid, and half the tolerance of the time step."""

from __future__ import annotations

from typing import Any

from validation.case import Check, Drawing, Outcome, at_most, reported
from validation.evidence.piece import Piece
from validation.evidence.runs import Run, march_all, milliseconds

DURATIONS_MS = (3.0, 4.5, 6.0, 8.0, 12.0)
GRID, TIME = 0.02, 0.005
WAYS: dict[str, dict[str, object]] = {
    "standard": {},
    "fine grid": {"numerics.refinement": 2.0},
    "half tolerance": {"numerics.tolerance": "0.75 K"},
    "reference": {"numerics.refinement": 1.0, "numerics.tolerance": "0.1875 K"},
}


def run(workers: int) -> Outcome:
    from validation.bench import bench

    target_mm = 1e3 * bench().joint.minimum_diameter_m
    many = [{**milliseconds(ms), **way} for way in WAYS.values() for ms in DURATIONS_MS]
    found = march_all(many, workers)
    runs = {name: found[i * 5 : i * 5 + 5] for i, name in enumerate(WAYS)}
    checks: list[Check] = []
    for other, limit in (("fine grid", GRID), ("half tolerance", TIME)):
        for ms, here, there in zip(DURATIONS_MS, runs["standard"], runs[other], strict=True):
            for name, miss, note in differences(here, there, target_mm):
                checks.append(at_most(f"{other}, {ms:g} ms: {name}", miss, limit, "", note))
    for ms, here, there in zip(DURATIONS_MS, runs["standard"], runs["reference"], strict=True):
        for name, miss, note in differences(here, there, target_mm):
            checks.append(reported(f"an eighth of the tolerance, {ms:g} ms: {name}", miss, "", note))
    drawing = Drawing("diameters", "Fused diameter at five durations.", lambda: _draw(runs))
    return Outcome(tuple(checks), (drawing,))


def differences(here: Run, there: Run, target_mm: float) -> list[tuple[str, float, str]]:
    """Relative differences of the three judged figures, `there` being the better run."""
    size = max(there.fused_mm, 0.5 * target_mm)
    return [
        (
            "fused diameter",
            abs(here.fused_mm - there.fused_mm) / size,
            f"{here.fused_mm:.4f} and {there.fused_mm:.4f} mm",
        ),
        (
            "rise at the roll",
            abs(here.roll_rise_K / there.roll_rise_K - 1.0),
            f"{here.roll_rise_K:.3f} and {there.roll_rise_K:.3f} K",
        ),
        (
            "energy into the pair",
            abs(here["weld_energy_J"] / there["weld_energy_J"] - 1.0),
            f"{here['weld_energy_J']:.3f} and {there['weld_energy_J']:.3f} J",
        ),
    ]


def _draw(runs: dict[str, list[Run]]) -> Any:
    from validation.drawing import axes

    figure, ax = axes("pulse [ms]", "fused diameter [mm]")
    marks = {"standard": "o-", "fine grid": "s--", "half tolerance": "^:", "reference": "x"}
    labels = {"reference": "an eighth of the tolerance"}
    for name, found in runs.items():
        ax.plot(DURATIONS_MS, [r.fused_mm for r in found], marks[name], label=labels.get(name, name))
    ax.legend()
    return figure


PIECE = Piece(
    name="spacing",
    title="Grid and time step",
    what="0.15 mm nickel at five durations: standard grid against the fine one (every spacing halved), and "
    "the tolerance of the time step against half of it. Interior rise and energy relative; the fused "
    "diameter as a share of the larger of itself and half the target. An eighth of the tolerance is shown "
    "as the converged march on the same grid.",
    run=run,
)
