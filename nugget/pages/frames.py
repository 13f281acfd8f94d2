"""The section of a weld at several instants, as small pictures under a common outline."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from nugget.export.dataset import fields_in_time
from nugget.merit import amounts
from nugget.outcome.recorder import Snapshot
from nugget.outcome.weld import Weld
from nugget.plot import style
from nugget.plot.section import View, layer_name, layers, view_of_joint, whole_field
from nugget.setup.layer_kinds import kind_of

MOST = 28
"""Instants that are shown."""
WIDTH_PX = 480
MELT, AIR = 254, 255
"""Entries of the palette below which temperatures stand: edge of the melt, and nothing."""
BAR_TICKS = (100, 300, 600, 1000, 1500, 2000, 3000)
LINE_PX = 15
RULERS_MM, LEAST_RULER_PX = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0), 50.0


@dataclass(frozen=True)
class Frame:
    """One instant: picture as a data address, words below it and for those who cannot see it."""

    time: str
    image: str
    alt: str
    key: bool
    now: bool


@dataclass(frozen=True)
class Name:
    """A layer's name, how far down it stands [px], and whether it stands beside its layer, on the page."""

    text: str
    y: float
    beside: bool


@dataclass(frozen=True)
class Section:
    """All frames with what they share, in pixels of the picture."""

    width: int
    height: int
    frames: tuple[Frame, ...]
    boxes: tuple[tuple[float, float, float, float], ...]
    names: tuple[Name, ...]
    bar: str
    ticks: tuple[tuple[float, str], ...]
    ruler: tuple[float, str]


def section_of(weld: Weld) -> Section:
    """Return the frames of a weld: those that were kept, thinned out, with the hottest moment."""
    times, found = fields_in_time(weld)
    shots = {
        float(t): Snapshot(float(t), field) for t, field in zip(times, found["temperature_K"], strict=True)
    }
    chosen = sorted(shots)
    chosen = [chosen[k] for k in np.unique(np.linspace(0, len(chosen) - 1, MOST).round().astype(int))]
    hottest = weld.snapshots["hottest"]
    shots[hottest.time_s] = hottest
    chosen = sorted({*chosen, hottest.time_s})
    view = view_of_joint(weld)
    height = round(WIDTH_PX * (view.high_m - view.low_m) / (2.0 * view.half_width_m))
    low, high = style.celsius(weld.setup.ambient_K), weld.figures["hottest_K"] - 273.15
    keys = _keys(weld, chosen)
    frames = tuple(
        Frame(
            amounts.time(t),
            _png(_levels(weld, shots[t], view, height, float(low), float(high))),
            _alt(weld, shots[t]),
            t in keys,
            t == hottest.time_s,
        )
        for t in chosen
    )
    ramp = np.tile(np.arange(MELT, dtype=np.uint8), (8, 1))
    ticks = tuple(
        (float(np.sqrt((t - low) / (high - low))), f"{t}") for t in BAR_TICKS if low < t < 0.85 * high
    )
    return Section(
        WIDTH_PX,
        height,
        frames,
        tuple(_boxes(weld, hottest, view, height)),
        tuple(_names(weld, hottest, view, height)),
        _png(ramp),
        ticks,
        _ruler(view),
    )


def _ruler(view: View) -> tuple[float, str]:
    """A round length that is long enough to be seen [px], and its words."""
    per_mm = WIDTH_PX / (2.0 * view.half_width_m * style.MM)
    length_mm = next((one for one in RULERS_MM if one * per_mm >= LEAST_RULER_PX), RULERS_MM[-1])
    return round(length_mm * per_mm, 1), f"{length_mm:g} mm"


def _keys(weld: Weld, times: list[float]) -> set[float]:
    """Four instants that tell the story where only few can be shown."""
    train, hottest = weld.setup.train_s, weld.snapshots["hottest"].time_s
    later = weld.figures.get("can_inner_peak_time_s") or 2.0 * train
    wanted = (0.3 * hottest, hottest, max(later, 1.5 * train), 10.0 * train)
    return {min(times, key=lambda t: abs(t - one)) for one in wanted}


