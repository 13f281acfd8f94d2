"""Figures of what reaches the inside of the cell, or the back of a bare wall."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from nugget.constants import GAS_CONSTANT_J_MOL_K
from nugget.merit.figure import Figure
from nugget.outcome.interior import WINDING, dose, face_of, layer_of, peak, time_above
from nugget.outcome.reading import Reading
from nugget.outcome.registry.cap_figures import CAP_FIGURES
from nugget.setup.description import Description
from nugget.setup.layer_kinds import interior_names, kind_of

NEVER = -1e9
NEARLY_ALL = 1.0 - 1e-15
"""A larger share decomposed counts as this one: its dose would have no end."""


def _hottest(reading: Reading, layer: str, what: str) -> float | None:
    """Peak or time of the hottest face of a kind."""
    faces = [one for name, one in reading.layer_peaks.items() if layer_of(name) == layer]
    return max(faces, key=lambda one: one["peak_K"])[what] if faces else None


def peak_figures(layer: str, key: str, title: str, role: str, **more: Any) -> tuple[Figure, Figure]:
    """Peak temperature of the face of a layer and when it comes: one line for each layer judged."""
    height = Figure(
        f"{key}_K",
        f"{title}, peak temperature",
        "K",
        "spot",
        "interior",
        f"Highest temperature that {face_of(layer).sentence} reaches anywhere, cool-down included",
        read=lambda reading: _hottest(reading, layer, "peak_K"),
        column=f"{layer}_K",
        layer=role,
        **more,
    )
    when = Figure(
        f"{key}_time_s",
        f"{title}, time of the peak",
        "s",
        "spot",
        "interior",
        f"When {face_of(layer).sentence} is hottest",
        read=lambda reading: _hottest(reading, layer, "time_s"),
        layer=role,
    )
    return height, when


def _inside_figures(layer: str) -> tuple[Figure, ...]:
    """What is said of a kind of layer inside the wall: its peak, and how long it is beyond its limit."""
    title = kind_of(layer).title.capitalize()
    beyond = f"{kind_of(layer).title} temperature limit"
    above = Figure(
        f"{layer}_above_s",
        f"{title} above its limit",
        "s",
        "spot",
        "interior",
        f"How long {face_of(layer).sentence} is hotter than the limit on it, else than where it melts",
        read=lambda reading: _layer_above_s(reading, layer),
        layer=layer,
        row=f"{title} above its limit",
        words="for {}",
        optional=True,
    )
    return (*peak_figures(layer, f"{layer}_peak", title, layer, beyond=beyond), above)


def _melting_figures(layer: str) -> tuple[Figure, Figure]:
    """How much of a polymer layer melts."""
    title = kind_of(layer).title
    share = Figure(
        f"{layer}_melted_share",
        f"{title.capitalize()}, melted",
        "share",
        "spot",
        "interior",
        f"Largest share of the thickness of the {title} that melts",
        column=f"{layer}_melted",
        layer=layer,
        grid_low=0.02,
        beyond=f"{title} molten",
        row=f"{title.capitalize()}, melted",
        optional=True,
    )
    depth = Figure(
        f"{layer}_melted_depth_m",
        f"{title.capitalize()}, melted depth",
        "m",
        "spot",
        "interior",
        f"How deep the {title} melts",
        read=lambda reading: _melted_depth_m(reading, layer),
        layer=layer,
        row=f"{title.capitalize()}, melted",
        words="{} deep",
        optional=True,
    )
    return share, depth


def _melted_depth_m(reading: Reading, layer: str) -> float | None:
    """Melted share times the thickest layer of that kind [m]."""
    if f"{layer}_melted" not in reading.history:
        return None
    thickest = max(one.thickness_m for one in reading.setup.base if one.role == layer)
    return float(reading.history[f"{layer}_melted"].max()) * thickest


def _layer_above_s(reading: Reading, layer: str) -> float | None:
    """Longest time that one of these layers spends above what it bears [s]."""
    bound_K, columns = _bears_K(reading.setup, layer), [c for c in reading.history if _is_face_of(c, layer)]
    if bound_K is None or not columns:
        return None
    return max(time_above(reading.time_s, reading.history[column], bound_K) for column in columns)


def _bears_K(setup: Description, layer: str) -> float | None:
    """Strictest limit on the peak of a kind of layer, else the lowest melting point of its materials [K]."""
    keys = [f"{layer}_peak_K", *(["interior_peak_K"] if kind_of(layer).winding else [])]
    bounds = [bound for key in keys if (bound := strictest_K(setup, key)) is not None]
    melting = [
        one.material.solidus_K
        for one in setup.base
        if one.role == layer and one.material.solidus_K is not None and one.material.family != "metal"
    ]
    return min(bounds or melting, default=None)


def _is_face_of(column: str, layer: str) -> bool:
    return column.endswith("_K") and layer_of(column) == layer


def _winding_peak(reading: Reading, which: int) -> float | None:
    """Time or height of the winding's peak."""
    column = reading.history.get(f"{WINDING}_K")
    if column is None:
        return None
    return peak(reading.time_s, column, reading.setup.numerics.tolerance_K)[which]


