"""The model against a peer at the same places and instants: checks, and the picture of them."""

from __future__ import annotations

from typing import Any

import numpy as np

from validation.case import Check, informative, relative
from validation.peers.problems import Instant


def compare(ours: list[Instant], theirs: list[Instant], tolerance: float) -> list[Check]:
    """Rise at every point, resistance while current flows, and contact radii."""
    checks: list[Check] = []
    for mine, peer in zip(ours, theirs, strict=True):
        when = f"{mine.time_s * 1e3:.3g} ms"
        for n, (a, b) in enumerate(zip(mine.rise_K, peer.rise_K, strict=True), 1):
            checks.append(relative(f"rise at point {n}, {when}", float(a), float(b), tolerance, "K"))
        if peer.load_ohm > 0.0:
            checks.append(relative(f"resistance, {when}", mine.load_ohm, peer.load_ohm, tolerance, "ohm"))
        for name, a, b in zip(("tip", "faying"), mine.radii_m, peer.radii_m, strict=False):
            checks.append(informative(f"contact radius, {name}, {when}", a, b, "m", "not judged by itself"))
    return checks


def picture(ours: list[Instant], theirs: list[Instant], peer: str) -> Any:
    from validation.drawing import axes

    figure, ax = axes("point", "rise [K]", size=(7.5, 3.8))
    for mine, other in zip(ours, theirs, strict=True):
        n = np.arange(1, len(mine.rise_K) + 1)
        when = f"{mine.time_s * 1e3:.3g} ms"
        (line,) = ax.plot(n, mine.rise_K, "o", label=f"model, {when}")
        ax.plot(n, other.rise_K, "x", color=line.get_color(), ms=9, label=f"{peer}, {when}")
    ax.legend(fontsize=8, loc="center left", bbox_to_anchor=(1.0, 0.5))
    return figure