def _levels(
    weld: Weld, shot: Snapshot, view: View, height: int, low: float, high: float
) -> npt.NDArray[np.uint8]:
    """Palette entries of one picture, top row first."""
    field = whole_field(weld, shot)
    half = view.half_width_m * style.MM
    x = (np.arange(WIDTH_PX) + 0.5) / WIDTH_PX * 2.0 * half - half
    span = (view.high_m - view.low_m) * style.MM
    z = view.high_m * style.MM - (np.arange(height) + 0.5) / height * span
    columns = np.searchsorted(field.r_faces, x) - 1
    rows = np.searchsorted(field.z_faces, z) - 1
    inside = np.ix_(
        (rows >= 0) & (rows < len(field.z_faces) - 1), (columns >= 0) & (columns < len(field.r_faces) - 1)
    )
    place = np.ix_(rows.clip(0, len(field.z_faces) - 2), columns.clip(0, len(field.r_faces) - 2))
    temperature = np.full((height, WIDTH_PX), np.nan)
    temperature[inside] = field.temperature[place][inside]
    # The scale spends more of its colours on the cooler half, where the cell is.
    share = np.sqrt(np.clip((temperature - low) / (high - low), 0.0, 1.0))
    levels = np.where(np.isfinite(share), np.round(np.nan_to_num(share) * (MELT - 1)), AIR).astype(np.uint8)
    molten = np.nan_to_num(field.melting[place], nan=-1.0) > 0.0
    edge = np.zeros_like(molten)
    edge[1:] |= molten[1:] != molten[:-1]
    edge[:, 1:] |= molten[:, 1:] != molten[:, :-1]
    levels[edge & (levels != AIR)] = MELT
    return levels


def _png(levels: npt.NDArray[np.uint8]) -> str:
    """A picture of palette entries as a data address."""
    import matplotlib
    from PIL import Image

    colors = (matplotlib.colormaps["inferno"](np.linspace(0.03, 0.97, MELT))[:, :3] * 255).round().astype(int)
    image = Image.frombytes("P", (levels.shape[1], levels.shape[0]), levels.tobytes())
    image.putpalette([*colors.ravel().tolist(), 255, 255, 255, 128, 128, 128])
    stream = io.BytesIO()
    image.save(stream, format="png", optimize=True, transparency=AIR)
    return "data:image/png;base64," + base64.b64encode(stream.getvalue()).decode("ascii")


def _alt(weld: Weld, shot: Snapshot) -> str:
    top = amounts.celsius(float(np.nanmax(np.where(weld.active, shot.temperature_K, np.nan))))
    return f"Section {amounts.time(shot.time_s)} after the start, hottest {top}"


def _boxes(weld: Weld, shot: Snapshot, view: View, height: int) -> list[tuple[float, float, float, float]]:
    """Outlines of the layers: left, top, width, height [px]."""
    scale = WIDTH_PX / (2.0 * view.half_width_m)
    found = []
    for one in layers(weld, shot):
        for radius in (one.radius_m, one.inner_radius_m):
            if radius > 0.0:
                left, top = WIDTH_PX / 2 - radius * scale, (view.high_m - one.top_m) * scale
                size = 2.0 * radius * scale, (one.top_m - one.bottom_m) * scale
                found.append((round(left, 1), round(top, 1), round(size[0], 1), round(size[1], 1)))
    return found


def _names(weld: Weld, shot: Snapshot, view: View, height: int) -> list[Name]:
    scale = WIDTH_PX / (2.0 * view.half_width_m)
    shown: dict[str, tuple[float, bool]] = {}
    for one in layers(weld, shot):
        low, high = max(one.bottom_m, view.low_m), min(one.top_m, view.high_m)
        if high > low and kind_of(one.role).name != "shank":
            name = layer_name(one, weld.setup.file.cell.kind == "coupon")
            middle = (view.high_m - 0.5 * (low + high)) * scale
            shown.setdefault(name, (middle, one.radius_m < view.half_width_m))
    places = style.spread(
        [middle for middle, _ in shown.values()], LINE_PX, 0.5 * LINE_PX, height - 0.5 * LINE_PX
    )
    return [
        Name(text, round(float(y), 1), beside)
        for (text, (_, beside)), y in zip(shown.items(), places, strict=True)
    ]
