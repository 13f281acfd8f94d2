"""Limits, sensitivity and the overall verdict (contract, section 5)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from typing import Any

from nugget.outcome.showing import judgement_text
from nugget.outcome.weld import Weld, march_weld
from nugget.setup.description import Limit, Setup

BAND = (0.8, 1.0, 1.25)
"""Contact radius factors at which a weld is judged."""
NUDGE = 1.25
"""Force and source resistance are multiplied by this for their sensitivity."""

TITLES = {
    "interior_peak_K": "Roll top, peak temperature",
    "interior_dose": "Decomposition dose (extrapolated)",
    "can_penetration": "Melted share of the can wall",
    "strip_melted_through": "Strip melted through",
    "expulsion": "Expulsion",
    "switch_device_current_A": "Current per switch device",
    "source_current_A": "Source current",
    "load_share": "Share of the force supported",
}


@dataclass(frozen=True)
class Judged:
    """One limit against one or three runs.

    Attributes
    ----------
    limit : Limit
    values : tuple of float or None
        The figure at contact radius x 0.8, 1 and 1.25; None where it does not apply.
    """

    limit: Limit
    values: tuple[float | None, ...]

    @property
    def value(self) -> float | None:
        """The figure of the nominal run."""
        return self.values[len(self.values) // 2]

    @property
    def broken(self) -> tuple[bool, ...]:
        """Whether each run breaks the limit."""
        return tuple(breaks(self.limit, v) for v in self.values)

    @property
    def margin(self) -> float | None:
        """Distance to the limit in its own unit; negative when broken."""
        if self.value is None:
            return None
        sign = -1.0 if self.limit.key == "load_share" else 1.0
        return sign * (self.limit.value - self.value)

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        return {
            "key": self.limit.key,
            "title": TITLES.get(self.limit.key, self.limit.key),
            "value": self.value,
            "limit": self.limit.value,
            "unit": self.limit.unit,
            "margin": self.margin,
            "broken": self.broken[len(self.values) // 2],
            "values_over_band": list(self.values),
            "source": self.limit.source,
        }


def breaks(limit: Limit, value: float | None) -> bool:
    """Whether a figure breaks a limit."""
    if value is None:
        return False
    if limit.key == "load_share":
        return value < limit.value
    return value > limit.value


def figure_for(limit: Limit, figures: dict[str, Any]) -> float | None:
    """The figure that a limit bounds; flags become 0 or 1."""
    name = "peak_current_A" if limit.key == "source_current_A" else limit.key
    value = figures.get(name)
    return None if value is None else float(value)


def state_of(setup: Setup, figures: dict[str, Any]) -> str:
    """Verdict of a single run: ``in window``, ``too cold``, ``too hot`` or ``no window``."""
    enough = figures["fused_diameter_m"] >= setup.joint.target_diameter_m
    broken = any(breaks(limit, figure_for(limit, figures)) for limit in setup.limits)
    if enough:
        return "too hot" if broken else "in window"
    return "no window" if broken else "too cold"


def verdict_of(setup: Setup, runs: Iterable[dict[str, Any]]) -> tuple[str, str]:
    """Overall verdict of the runs at all contact radii and what it hangs on.

    Returns
    -------
    verdict : str
        One of the single verdicts if all runs agree, otherwise ``uncertain``.
    reason : str
    """
    figures = list(runs)
    states = [state_of(setup, f) for f in figures]
    if not all(f["peak_reached"] for f in figures):
        return "uncertain", "the run ended before the interior had passed its peak"
    if len(set(states)) == 1:
        return states[0], _why(setup, figures[len(figures) // 2], states[0])
    parts = [f"{state} at contact radius x {factor:g}" for state, factor in zip(states, BAND, strict=True)]
    return "uncertain", "hangs on the contact radius: " + ", ".join(parts)


def _why(setup: Setup, figures: dict[str, Any], state: str) -> str:
    broken = [TITLES.get(k.key, k.key).lower() for k in setup.limits if breaks(k, figure_for(k, figures))]
    fused, target = figures["fused_diameter_m"] * 1e3, setup.joint.target_diameter_m * 1e3
    size = f"fused {fused:.2f} mm, target {target:.2f} mm"
    return size + (f"; beyond the limit: {', '.join(broken)}" if broken else "; all limits kept")


def variants(setup: Setup) -> dict[str, Setup]:
    """Setups of the band and of the sensitivity runs, by name; ``nominal`` first."""

    def radius(factor: float) -> Setup:
        contact = replace(setup.contact, radius_factor=setup.contact.radius_factor * factor)
        return replace(setup, contact=contact)

    found = {"nominal": setup, "radius x 0.8": radius(BAND[0]), "radius x 1.25": radius(BAND[2])}
    found["force x 1.25"] = replace(setup, force_N=setup.force_N * NUDGE)
    if setup.circuit.source.drive == "voltage":
        extra = (NUDGE - 1.0) * setup.circuit.source.resistance_ohm
        if extra > 0.0:
            circuit = replace(setup.circuit, lead_ohm=setup.circuit.lead_ohm + extra)
            found["source resistance x 1.25"] = replace(setup, circuit=circuit)
    return found


_SENSITIVE = ("fused_diameter_m", "interior_peak_K", "can_inner_peak_K", "can_penetration", "peak_current_A")


@dataclass(frozen=True, repr=False)
class Judgement:
    """A weld judged at all contact radii.

    Attributes
    ----------
    weld : Weld
        The nominal run.
    limits : tuple of Judged
    sensitivity : dict
        Figures of each variant: ``{variant: {figure: value}}``.
    verdict, reason : str
    """

    weld: Weld
    limits: tuple[Judged, ...]
    sensitivity: dict[str, dict[str, float | None]]
    verdict: str
    reason: str

    def __repr__(self) -> str:
        """Return a few lines: title, verdict and reason."""
        return judgement_text(self)


def judge(
    setup: Setup,
    executor: Executor | None = None,
    on_done: Callable[[str], None] | None = None,
) -> Judgement:
    """Run the nominal weld, the contact-radius band and the sensitivity runs, and judge them.

    Parameters
    ----------
    setup : Setup
    executor : Executor, optional
        Runs the variants in parallel; one after the other by default.
    on_done : callable, optional
        Called with each variant's name when its run is in.
    """
    wanted = variants(setup)
    welds: dict[str, Weld] = {}
    pending = None if executor is None else {n: executor.submit(march_weld, s) for n, s in wanted.items()}
    for name, variant in wanted.items():
        welds[name] = march_weld(variant) if pending is None else pending[name].result()
        if on_done is not None:
            on_done(name)
    band = [welds[n].figures for n in ("radius x 0.8", "nominal", "radius x 1.25")]
    limits = tuple(Judged(k, tuple(figure_for(k, f) for f in band)) for k in setup.limits)
    verdict, reason = verdict_of(setup, band)
    sensitivity = {
        name: {figure: weld.figures[figure] for figure in _SENSITIVE} for name, weld in welds.items()
    }
    return Judgement(welds["nominal"], limits, sensitivity, verdict, reason)
