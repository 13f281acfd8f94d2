"""Fused diameter and interior peak against the pulse: without jumps of the grid or the contact edge."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from validation.case import Check, Drawing, Outcome, at_most, reported
from validation.evidence.piece import Piece
from validation.evidence.runs import Run, march_all, milliseconds

COUNT = 41
RANGE_MS = (2.0, 20.0)
HALVED = 0.7
"""Largest step at half the spacing over the largest step: 0.5 for a smooth curve, 1 for a jump."""
STEEP_MS = 5.0
"""Later the curves are flat: there a jump cannot hide behind the steep growth after onset."""
FIGURES: dict[str, Callable[[Run], float]] = {
    "fused diameter [mm]": lambda run: run.fused_mm,
    "interior peak, rise [K]": lambda run: run.roll_rise_K,
    "can penetration": lambda run: run["can_penetration"],
    "energy into the pair [J]": lambda run: run["weld_energy_J"],
}
JUDGED = tuple(FIGURES)[:2]


def run(workers: int) -> Outcome:
    t = np.linspace(*RANGE_MS, 2 * COUNT - 1)
    runs = march_all([milliseconds(ms) for ms in t], workers)
    curves = {name: np.array([read(r) for r in runs]) for name, read in FIGURES.items()}
    onset = int(np.flatnonzero(curves[JUDGED[0]] > 0.0)[0])
    # From the first even index after onset: the diameter grows like a root there.
    start = onset + 2 + (onset % 2)
    checks: list[Check] = [reported("first pulse that fuses", t[onset], "ms")]
    settled = 2 * int(np.searchsorted(t[::2], STEEP_MS))
    for name, values in curves.items():
        for part, when in ((start, "after onset"), (settled, f"from {STEEP_MS:g} ms")):
            checks.append(_halving(name, when, t[part:], values[part:]))
        checks.append(reported(f"{name}: roughness", roughness(values[start:]), "", ROUGHNESS))
    drawing = Drawing("curves", CAPTION, lambda: _draw(t, curves, runs))
    return Outcome(tuple(checks), (drawing,))


def _halving(name: str, when: str, t: FloatArray, values: FloatArray) -> Check:
    """Largest step at half the spacing over the largest step; no change at all counts as smooth."""
    coarse, fine = np.abs(np.diff(values[::2])), np.abs(np.diff(values))
    ratio = float(fine.max() / coarse.max()) if coarse.max() > 0.0 else 0.0
    at = int(np.argmax(fine))
    note = f"{coarse.max():.4g} to {fine.max():.4g}, the largest between {t[at]:.4g} and {t[at + 1]:.4g} ms"
    title = f"{name}, {when}: largest step, half the spacing over whole"
    return at_most(title, ratio, HALVED, "", note) if name in JUDGED else reported(title, ratio, "", note)


ROUGHNESS = "largest distance of a point from the cubic through its four neighbours, as a share of the range"
CAPTION = f"{2 * COUNT - 1} pulses from 2 to 20 ms (every second one belongs to the {COUNT})."


def roughness(values: FloatArray) -> float:
    """Largest distance from the cubic through two neighbours on each side, over the range."""
    between = (-values[:-4] + 4.0 * values[1:-3] + 4.0 * values[3:-1] - values[4:]) / 6.0
    return float(np.abs(values[2:-2] - between).max() / np.ptp(values))


def _draw(t: FloatArray, curves: dict[str, FloatArray], runs: list[Run]) -> Any:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(11.0, 10.0), layout="constrained")
    axes = figure.subplots(3, 2).ravel()
    for ax, (name, values) in zip(axes, curves.items(), strict=False):
        ax.plot(t, values, ".-", ms=4, lw=0.8)
        ax.plot(t[::2], values[::2], "o", ms=6, mfc="none", label=f"the {COUNT}")
        ax.set_ylabel(name)
    ax = axes[4]
    for key, label in (("nugget_outer_diameter_m", "outer edge"), ("nugget_inner_diameter_m", "inner edge")):
        ax.plot(t, [1e3 * r[key] for r in runs], ".-", ms=4, lw=0.8, label=label)
    ax.set_ylabel("edges of the fused zone [mm]")
    for key, label in (("contact_diameter_m", "faying contact"), ("tip_contact_diameter_m", "tip contact")):
        axes[5].plot(t, [1e3 * r[key] for r in runs], ".-", ms=4, lw=0.8, label=label)
    axes[5].set_ylabel("contact diameters [mm]")
    for ax in axes:
        ax.set_xlabel("pulse [ms]")
        ax.grid(alpha=0.3)
    for ax in (axes[0], *axes[4:]):
        ax.legend()
    return figure


PIECE = Piece(
    name="smooth",
    title="Smooth in the pulse",
    what=f"0.15 mm nickel, {COUNT} pulses between 2 and 20 ms, and the {COUNT - 1} half way between them. "
    "After onset, halving the spacing should roughly halve the largest step of the fused diameter and of "
    f"the interior peak; a jump would leave it as it is. The limit is taken at {HALVED:g}, for "
    f"everything after onset and again from {STEEP_MS:g} ms on, where a small jump cannot hide behind the "
    "steep growth.",
    run=run,
)
