"""Limits, sensitivity and the overall verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from nugget.merit.figure import FIGURES
from nugget.merit.limit import SEVERITIES, Limit, by_id, titles
from nugget.outcome.showing import judgement_text
from nugget.outcome.weld import Weld, march_weld
from nugget.setup import Setup

BAND = (0.8, 1.0, 1.25)
"""Contact radius factors at which a weld is judged."""
NUDGE = 1.25
"""Force and source resistance are multiplied by this for their sensitivity."""
NOMINAL = "nominal"
CIRCUIT_RESIDUAL = 1e-3
"""Circuit residual beyond which a reason speaks of it: currents are then off by about as much."""
SIGNS = ("positive", "negative")
"""The two spots of a series pair: the current carries heat to one and from the other."""

MEANING = {
    "in window": "the joint reaches its target and every limit is kept",
    "too cold": "the joint stays below its target; every limit is kept",
    "too hot": "the joint reaches its target, but cell or joint come to harm",
    "hardware limit": "the joint reaches its target, but the hardware is asked for more than it may give",
    "no window": "a limit is broken before the joint reaches its target",
    "uncertain": "the answer depends on something that is not known well enough",
}
"""What each verdict says."""


@dataclass(frozen=True)
class Judged:
    """One limit against one or three runs.

    Attributes
    ----------
    limit : Limit
    values : tuple of float or None
        The figure at each contact radius of `BAND`; None where it does not apply.
    title : str
        The figure's title; with the limit's id where several limits share a figure.
    """

    limit: Limit
    values: tuple[float | None, ...]
    title: str

    @property
    def value(self) -> float | None:
        """The figure of the nominal run."""
        return self.values[len(self.values) // 2]

    @property
    def broken(self) -> tuple[bool, ...]:
        """Whether each run breaks the limit."""
        return tuple(self.limit.breaks(v) for v in self.values)

    @property
    def margin(self) -> float | None:
        """Distance to the limit in its own unit; negative when broken."""
        return self.limit.margin(self.value)

    def record(self) -> dict[str, Any]:
        """JSON-ready form."""
        limit = self.limit
        return {
            "id": limit.id,
            "figure": limit.figure,
            "title": self.title,
            "sense": limit.sense,
            "value": self.value,
            "limit": limit.bound,
            "unit": limit.what.si_unit,
            "margin": self.margin,
            "broken": self.broken[len(self.values) // 2],
            "values_over_band": list(self.values),
            "severity": limit.severity,
            "confidence": limit.confidence,
            "source": limit.source,
        }


def broken_limits(setup: Setup, figures: dict[str, Any]) -> tuple[Limit, ...]:
    """Every limit of the setup that a run breaks, the gravest first.

    Raises
    ------
    InputError
        When two limits share an id, or a figure was not read.
    """
    broken = [one for one in by_id(setup.limits).values() if one.breaks(one.value_in(figures))]
    return tuple(sorted(broken, key=lambda one: list(SEVERITIES).index(one.severity)))


def state_of(setup: Setup, figures: dict[str, Any]) -> str:
    """Verdict of a single run, one of `MEANING` but ``uncertain``.

    A limit that a longer pulse would keep, such as a joint of at least some size, is missed by
    cold; any other broken limit counts, whether the joint is large enough or not.
    """
    broken = broken_limits(setup, figures)
    beyond = [limit for limit in broken if not limit.reaches]
    enough = figures["nugget_diameter_m"] >= setup.joint.target_diameter_m and len(beyond) == len(broken)
    if not beyond:
        return "in window" if enough else "too cold"
    if not enough:
        return "no window"
    return "hardware limit" if all(limit.severity == "hardware" for limit in beyond) else "too hot"


def verdict_of(setup: Setup, runs: Iterable[dict[str, Any]]) -> tuple[str, str]:
    """Overall verdict of the runs at all contact radii and what it hangs on.

    Returns
    -------
    verdict : str
        One of the single verdicts if all runs agree, otherwise ``uncertain``.
    reason : str
        Ends with a word on energies of the circuit that do not add up, where they do not.
    """
    figures = list(runs)
    verdict, reason = _hangs_on(setup, figures)
    missing = max(run.get("circuit_residual", 0.0) for run in figures)
    if missing > CIRCUIT_RESIDUAL:
        reason += f"; {100.0 * missing:.2g} % of the source's energy is lost in computing the circuit"
    return verdict, reason


def _hangs_on(setup: Setup, figures: list[dict[str, Any]]) -> tuple[str, str]:
    states = [state_of(setup, f) for f in figures]
    open_ended = [run for run in figures if not run["peak_reached"]]
    if any(not broken_limits(setup, run) for run in open_ended):  # what is broken stays so
        return "uncertain", "the run ended before the interior had passed its peak" + _beyond(setup, figures)
    if len(set(states)) == 1:
        return states[0], _why(setup, figures[len(figures) // 2])
    parts = [f"{state} at contact radius x {factor:g}" for state, factor in zip(states, BAND, strict=True)]
    return "uncertain", "hangs on the contact radius: " + ", ".join(parts) + _beyond(setup, figures)


def of_both_spots(
    setup: Setup, found: tuple[str, str], spots: Mapping[str, dict[str, Any]]
) -> tuple[str, str]:
    """Verdict and reason once the two spots of a pair are looked at: the worse one decides.

    Parameters
    ----------
    setup : Setup
    found : (str, str)
        Verdict and reason of the mean of both.
    spots : mapping of str to dict
        Figures of each spot by its name.
    """
    verdict, _ = found
    states = {name: state_of(setup, figures) for name, figures in spots.items()}
    if verdict == "uncertain" or all(state == verdict for state in states.values()):
        return found
    said = ", ".join(f"{state} at the {name}" for name, state in states.items())
    return "uncertain", f"the two spots of the pair differ: {said}; {verdict} in the mean"


def _beyond(setup: Setup, figures: list[dict[str, Any]]) -> str:
    """What is beyond its limit at which contact radius; empty where nothing is."""
    said = ""
    for factor, run in zip(BAND, figures, strict=True):
        if broken := broken_limits(setup, run):
            said += f"; beyond the limit at x {factor:g}: {_named(setup, broken)}"
    return said


def _why(setup: Setup, figures: dict[str, Any]) -> str:
    broken = broken_limits(setup, figures)
    fused, target = figures["nugget_diameter_m"] * 1e3, setup.joint.target_diameter_m * 1e3
    size = f"nugget {fused:.2f} mm, target {target:.2f} mm"
    return size + (f"; beyond the limit: {_named(setup, broken)}" if broken else "; all limits kept")


def _named(setup: Setup, broken: tuple[Limit, ...]) -> str:
    """The limits by their titles, those of one severity behind each other."""
    called = titles(setup.limits)
    parts = []
    for severity, meaning in SEVERITIES.items():
        names = [called[one.id].lower() for one in broken if one.severity == severity]
        if names:
            parts.append(f"{', '.join(names)} ({meaning})")
    return ", ".join(parts)


def radius_variant(factor: float) -> str:
    """Name of the run at a contact radius of the band."""
    return NOMINAL if factor == 1.0 else f"radius x {factor:g}"


BAND_VARIANTS = tuple(radius_variant(factor) for factor in BAND)
"""Names of the runs at the contact radii of `BAND`."""


def variants(setup: Setup) -> dict[str, Setup]:
    """Setups of the band and of the sensitivity runs, by name; the nominal one first."""
    found = {NOMINAL: setup}
    found |= {radius_variant(factor): setup.with_radius(factor) for factor in BAND if factor != 1.0}
    if setup.arrangement.startswith("series") and setup.polarity == 0:
        found |= {f"{sign} tip": setup.with_({"arrangement.polarity": sign}) for sign in SIGNS}
    found[f"force x {NUDGE:g}"] = setup.with_({"electrode.force": setup.force_N * NUDGE})
    source = setup.circuit.source
    if source.drive == "voltage" and source.resistance_ohm > 0.0:
        changed = setup.with_source_resistance(NUDGE * source.resistance_ohm)
        found[f"source resistance x {NUDGE:g}"] = changed
    return found


def followed(setup: Setup) -> tuple[str, ...]:
    """Figures that sensitivity and scatter follow: the headlines and all that is limited."""
    limited = {limit.figure for limit in setup.limits}
    return tuple(key for key, one in FIGURES.items() if one.weight == "headline" or key in limited)


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
    frames: int | None = None,
) -> Judgement:
    """Run the nominal weld, the contact-radius band and the sensitivity runs, and judge them.

    Parameters
    ----------
    setup : Setup
    executor : Executor, optional
        Runs the variants in parallel; one after the other by default.
    on_done : callable, optional
        Called with each variant's name when its run is in.
    frames : int, optional
        Keep the fields of the nominal weld so often, for pictures in time.
    """
    wanted = variants(setup)
    welds: dict[str, Weld] = {}
    pending = (
        None
        if executor is None
        else {n: executor.submit(march_weld, s, **_kept(n, frames)) for n, s in wanted.items()}
    )
    for name, variant in wanted.items():
        welds[name] = (
            march_weld(variant, **_kept(name, frames)) if pending is None else pending[name].result()
        )
        if on_done is not None:
            on_done(name)
    band, called = [welds[name].figures for name in BAND_VARIANTS], titles(setup.limits)
    limits = tuple(
        Judged(one, tuple(one.value_in(figures) for figures in band), called[one.id]) for one in setup.limits
    )
    verdict, reason = verdict_of(setup, band)
    spots = {name: welds[name].figures for name in (f"{sign} tip" for sign in SIGNS) if name in welds}
    verdict, reason = of_both_spots(setup, (verdict, reason), spots)
    sensitivity = {
        name: {figure: weld.figures[figure] for figure in followed(setup)} for name, weld in welds.items()
    }
    return Judgement(welds[NOMINAL], limits, sensitivity, verdict, reason)


def _kept(name: str, frames: int | None) -> dict[str, Any]:
    """What a run keeps: fields in time only of the nominal one."""
    return {"frames": frames} if frames is not None and name == NOMINAL else {}
