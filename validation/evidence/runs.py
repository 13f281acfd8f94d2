"""Many marches of the bench of 0.15 mm nickel with changes, through worker processes."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any

from nugget.arrays import FloatArray

Changes = Mapping[str, object]
"""Keys of a setup file against new values, such as ``{"electrode.force": "20 N"}``."""


@dataclass(frozen=True)
class Run:
    """Figures and histories of one march."""

    figures: dict[str, Any]
    history: dict[str, FloatArray]

    def __getitem__(self, name: str) -> Any:
        return self.figures[name]

    @property
    def fused_mm(self) -> float:
        return 1e3 * float(self["nugget_diameter_m"])

    @property
    def roll_rise_K(self) -> float:
        """Rise at the top of the roll over the start of the run [K]."""
        return float(self["interior_peak_K"]) - float(self.history["roll_K"][0])


def march(changes: Changes) -> Run:
    """One march of the bench with `changes`, in this process."""
    from nugget.outcome.weld import run_weld
    from validation.bench import bench

    weld = run_weld(bench().with_(changes))
    return Run(weld.figures, weld.history)


def march_all(many: Sequence[Changes], workers: int) -> list[Run]:
    """The same for many changes, in their order."""
    if workers <= 1 or len(many) == 1:
        return [march(one) for one in many]
    with ProcessPoolExecutor(workers, initializer=_quiet) as pool:
        return list(pool.map(march, many))


def _quiet() -> None:
    os.nice(5)


def milliseconds(duration_ms: float) -> Changes:
    """The change that makes the only pulse last `duration_ms`."""
    return {"pulse.0.duration": f"{duration_ms:.6g} ms"}
