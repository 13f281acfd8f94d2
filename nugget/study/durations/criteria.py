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
from nugget.constants import GAS_CONSTANT_J_MOL_K
from nugget.outcome.figures import BURN_THROUGH_SHARE
from nugget.outcome.recorder import Recorder
from nugget.outcome.verdict import TITLES, figure_for
from nugget.setup.description import Limit, Setup
from nugget.weld.state import WeldState

History = dict[str, FloatArray]

CERTAIN = 1.0
"""Excess of a criterion that only knows yes and no."""
NEVER = -1e9

INTERIOR = ("interior_peak_K", "interior_dose")
"""Limits whose figure peaks long after the current has stopped."""


@dataclass(frozen=True)
class Criterion:
    """One edge that a chart looks for.

    Attributes
    ----------
    key : str
        ``bonded``, ``target``, or the key of a limit.
    kind : {"bond", "target", "limit"}
    threshold : float
        In the unit of the figure.
    unit : str
    setup : Setup
    limit : Limit or None
    """

    key: str
    kind: Literal["bond", "target", "limit"]
    threshold: float
    unit: str
    setup: Setup
    limit: Limit | None = None

    @property
    def deep(self) -> bool:
        """Whether the cool-down must be followed until the interior has passed its peak."""
        return self.kind == "limit" and self.key not in _ALONG

    @property
    def title(self) -> str:
        """Name for people."""
        return {"bonded": "Bonds at all", "target": "Weld-size target"}.get(self.key) or TITLES.get(
            self.key, self.key
        )

    def along(self, history: History) -> FloatArray:
        """Excess of each row of a history, for criteria that are decided near the pulse."""
        if self.key == "bonded":
            return history["bond_margin"]
        if self.key == "target":
            return history["fused_diameter_m"] / self.threshold - 1.0
        return np.asarray(_ALONG[self.key](history, self), dtype=np.float64)

    def excess(self, figures: dict[str, Any], history: History) -> float:
        """Excess of one whole run."""
        if not self.deep:
            return float(self.along(history).max())
        value = self.value(figures)
        if value is None:
            return NEVER
        rise = self.threshold - self.setup.ambient_K
        if self.key == "interior_peak_K":
            return (value - self.threshold) / rise
        if self.key == "interior_dose":
            return self._dose_as_warmth(value, figures["interior_peak_K"])
        return value / self.threshold - 1.0

    def value(self, figures: dict[str, Any]) -> float | None:
        """The figure that the criterion judges; None where it does not apply."""
        if self.limit is not None:
            return figure_for(self.limit, figures)
        name = "bonded_diameter_m" if self.key == "bonded" else "fused_diameter_m"
        return float(figures[name])

    def _dose_as_warmth(self, dose: float, peak_K: float) -> float:
        """The dose as a share of temperature rise: the peak over the one that would just do.

        A dose doubles within a few kelvins; as a temperature it is nearly proportional to the
        energy of the pulse, which is what a search can use.
        """
        kinetics = self.setup.kinetics
        if kinetics is None or dose <= 0.0:
            return NEVER
        per_K = GAS_CONSTANT_J_MOL_K / kinetics.activation_J_mol
        just = 1.0 / (1.0 / peak_K + per_K * float(np.log(dose / self.threshold)))
        return (peak_K - just) / max(just - self.setup.ambient_K, 1.0)


def _expulsion(history: History, _: Criterion) -> FloatArray:
    rim = np.where(history["rim_molten"] > 0.0, CERTAIN, -CERTAIN)
    return np.asarray(np.maximum(history["boil_margin"], rim), dtype=np.float64)


def _through(history: History, _: Criterion) -> FloatArray:
    share = history["strip_penetration"]
    return np.where(share >= BURN_THROUGH_SHARE, CERTAIN, share / BURN_THROUGH_SHARE - 1.0)


def _device(history: History, one: Criterion) -> FloatArray:
    circuit = one.setup.circuit
    if circuit.switch_device_ohm == 0.0:
        return np.full_like(history["current_A"], NEVER)
    return np.abs(history["current_A"]) / circuit.switch_devices / one.threshold - 1.0


_ALONG: dict[str, Any] = {
    "can_penetration": lambda h, one: h["can_penetration"] / one.threshold - 1.0,
    "strip_melted_through": _through,
    "expulsion": _expulsion,
    "switch_device_current_A": _device,
    "source_current_A": lambda h, one: np.abs(h["current_A"]) / one.threshold - 1.0,
    "load_share": lambda h, one: 1.0 - h["load_share"] / one.threshold,
}


def criteria_of(setup: Setup) -> tuple[Criterion, ...]:
    """Return all criteria of a setup: bond, target, then its limits."""
    target = setup.joint.target_diameter_m
    return (
        Criterion("bonded", "bond", 0.0, "m", setup),
        Criterion("target", "target", target, "m", setup),
        *(Criterion(limit.key, "limit", limit.value, limit.unit, setup, limit) for limit in setup.limits),
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
    inside = bond[r < edge]
    rim = float(np.interp(edge, r, np.maximum(bond, NEVER)))
    return {
        "bond_margin": max(float(inside.max(initial=NEVER)), rim),
        "boil_margin": float((state.enthalpy / melt.boiling).max()) - 1.0,
    }
