"""Histories of one weld on one time axis: circuit, joint, interior."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.outcome.cap import curves
from nugget.outcome.interior import WINDING, face_of, followed_faces, layer_of, winding_layers
from nugget.outcome.report_rows import winding_hidden
from nugget.outcome.weld import Weld
from nugget.plot import style

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


FIRST_S = 1e-4
"""The time axis begins here, or earlier when the pulse is over soon after."""
SAME_K = 0.5
"""Two probes that never differ by more are drawn as one line."""
LABEL_SIZE = 7.5
TITLE_PAD = 16.0
"""Points between the first panel and its title: names of events stand there."""
CROWDED = 6.0
"""Two events whose times are nearer than this on the logarithmic axis are named on both sides."""


@dataclass(frozen=True)
class Line:
    """One curve: column values against time, its words and its looks."""

    label: str
    value: FloatArray
    color: str
    dashes: Any = "solid"
    top: float | None = None

    @property
    def peak(self) -> float:
        """Its peak as the figures of merit give it, between the steps where those look there."""
        return float(np.nanmax(self.value)) if self.top is None else self.top


def histories_figure(weld: Weld) -> Figure:
    """Return current, load resistance, joint diameters and interior temperatures against time."""
    draw: list[tuple[Callable[[Axes, Weld], None], float]] = [
        (_current, 0.8),
        (_resistance, 0.8),
        (_joint, 1.3),
    ]
    if any(name.startswith("can_inner") for name in weld.history):
        draw.append((_wall, 1.1))
    if "roll_K" in weld.history and not winding_hidden(weld.setup, weld.figures):
        draw.append((_inside, 1.1))
    if weld.figures["cap_course"]:
        draw.append((_cap, 1.1))
    heights = [height for _, height in draw]
    with style.drawing(7.2, 1.55 * sum(heights) + 0.9) as figure:
        panels = figure.subplots(len(draw), 1, sharex=True, squeeze=False, height_ratios=heights)[:, 0]
        for panel, (one, _) in zip(panels, draw, strict=True):
            one(panel, weld)
            _events(panel, weld)
        _time_axis(panels[-1], weld)
        _name_events(panels[0], weld)
        figure.suptitle(weld.setup.title, fontsize=9.0, color=style.GREY)
    return figure


def _time_axis(panel: Axes, weld: Weld) -> None:
    panel.set_xscale("log")
    panel.set_xlim(min(FIRST_S, weld.setup.train_s / 10.0), weld.history["time_s"][-1])
    panel.xaxis.set_minor_formatter(lambda *_: "")
    panel.xaxis.set_major_formatter(lambda value, _: style.time_text(value))
    panel.set_xlabel("time since the start of the first pulse")


def _current(panel: Axes, weld: Weld) -> None:
    value = weld.history["current_A"]
    kilo = float(np.abs(value).max()) >= 1000.0
    _plot(panel, weld, [Line("current", value / (1000.0 if kilo else 1.0), style.BLACK)])
    panel.set(ylabel=f"current, {'kA' if kilo else 'A'}", title="Current")


def _resistance(panel: Axes, weld: Weld) -> None:
    load = weld.history["load_ohm"]
    value = np.where(load > 0.0, load * 1e3, np.nan)
    _plot(panel, weld, [Line("load", value, style.BLACK)])
    panel.set(ylabel="resistance, mΩ", title="Dynamic resistance of the load")
    panel.set_ylim(0.0, 1.1 * np.nanmax(value))


def _joint(panel: Axes, weld: Weld) -> None:
    history, joint = weld.history, weld.setup.joint
    lines = [
        Line("contact, strip to wall", 2.0 * history["contact_radius_m"], style.GREY, (0, (1, 1.5))),
        Line("contact, tip to strip", 2.0 * history["tip_radius_m"], style.GREY, (0, (5, 2, 1, 2))),
        Line("bonded, solid state", history["bonded_diameter_m"], style.GREEN, (0, (6, 2))),
        Line("melted on one side", history["one_side_melt_diameter_m"], style.ORANGE, (0, (3, 1.5))),
        Line("nugget", history["nugget_diameter_m"], style.RED),
    ]
    lines = [replace(line, value=line.value * style.MM) for line in lines]
    _plot(panel, weld, lines)
    target = joint.minimum_diameter_m * style.MM
    panel.axhline(target, color=style.BLACK, linewidth=0.9)
    panel.set(ylabel="diameter, mm", title="Joint: growth curves")
    panel.set_ylim(0.0, 1.15 * max(target, *(line.value.max() for line in lines)))
    room = 0.08 * panel.get_ylim()[1]
    ends = [line.value[-1] - target for line in lines]
    below = any(0.0 <= end < room for end in ends) and not any(-room < end < 0.0 for end in ends)
    _limit_text(panel, target, f"minimum {target:.2f} mm", right=True, below=below)
    _labels_at_peaks(panel, weld, lines, "{:.2f} mm")


def _wall(panel: Axes, weld: Weld) -> None:
    faces = tuple(name for name in followed_faces() if name not in winding_layers())
    lines = _temperatures(panel, weld, faces)
    _limit_lines(panel, weld, faces)
    _labels_at_peaks(panel, weld, lines, "{:.0f} °C")
    inside = "roll_K" in weld.history
    where = "Can wall and insulating disc" if inside else "Back of the wall"
    panel.set(ylabel="temperature, °C", title=f"{where}: hottest point of each face")


def _inside(panel: Axes, weld: Weld) -> None:
    lines = _temperatures(panel, weld, winding_layers())
    top = max(line.value.max() for line in lines)
    top = max([top, *_limit_lines(panel, weld, (WINDING, *winding_layers()))])
    low = float(style.celsius(weld.setup.ambient_K))
    panel.set_ylim(low - 0.05 * (top - low), top + 0.2 * (top - low))
    _labels_at_peaks(panel, weld, lines, "{:.0f} °C")
    panel.set(ylabel="temperature, °C", title="Interior: hottest point of each face of the winding")


def _cap(panel: Axes, weld: Weld) -> None:
    """What bears harm on a positive end: the rim of the cap, in its gasket, and the cap that warms it."""
    mean, rim = curves(weld.setup, weld.history["time_s"], weld.figures["cap_course"])
    peak = float(style.celsius(weld.figures["gasket_peak_K"]))
    lines = [
        Line("cap, mean", style.celsius(mean), style.BLUE),
        Line("gasket, at the cap's rim", style.celsius(rim), style.RED, (0, (5, 2)), peak),
    ]
    _plot(panel, weld, lines)
    levels = [limit.value for limit in weld.setup.limits if limit.figure == "gasket_peak_K"]
    for level in (float(style.celsius(one)) for one in levels):
        panel.axhline(level, color=style.BLACK, linewidth=0.9)
        _limit_text(panel, level, f"limit {level:.0f} °C")
    top = max([peak, *(float(style.celsius(one)) for one in levels)])
    panel.set_ylim(float(style.celsius(weld.setup.ambient_K)), 1.15 * top)
    _labels_at_peaks(panel, weld, lines, "{:.0f} °C")
    panel.set(ylabel="temperature, °C", title="Cap and gasket, heat of all spots: from 0.1 s after the pulse")


def _limit_lines(panel: Axes, weld: Weld, faces: tuple[str, ...]) -> list[float]:
    """Draw every limit on the temperature of one of these faces; return their levels [°C]."""
    levels = []
    for limit in weld.setup.limits:
        if limit.what.unit == "K" and layer_of(limit.what.column) in faces:
            level = float(style.celsius(limit.value))
            panel.axhline(level, color=style.BLACK, linewidth=0.9)
            _limit_text(panel, level, f"limit {level:.0f} °C")
            levels.append(level)
    return levels


def _temperatures(panel: Axes, weld: Weld, roles: tuple[str, ...]) -> list[Line]:
    """Draw the columns of these roles; those that run together share a line."""
    looks = [(style.BLUE, "solid"), (style.RED, (0, (5, 2))), (style.GREEN, (0, (1, 1.5)))]
    lines: list[Line] = []
    for column in (name for name in weld.history if layer_of(name) in roles):
        value = style.celsius(weld.history[column])
        label = face_of(layer_of(column)).label if "roll_K" in weld.history else "back face"
        same = [k for k in lines if np.abs(k.value - value).max() < SAME_K]
        if same:
            lines[lines.index(same[0])] = replace(same[0], label=f"{same[0].label} and {label}")
        else:
            color, dashes = looks[len(lines) % len(looks)]
            found = weld.figures["layer_peaks"].get(column.removesuffix("_K"))
            top = None if found is None else float(style.celsius(found["peak_K"]))
            lines.append(Line(label, value, color, dashes, top))
    _plot(panel, weld, lines)
    return lines


def _plot(panel: Axes, weld: Weld, lines: list[Line]) -> None:
    time = weld.history["time_s"]
    for line in lines:
        value = _without_nothing(line.value)
        panel.plot(time, value, color=line.color, linestyle=line.dashes, label=line.label)


def _without_nothing(value: FloatArray) -> FloatArray:
    """Leave out stretches of zeros but for their ends, so that they do not lie on the axis."""
    some = value != 0.0
    near = some | np.append(some[1:], False) | np.insert(some[:-1], 0, False)
    return np.where(near, value, np.nan)


def _labels_at_peaks(panel: Axes, weld: Weld, lines: list[Line], form: str) -> None:
    """Name the curves in a column at the right-hand side, a thin line from each name to its peak."""
    shown = [line for line in lines if np.nanmax(line.value) > 0.0]
    low, high = panel.get_ylim()
    peaks = [line.peak for line in shown]
    gap = 0.2 / (panel.get_position().height * panel.figure.bbox.height / style.DPI) * (high - low)
    places = style.spread(peaks, gap, low, high)
    for line, peak, place in zip(shown, peaks, places, strict=True):
        last = np.flatnonzero(line.value >= 0.999 * np.nanmax(line.value))[-1]  # where a plateau ends
        panel.annotate(
            f"{line.label}: {form.format(peak)}",
            xy=(max(float(weld.history["time_s"][last]), FIRST_S), peak),
            xytext=(1.04, (place - low) / (high - low)),
            textcoords="axes fraction",
            va="center",
            color=line.color,
            fontsize=LABEL_SIZE,
            annotation_clip=False,
            arrowprops={"color": line.color, **style.LEADER},
        )


def _limit_text(panel: Axes, level: float, text: str, right: bool = False, below: bool = False) -> None:
    """Name a level at its left end, or at its right one, where growth curves have gone by."""
    from matplotlib import patheffects

    x, ha = (0.99, "right") if right else (0.01, "left")
    written = panel.text(x, level, text, transform=panel.get_yaxis_transform(), ha=ha, fontsize=LABEL_SIZE)
    written.set_verticalalignment("top" if below else "bottom")
    written.set_path_effects([patheffects.withStroke(linewidth=3.0, foreground="white")])


def _pulses(weld: Weld) -> list[tuple[float, float]]:
    """Start and end of every pulse [s]."""
    found, time = [], 0.0
    for pulse in weld.setup.train:
        found.append((time, time + pulse.duration_s))
        time += pulse.duration_s + pulse.cool_time_s
    return found


def _events(panel: Axes, weld: Weld) -> None:
    for start, end in _pulses(weld):
        panel.axvspan(max(start, 1e-9), end, color="#e8e8e8", zorder=0, linewidth=0)
    lift = weld.setup.train_s + weld.setup.hold_s
    if lift < weld.history["time_s"][-1]:
        panel.axvline(lift, color=style.GREY, linewidth=0.8, linestyle=(0, (1, 2)))


def _name_events(panel: Axes, weld: Weld) -> None:
    lift = weld.setup.train_s + weld.setup.hold_s
    names = [(weld.setup.train_s, "current off"), (lift, "end of hold")]
    near = lift < CROWDED * weld.setup.train_s
    panel.set_title(panel.get_title(loc="left"), loc="left", pad=TITLE_PAD)
    for (time, name), side in zip(names, ("right", "left" if near else "right"), strict=True):
        if time < weld.history["time_s"][-1]:
            words = panel.text(time, 1.0, name, transform=panel.get_xaxis_transform(), ha=side)
            words.set(fontsize=LABEL_SIZE, color=style.GREY, va="bottom")
