"""Growth, current and temperatures of one weld against time, as plots to read values off."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nugget.arrays import FloatArray
from nugget.outcome.cap import curves
from nugget.outcome.interior import WINDING, face_of, followed_faces, layer_of, winding_layers
from nugget.outcome.report_rows import winding_hidden
from nugget.outcome.weld import Weld
from nugget.pages.line_plot import LinePlot, Scale, Series, linear
from nugget.plot import style

MS = 1e3
FIRST_S = 1e-4
"""The time axis begins here, or earlier where the pulse is over soon after."""
GROWTH = (
    ("nugget_diameter_m", "nugget", "b solid"),
    ("one_side_melt_diameter_m", "melted on one side", "e"),
    ("bonded_diameter_m", "bonded, solid state", "c"),
    ("contact_radius_m", "contact, strip to wall", "f"),
    ("tip_radius_m", "contact, tip to strip", "d"),
)
LOOKS = ("a solid", "b", "c", "d", "e", "f")


def history_plots(weld: Weld) -> list[LinePlot]:
    """Return the growth curve, the faces that are followed, current and resistance."""
    plots = [_growth(weld), *_temperatures(weld), _cap(weld), _current(weld), _resistance(weld)]
    return [plot for plot in plots if plot is not None]


def _time(weld: Weld) -> tuple[Scale, FloatArray, list[tuple[float, float]]]:
    """Axis, values [ms] and pulses of every plot."""
    first = min(FIRST_S, weld.setup.train_s / 10.0)
    scale = Scale("time", "ms", first * MS, weld.history["time_s"][-1] * MS, log=True)
    spans, time = [], 0.0
    for pulse in weld.setup.train:
        spans.append((max(time, first) * MS, (time + pulse.duration_s) * MS))
        time += pulse.duration_s + pulse.cool_time_s
    return scale, np.maximum(weld.history["time_s"], first) * MS, spans


def _plot(
    weld: Weld, title: str, y: Scale, series: list[Series], levels: list[tuple[float, str]]
) -> LinePlot:
    x, values, spans = _time(weld)
    peaks = ", ".join(f"{one.name} up to {np.nanmax(one.y):.3g} {one.unit or y.unit}" for one in series)
    alt = f"{title} against time: {peaks}" + "".join(f"; {words}" for _, words in levels)
    return LinePlot(title, alt, x, y, values, series, levels, spans)


def _growth(weld: Weld) -> LinePlot:
    history, series = weld.history, []
    for key, name, look in GROWTH:
        factor = 2.0 if key.endswith("radius_m") else 1.0
        value = factor * history[key] * style.MM
        if value.max() > 0.0:
            series.append(Series(name, value, look))
    target = weld.setup.joint.minimum_diameter_m * style.MM
    y = linear("diameter", "mm", [target, *(float(one.y.max()) for one in series)])
    return _plot(weld, "Joint", y, series, [(target, f"minimum {target:.2f} mm")])


def _current(weld: Weld) -> LinePlot:
    current = np.abs(weld.history["current_A"])
    series = [Series("current", current, "a solid")]
    return _plot(weld, "Current", linear("current", "A", current), series, [])


def _resistance(weld: Weld) -> LinePlot | None:
    load = weld.history["load_ohm"]
    value = np.where(load > 0.0, load * 1e3, np.nan)
    if not np.isfinite(value).any():
        return None
    series = [Series("resistance", value, "a solid")]
    return _plot(weld, "Resistance of the load", linear("resistance", "mΩ", value), series, [])


def _temperatures(weld: Weld) -> Iterator[LinePlot]:
    """One plot for what is hot, one for the winding, whose limit is far lower."""
    inside = "roll_K" in weld.history
    winding = winding_layers()
    wall = tuple(name for name in followed_faces() if name not in winding)
    titles = ("Can wall and insulating disc" if inside else "Back of the wall", "Winding")
    for faces, title in zip((wall, (WINDING, *winding)), titles, strict=True):
        columns = [name for name in weld.history if layer_of(name) in faces and layer_of(name) != WINDING]
        series = []
        for column, look in zip(columns, LOOKS, strict=False):
            label = face_of(layer_of(column)).label if inside else "back face"
            series.append(Series(label, np.asarray(style.celsius(weld.history[column])), look))
        levels = [
            (float(style.celsius(limit.value)), f"limit {style.celsius(limit.value):.0f} °C")
            for limit in weld.setup.limits
            if limit.what.unit == "K" and layer_of(limit.what.column) in faces
        ]
        if series and not (title == "Winding" and winding_hidden(weld.setup, weld.figures)):
            tops = [float(one.y.max()) for one in series]
            floor = float(style.celsius(weld.setup.ambient_K))
            y = linear("temperature", "°C", [*tops, floor, *(level for level, _ in levels)], None)
            yield _plot(weld, title, y, series, levels)


def _cap(weld: Weld) -> LinePlot | None:
    """Cap and gasket of a positive end, which bear the harm there."""
    if not weld.figures["cap_course"]:
        return None
    mean, rim = curves(weld.setup, weld.history["time_s"], weld.figures["cap_course"])
    series = [
        Series("cap, mean", np.asarray(style.celsius(mean)), LOOKS[0]),
        Series("gasket, at the cap's rim", np.asarray(style.celsius(rim)), LOOKS[1]),
    ]
    levels = [
        (float(style.celsius(limit.value)), f"limit {style.celsius(limit.value):.0f} °C")
        for limit in weld.setup.limits
        if limit.figure == "gasket_peak_K"
    ]
    floor = float(style.celsius(weld.setup.ambient_K))
    tops = [float(np.nanmax(one.y)) for one in series]
    y = linear("temperature", "°C", [*tops, floor, *(level for level, _ in levels)], None)
    return _plot(weld, "Cap and gasket", y, series, levels)
