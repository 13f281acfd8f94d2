"""What a pulse must reach and must not break, as signed numbers whose zero is an edge.

An *excess* is below zero before the criterion is met and at or above zero from then on: the
joint is large enough, or the limit is broken. It is relative (0.01 is one per cent of the
threshold), so that one tolerance fits every quantity.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from nugget.arrays import FloatArray
from nugget.merit.figure import FIGURES, Figure
from nugget.merit.limit import Limit, by_id, titles
from nugget.outcome.recorder import Recorder
from nugget.outcome.registry.damage_figures import CERTAIN
from nugget.setup import Setup
from nugget.weld.state import WeldState

History = dict[str, FloatArray]

NEVER = -1e9


@dataclass(frozen=True)
class Criterion:
    """One edge that a chart looks for.

    Attributes
    ----------
    key : str
        ``bonded``, ``minimum_diameter``, or the id of a limit: no two criteria of a setup share one.
    kind : {"bond", "joint", "limit"}
        A pulse must be longer than a ``joint`` and shorter than a ``limit``. A limit that is kept
        from some duration on, such as a joint of at least some size, is a target.
    title : str
        Name for people.
    figure : Figure
        What is bounded.
    threshold : float
        In the unit of the figure.
    setup : Setup
    limit : Limit or None
    """

    key: str
    kind: Literal["bond", "joint", "limit"]
    title: str
    figure: Figure
    threshold: float
    setup: Setup
    limit: Limit | None = None

    @property
    def unit(self) -> str:
        return self.figure.si_unit

    @property
    def deep(self) -> bool:
        """Whether the cool-down must be followed until the interior has passed its peak."""
        return self.figure.course is None

    def along(self, history: History) -> FloatArray:
        """Excess of each row of a history, for criteria that are decided near the pulse."""
        if self.kind == "bond":
            return history["bond_margin"]
        assert self.figure.course is not None
        course = self.figure.course(history, self.setup)
        return course + self._low if self.figure.unit == "yes/no" else self._beyond(course)

    def excess(self, figures: dict[str, Any], history: History) -> float:
        """Excess of one whole run."""
        if not self.deep:
            return float(self.along(history).max())
        value = self.value(figures)
        if value is None:  # it does not apply: nothing to reach, nothing to break
            return CERTAIN if self.kind == "joint" else NEVER
        if self.figure.unit == "yes/no":
            return CERTAIN if value else -CERTAIN
        if self.figure.nearness is not None:
            near = self.figure.nearness(value, self.threshold, figures, self.setup)
            return -near if self.figure.falls else near
        return float(self._beyond(np.array(value)))

    def value(self, figures: dict[str, Any]) -> float | None:
        """The figure that the criterion judges; None where it does not apply."""
        if self.limit is not None:
            return self.limit.value_in(figures)
        return float(figures[self.figure.key])

    @property
    def _low(self) -> float:
        """What the grid may read too low, as a share, in proportion to its cells."""
        return self.figure.grid_low / self.setup.numerics.refinement

    def _beyond(self, value: FloatArray) -> FloatArray:
        """How far values lie past the threshold, the way they go as a pulse becomes longer.

        What may break a limit counts with what the grid may read it too low by, in proportion
        to its cells.
        """
        ambient_K = self.setup.ambient_K if self.figure.unit == "K" else 0.0
        if self.kind == "limit":
            value = value + self._low * np.maximum(value - ambient_K, 0.0)
        if self.figure.unit == "K":
            past = (value - self.threshold) / max(self.threshold - ambient_K, 1.0)
        elif self.threshold == 0.0:
            past = np.where(value > 0.0, CERTAIN, -CERTAIN)
        else:
            past = (value - self.threshold) / abs(self.threshold)
        return np.asarray(-past if self.figure.falls else past, dtype=np.float64)


def criteria_of(setup: Setup) -> tuple[Criterion, ...]:
    """Return all criteria of a setup: bond, target, then every one of its limits.

    Raises
    ------
    InputError
        When two limits share an id.
    """
    bonded, fused = FIGURES["bonded_diameter_m"], FIGURES["nugget_diameter_m"]
    target, called = setup.joint.minimum_diameter_m, titles(setup.limits)
    return (
        Criterion("bonded", "bond", "Bonding onset (solid-state)", bonded, 0.0, setup),
        Criterion("minimum_diameter", "joint", "Minimum weld diameter", fused, target, setup),
        *(
            Criterion(id, "joint" if one.reaches else "limit", called[id], one.what, one.bound, setup, one)
            for id, one in by_id(setup.limits).items()
        ),
    )


def margins(recorder: Recorder, state: WeldState) -> dict[str, float]:
    """Columns beside the recorder's own: how far the surface is from bonding and metal from boiling.

    Both are relative and pass through zero smoothly, where the recorder's diameters and vapour
    start from a flat zero.
    """
    melt = recorder.melt
    contact = state.contacts[melt.faying]
    upper, lower = melt.side_levels(state, melt.faying)
    warm = np.minimum(contact.above_K, contact.below_K) / (
        recorder.setup.joint.bond_fraction * melt.lower_melting_K
    )
    bond = np.maximum(warm - 1.0, np.minimum(upper, lower) - 0.5)
    r, edge = melt.grid.r, contact.radius_m
    inside = bond[: r.searchsorted(edge)]
    rim = float(np.interp(edge, r, bond))
    boiling = state.enthalpy / melt.boiling
    return {
        "bond_margin": max(float(inside.max(initial=NEVER)), rim),
        "boil_margin": float(boiling.max()) - 1.0,
        "wall_boil_margin": float(boiling[melt.wall_rows].max(initial=0.0)) - 1.0,
    }
