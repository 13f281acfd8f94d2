"""Cross-section of the temperature field, mirrored at the axis."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.outcome.interior import WINDING, face_of, followed_faces, layer_of
from nugget.outcome.probing import is_mirrored
from nugget.outcome.recorder import Snapshot
from nugget.outcome.weld import LayerInfo, Weld
from nugget.plot import style
from nugget.setup.layer_kinds import is_electrode, kind_of

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


WARM_SHARE = 0.05
"""The view of the interior reaches as far as this share of the highest temperature rise."""
LEAST_RISE_K = 2.0
"""An interior that warms by less gets no panel of its own."""
LABEL_SIZE = 7.5
WIDTH_IN, PANEL_IN, ROOM_IN = 7.2, 4.6, 1.0
"""Width of the figure, of the part of a panel that shows metal, and height that words take beside it."""
THIN_LINES = 8
ROUND_LEVELS = (25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 400, 500, 600, 800, *range(1000, 4001, 200))
HALO: dict[str, Any] = {"linewidth": 3.2, "foreground": style.BLACK}


@dataclass(frozen=True)
class View:
    """What part of the section a panel shows [m]: half width, lowest and highest z."""

    half_width_m: float
    low_m: float
    high_m: float


@dataclass(frozen=True)
class Field:
    """A temperature field over the whole section: both sides of the axis, both of a mirror plane.

    Faces in mm; temperatures in °C, NaN in air; `melting` is °C above the melting point, NaN
    where nothing melts.
    """

    r_faces: FloatArray
    z_faces: FloatArray
    temperature: FloatArray
    melting: FloatArray

    @property
    def centres(self) -> tuple[FloatArray, FloatArray]:
        return 0.5 * (self.r_faces[1:] + self.r_faces[:-1]), 0.5 * (self.z_faces[1:] + self.z_faces[:-1])


def section_figure(weld: Weld) -> Figure:
    """Return the temperature field at the hottest moment and, where there is one, at the interior peak."""
    hottest, inner = weld.snapshots["hottest"], weld.snapshots.get("interior peak")
    views = [(hottest, view_of_joint(weld), _hottest_title(weld, hottest))]
    if inner is not None and _warms(weld):
        views.append((inner, _view_of_interior(weld, inner), _inner_title(weld, inner)))
    shapes = [(view.high_m - view.low_m) / (2.0 * view.half_width_m) for _, view, _ in views]
    with style.drawing(WIDTH_IN, sum(PANEL_IN * shape + ROOM_IN for shape in shapes) + ROOM_IN) as figure:
        panels = figure.subplots(len(views), 1, squeeze=False, height_ratios=shapes)[:, 0]
        for panel, (snapshot, view, title) in zip(panels, views, strict=True):
            _draw(panel, weld, snapshot, view)
            panel.set_title(title)
        figure.suptitle(weld.setup.title, fontsize=9.0, color=style.GREY)
        _legend(figure, weld)
        style.settle(figure)
    return figure


def draw_section(ax: Axes, weld: Weld) -> Axes:
    """Draw the temperature field at the hottest moment on axes of the caller's own, and return them."""
    hottest = weld.snapshots["hottest"]
    _draw(ax, weld, hottest, view_of_joint(weld))
    ax.set_title(_hottest_title(weld, hottest))
    return ax


def whole_field(weld: Weld, snapshot: Snapshot) -> Field:
    """Unfold the solved part of the section; a tip that has lifted is not drawn."""
    height = 0.5 * (weld.z_faces_m[1:] + weld.z_faces_m[:-1])
    there = np.zeros_like(weld.active)
    for band in layers(weld, snapshot):
        there[(height > band.bottom_m) & (height < band.top_m)] = True
    there &= weld.active
    temperature = np.where(there, style.celsius(snapshot.temperature_K), np.nan)
    melts = there & np.isfinite(weld.melting_K)
    melting = np.where(melts, snapshot.temperature_K - np.where(melts, weld.melting_K, 0.0), np.nan)
    r, z = weld.r_faces_m * style.MM, weld.z_faces_m * style.MM
    if is_mirrored(weld):
        z = np.concatenate([-z[:0:-1], z])
        temperature, melting = (np.concatenate([a[::-1], a]) for a in (temperature, melting))
    r = np.concatenate([-r[:0:-1], r])
    temperature, melting = (np.concatenate([a[:, ::-1], a], axis=1) for a in (temperature, melting))
    return Field(r, z, temperature, melting)


def layers(weld: Weld, snapshot: Snapshot) -> list[LayerInfo]:
    """Return the layers that stand in the section at that moment, mirrored ones included."""
    lifted = snapshot.time_s > weld.setup.train_s + weld.setup.hold_s
    there = [b for b in weld.layers if not (lifted and is_electrode(b.role))]
    if not is_mirrored(weld):
        return there
    below = [replace(b, bottom_m=-b.top_m, top_m=-b.bottom_m) for b in reversed(there)]
    return [*below, *there]


