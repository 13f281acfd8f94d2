"""What the model makes of the published schedules, row by row."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from nugget.outcome.weld import run_weld
from validation.schedule import ROW_TOLERANCE, ContactSet, Row, fitted, schedule, setup_of

THINNEST_MM, THICKEST_MM = 0.25, 2.0
SCATTER = ROW_TOLERANCE
"""The scatter of such tables among themselves is what a row is allowed."""


@dataclass(frozen=True)
class Found:
    """One row with what the model makes of it."""

    row: Row
    diameter_m: float
    hottest_K: float
    expels: bool

    @property
    def error(self) -> float:
        return self.diameter_m / self.row.fused_m - 1.0

    @property
    def inside(self) -> bool:
        """Whether the row lies in the range of thickness that is judged by row and by trend."""
        return THINNEST_MM <= self.row.thickness_mm <= THICKEST_MM

    def __str__(self) -> str:
        return f"{self.diameter_m * 1e3:.2f} ({self.error:+.0%}, {self.hottest_K:.0f} K)"


@lru_cache(maxsize=4)
def results(contact: ContactSet) -> tuple[Found, ...]:
    """Every row under one contact set."""
    found = []
    for row in schedule():
        figures = run_weld(setup_of(row, contact)).figures
        found.append(
            Found(row, figures["nugget_diameter_m"], figures["hottest_K"], bool(figures["expulsion"]))
        )
    return tuple(found)


def model_form() -> tuple[float, float, float]:
    """Root mean square and median error of the predicted rows, and the scatter of the schedules."""
    errors = [abs(f.error) for f in results(fitted()) if f.row.use == "predict"]
    return float(np.sqrt(np.mean(np.square(errors)))), float(np.median(errors)), SCATTER