def _dose(reading: Reading) -> float | None:
    kinetics = reading.setup.kinetics
    if kinetics is None or "roll_K" not in reading.history:
        return None
    return -math.expm1(-dose(reading.time_s, reading.history["roll_K"], kinetics))


def _dose_nearness(value: float, threshold: float, figures: Mapping[str, Any], setup: Description) -> float:
    """The dose as a share of temperature rise: the peak over the one that would just do.

    A dose doubles within a few kelvins; as a temperature it is nearly proportional to the
    energy of the pulse, which is what a search can use.
    """
    peak_K = figures["roll_peak_K"]
    if setup.kinetics is None or value <= 0.0 or peak_K is None:
        return NEVER
    per_K = GAS_CONSTANT_J_MOL_K / setup.kinetics.activation_J_mol
    value, threshold = (-math.log1p(-min(share, NEARLY_ALL)) for share in (value, threshold))
    just_K = 1.0 / (1.0 / peak_K + per_K * math.log(value / threshold))
    return float((peak_K - just_K) / max(just_K - setup.ambient_K, 1.0))


def strictest_K(setup: Description, figure: str) -> float | None:
    """The lowest limit that a setup sets to a temperature [K]; None without any."""
    bounds = [one.value for one in setup.limits if one.figure == figure and one.sense == "at most"]
    return min(bounds, default=None)


def _time_above_s(reading: Reading) -> float | None:
    limit_K = strictest_K(reading.setup, "interior_peak_K")
    if limit_K is None or "interior_K" not in reading.history:
        return None
    return time_above(reading.time_s, reading.history["interior_K"], limit_K)


FIGURES = (
    *peak_figures(
        "can_inner",
        "can_inner_peak",
        "Inner face of the wall",
        "can",
        weight="headline",
        short="inner face, peak",
        beyond="inner face temperature limit",
    ),
    Figure(
        "interior_peak_K",
        "Top of the winding, peak temperature",
        "K",
        "spot",
        "interior",
        "Highest temperature at the top of the winding's layers, separator and roll, cool-down included",
        read=lambda reading: _winding_peak(reading, 1),
        column=f"{WINDING}_K",
        layer="roll",
        grid_low=0.02,
        weight="headline",
        short="winding top, peak",
        beyond="winding temperature limit",
    ),
    Figure(
        "interior_peak_time_s",
        "Top of the winding, time of the peak",
        "s",
        "spot",
        "interior",
        "When the top of the winding is hottest",
        read=lambda reading: _winding_peak(reading, 0),
        layer="roll",
    ),
    *(figure for layer in interior_names() if layer != "gasket" for figure in _inside_figures(layer)),
    *(figure for layer in ("disc", "separator", "gasket") for figure in _melting_figures(layer)),
    *CAP_FIGURES,
    Figure(
        "layer_peaks",
        "Peaks of all faces",
        "table",
        "spot",
        "interior",
        "Peak temperature and its time for every face that is followed",
        read=lambda reading: reading.layer_peaks,
    ),
    Figure(
        "time_above_limit_s",
        "Winding above its limit",
        "s",
        "spot",
        "interior",
        "How long the top of the winding is hotter than the strictest limit on its peak",
        read=_time_above_s,
        layer="roll",
        row="Winding above its limit",
        words="for {}",
    ),
    Figure(
        "interior_heat_J",
        "Heat into the interior",
        "J",
        "spot",
        "interior",
        "Most heat that the layers inside the wall hold at one time",
        column="interior_heat_J",
        row="Heat into the interior",
        optional=True,
    ),
    Figure(
        "interior_dose",
        "Share decomposed (extrapolated)",
        "1",
        "spot",
        "interior",
        "1 - exp(-dose) at the top of the jelly roll, dose = integral of A exp(-Ea / (R T)) over time: from 0"
        " to 1, an extrapolation at these times",
        read=_dose,
        digits=2,
        layer="roll",
        nearness=_dose_nearness,
        beyond="decomposition dose",
        row="Decomposition dose",
    ),
    Figure(
        "reaction",
        "Reaction of the dose",
        "text",
        "cell",
        "interior",
        "Reaction whose dose is reported",
        read=lambda reading: None if reading.setup.kinetics is None else reading.setup.kinetics.title,
        source="setup",
        layer="roll",
        row="Decomposition dose",
        words="{}: an extrapolation",
    ),
)