def view_of_joint(weld: Weld) -> View:
    width = min(2.0 * weld.setup.face_radius_m, weld.r_faces_m[-1])
    strip = sum(layer.thickness_m for layer in weld.setup.strip)
    wall = sum(layer.thickness_m for layer in weld.setup.base if layer.role == "can")
    return View(width, -max(0.55 * width, 1.3 * wall), max(0.45 * width, 1.5 * strip))


def _view_of_interior(weld: Weld, snapshot: Snapshot) -> View:
    near = view_of_joint(weld)
    base = [b for b in weld.layers if kind_of(b.role).part in ("wall", "interior")]
    height = 0.5 * (weld.z_faces_m[1:] + weld.z_faces_m[:-1])
    below = (height < 0.0) & (height > min(b.bottom_m for b in base))
    rise = np.where(weld.active, snapshot.temperature_K - weld.setup.ambient_K, 0.0)[below]
    warm = rise > WARM_SHARE * rise.max()
    width = float(weld.r_faces_m[1:][warm.any(axis=0)].max(initial=near.half_width_m))
    low = float(weld.z_faces_m[:-1][below][warm.any(axis=1)].min(initial=near.low_m))
    depth = max(-1.15 * low, 1.5 * sum(b.top_m - b.bottom_m for b in base if not kind_of(b.role).innermost))
    top = max(b.top_m for b in layers(weld, snapshot) if b.role != "shank")
    high = min(0.3 * depth + near.high_m, top + 0.1 * depth)
    return View(max(1.1 * width, 1.2 * depth), max(-depth, float(weld.z_faces_m[0])), high)


def _warms(weld: Weld) -> bool:
    """Whether the interior becomes warm enough for a picture of it to say anything."""
    peak_K = weld.figures["interior_peak_K"]
    return peak_K is None or peak_K - weld.setup.ambient_K > LEAST_RISE_K


def _hottest_title(weld: Weld, snapshot: Snapshot) -> str:
    top = style.celsius(snapshot.temperature_K[weld.active].max())
    return f"Hottest moment, {style.time_text(snapshot.time_s)}: {top:.0f} °C"


def _inner_title(weld: Weld, snapshot: Snapshot) -> str:
    peak = weld.figures["interior_peak_K"]
    name = "Top of the winding" if peak is not None else "Back of the wall"
    value = peak if peak is not None else weld.figures["can_inner_peak_K"]
    return f"{name} at its peak, {style.time_text(snapshot.time_s)}: {style.celsius(value):.0f} °C"


def _draw(panel: Axes, weld: Weld, snapshot: Snapshot, view: View) -> None:
    from matplotlib.colors import PowerNorm

    field = whole_field(weld, snapshot)
    low, high, half = view.low_m * style.MM, view.high_m * style.MM, view.half_width_m * style.MM
    r, z = field.centres
    seen = field.temperature[np.ix_((z > low) & (z < high), np.abs(r) < half)]
    lowest = float(np.nanmin(seen))
    norm = PowerNorm(0.5, lowest, max(float(np.nanmax(seen)), lowest + 1.0), clip=True)
    mesh = panel.pcolormesh(field.r_faces, field.z_faces, field.temperature, cmap="inferno", norm=norm)
    panel.set_xlim(-half, half)
    panel.set_ylim(low, high)
    panel.set_aspect("equal")
    panel.set_ylabel("height, mm")
    panel.set_xlabel("distance from the axis under the tip, mm")
    panel.axvline(0.0, color=style.GREY, linewidth=0.6, linestyle=(0, (8, 3, 2, 3)))
    _outline(panel, layers(weld, snapshot))
    _isotherms(panel, weld, field, norm)
    _name_layers(panel, weld, snapshot, view)
    height_in = PANEL_IN * (high - low) / (2.0 * half)
    below = panel.inset_axes((0.0, -0.58 / height_in, 1.0, 0.09 / height_in))
    ticks = [norm.vmin, *_round_levels(norm), norm.vmax]
    bar = panel.figure.colorbar(mesh, cax=below, orientation="horizontal", ticks=ticks)
    bar.ax.xaxis.set_major_formatter("{x:.0f}")
    bar.set_label("temperature, °C")


def _outline(panel: Axes, parts: list[LayerInfo]) -> None:
    from matplotlib.patches import Rectangle

    edges = [(b, r) for b in parts for r in (b.radius_m, b.inner_radius_m) if r > 0.0]
    for band, radius in edges:
        corner = (-radius * style.MM, band.bottom_m * style.MM)
        size = 2.0 * radius * style.MM, (band.top_m - band.bottom_m) * style.MM
        panel.add_patch(Rectangle(corner, *size, fill=False, edgecolor=style.GREY, linewidth=0.7))


def _marked(weld: Weld, field: Field | None = None) -> list[tuple[str, Any, float, Any]]:
    """Return label, values, level and dashes of the isotherms that mean something."""
    melting, temperature = (field.melting, field.temperature) if field is not None else (None, None)
    found: list[tuple[str, Any, float, Any]] = [("melting point", melting, 0.0, "solid")]
    for limit in weld.setup.limits:
        layer = layer_of(limit.what.column)
        if limit.what.unit == "K" and limit.sense == "at most" and layer in (WINDING, *followed_faces()):
            level = float(style.celsius(limit.value))
            label = f"{level:.0f} °C, limit of {face_of(layer).sentence}"
            found.append((label, temperature, level, (0, (3, 2))))
    return found


def _isotherms(panel: Axes, weld: Weld, field: Field, norm: Any) -> None:
    """Draw thin isotherms with their temperature, and heavy ones where metal melts and at the limit."""
    from matplotlib.patheffects import withStroke

    levels = _round_levels(norm)
    panel.contour(*field.centres, field.temperature, levels=levels, colors="white", linewidths=0.5)
    _write_levels(panel, weld, field, levels)
    for label, values, level, dashes in _marked(weld, field):
        if np.nanmin(values) < level < np.nanmax(values):
            lines = panel.contour(*field.centres, values, levels=[level], colors="white", linewidths=1.5)
            lines.set(linestyle=dashes, path_effects=[withStroke(**HALO)], label=label)


def _write_levels(panel: Axes, weld: Weld, field: Field, levels: list[float]) -> None:
    """Write the temperature of each thin isotherm at half depth of the wall, where there is room."""
    from matplotlib.patheffects import withStroke

    r, z = field.centres
    height, half = -0.5 * weld.setup.base[0].thickness_m * style.MM, panel.get_xlim()[1]
    along = field.temperature[int(np.argmin(np.abs(z - height)))]
    last = -np.inf
    for level in reversed(levels):
        crossed = np.flatnonzero((along[:-1] >= level) & (along[1:] < level))
        if not crossed.size:
            continue
        k = int(crossed[-1])
        place = float(r[k] + (r[k + 1] - r[k]) * (along[k] - level) / (along[k] - along[k + 1]))
        if max(last + 0.09 * half, 0.0) < place < 0.95 * half:
            halo = [withStroke(linewidth=1.5, foreground=style.BLACK)]
            words = panel.text(place, height, f"{level:g}", ha="center", va="center", color="white")
            words.set(fontsize=6.0, path_effects=halo)
            last = place


def _round_levels(norm: Any) -> list[float]:
    """Round temperatures between the ends of a colour scale, about evenly spread over its colours."""
    kept: list[float] = []
    for level in ROUND_LEVELS:
        if 0.05 < norm(level) < 0.93 and (not kept or norm(level) - norm(kept[-1]) > 0.9 / THIN_LINES):
            kept.append(level)
    return kept


def _legend(figure: Figure, weld: Weld) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patheffects import withStroke

    look: dict[str, Any] = {"color": "white", "linewidth": 1.5, "path_effects": [withStroke(**HALO)]}
    lines = [Line2D([], [], linestyle=d, label=label, **look) for label, _, _, d in _marked(weld)]
    figure.legend(handles=lines, loc="outside lower left", ncols=2, frameon=False, handlelength=2.6)


def _name_layers(panel: Axes, weld: Weld, snapshot: Snapshot, view: View) -> None:
    """Name every layer in view on the right-hand side, a thin line from each name to its layer.

    A tip is built of several cylinders: it is named once, at the one that shows most.
    """
    low, high = view.low_m * style.MM, view.high_m * style.MM
    gap = 0.15 * 2.0 * view.half_width_m * style.MM / PANEL_IN  # 0.15 in, a line of text
    parts: dict[object, tuple[float, LayerInfo, float]] = {}
    for number, band in enumerate(layers(weld, snapshot)):
        bottom, top = max(band.bottom_m * style.MM, low), min(band.top_m * style.MM, high)
        kind = kind_of(band.role).name
        key = ("tip", band.bottom_m >= 0.0) if kind == "tip" else number
        if kind != "shank" and top - bottom > parts.get(key, (0.0,))[0]:
            parts[key] = top - bottom, band, 0.5 * (bottom + top)
    shown = [(band, z) for _, band, z in parts.values()]
    places = style.spread([z for _, z in shown], gap, low, high)
    for (band, z), place in zip(shown, places, strict=True):
        reach = min(band.radius_m, view.half_width_m) * style.MM
        panel.annotate(
            layer_name(band, weld.setup.file.cell.kind == "coupon"),
            xy=(reach, z),
            xytext=(1.05, (place - low) / (high - low)),
            textcoords="axes fraction",
            va="center",
            fontsize=LABEL_SIZE,
            annotation_clip=False,
            arrowprops={"color": style.GREY, **style.LEADER},
        )


def layer_name(band: LayerInfo, on_sheet: bool) -> str:
    """Return what the figure calls a layer: its role and its material."""
    kind = kind_of(band.role)
    name = "sheet" if kind.part == "wall" and on_sheet else kind.word
    title = style.short_title(band.title)
    return title.lower() if title.lower().endswith(name) else f"{name}: {title}"
