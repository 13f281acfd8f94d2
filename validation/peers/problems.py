"""The two welds that independent solvers repeat, where they are compared, and how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.grid.stack import Grid
from nugget.setup import Setup, preset
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from validation.bench import bench
from validation.readers import markdown

REFINEMENT = 0.4
SERIES_PULSE_S = 2.5e-3


@dataclass(frozen=True)
class Instant:
    """What is compared: rises [K] at the points, resistance of the load [ohm], contact radii [m]."""

    time_s: float
    rise_K: FloatArray
    load_ohm: float
    radii_m: tuple[float, ...]


def series() -> Setup:
    """The default battery weld on a coarse grid, without losses to air (the peers have none)."""
    return bench().with_(
        {
            "ambient.heat_transfer_coefficient": 0.0,
            "numerics.refinement": REFINEMENT,
            "pulse.0.duration": f"{SERIES_PULSE_S * 1e3:g} ms",
        }
    )


def opposed() -> Setup:
    """Two sheets between flat tips under sine current, with films that let them melt, one cycle."""
    film = {"law": "asperity", "contact_spot_density": "4e8 1/m2", "film": "2e-11 ohm m2"}
    overrides: dict[str, object] = {
        "contact.tip": film,
        "contact.faying": film,
        "pulse": [{"half_cycles": 2}],
    }
    overrides["source.current_rms"] = "15.5 kA"  # melts within the cycle

    overrides |= {"ambient.heat_transfer_coefficient": 0.0, "numerics.refinement": REFINEMENT}
    return preset("sheets").with_(overrides)


def points(given: Setup, grid: Grid) -> list[tuple[float, float]]:
    """Eight places (r, z) [m]: cell centres around both contacts and at the can's inner face."""
    tip, faying = grid.interfaces[0], grid.interfaces[1]
    cap = faying.cap_m
    strip = sum(layer.thickness_m for layer in given.strip)

    def column(r: float) -> float:
        return float(grid.r[int(np.searchsorted(grid.r, r))])

    def row(z: float) -> float:
        return float(grid.z[int(np.clip(np.searchsorted(grid.z, z), 0, len(grid.z) - 1))])

    axis = float(grid.r[0])
    if faying.mirrored:
        lower = [(axis, row(0.5 * strip)), (column(0.5 * cap), row(0.5 * strip))]
    else:
        wall = given.base[0].thickness_m
        lower = [(axis, float(grid.z[faying.below])), (axis, row(-0.9 * wall))]
    return [
        (axis, float(grid.z[faying.above])),
        (column(0.5 * cap), float(grid.z[faying.above])),
        (column(0.9 * cap), float(grid.z[faying.above])),
        (axis, float(grid.z[tip.below])),
        (axis, float(grid.z[tip.above])),
        (column(0.5 * cap), float(grid.z[tip.above + 2])),
        *lower,
    ]


def described(grid: Grid, places: Sequence[tuple[float, float]]) -> str:
    """Where the points lie, as a Markdown table."""
    lower = ("wall at the contact, axis", "wall near its inner face, axis")
    if grid.interfaces[1].mirrored:
        lower = ("middle of the sheet, axis", "middle of the sheet, half the contact's largest radius")
    what = (
        "strip at the faying contact, axis",
        "the same at half the contact's largest radius",
        "the same at nine tenths of it",
        "strip at the tip contact, axis",
        "tip at its contact, axis",
        "tip, third row of cells, half the contact's largest radius",
        *lower,
    )
    body = [
        (n, name, f"{r * 1e3:.3f}", f"{z * 1e3:.3f}")
        for n, (name, (r, z)) in enumerate(zip(what, places, strict=True), 1)
    ]
    return markdown(("point", "where", "r [mm]", "z above the faying plane [mm]"), body)


def by_model(given: Setup, times: Sequence[float]) -> tuple[Grid, list[Instant]]:
    """The model's own answer with a tight step tolerance."""
    given = given.with_({"numerics.tolerance": 0.01})
    pulse_s = given.train_s
    # Land on every wanted instant of the cool-down by ending holds there.
    later = [t for t in times if t > pulse_s + 1e-9]
    given = given.with_({"hold_time": later[0] - pulse_s}) if later else given
    model = WeldModel(given)
    places = points(given, model.grid)
    index = [
        (int(np.abs(model.grid.z - z).argmin()), int(np.abs(model.grid.r - r).argmin())) for r, z in places
    ]
    found, last = [], None
    for state in March(given, model):
        for t in times:
            if last is not None and last.time_s < t - 1e-9 <= state.time_s + 1e-9:
                share = (t - last.time_s) / (state.time_s - last.time_s)
                T = last.temperature + share * (state.temperature - last.temperature)
                load = last.load_ohm + share * (state.load_ohm - last.load_ohm)
                rise = np.array([T[p] for p in index]) - given.ambient_K
                found.append(Instant(t, rise, load, tuple(x.radius_m for x in state.contacts)))
        last = state
        if state.time_s >= times[-1] - 1e-9:
            break
    return model.grid, found


def steps(
    given: Setup,
    times: Sequence[float],
    sizes: Sequence[tuple[float, float]],
    first_s: float = 1e-7,
    ratio: float = 1.1,
) -> list[FloatArray]:
    """Step sizes of a peer: grown from `first_s` by `ratio`, at most `size` up to each time in `sizes`."""
    pulse_s = given.train_s
    phases = []
    for start, end in ((0.0, pulse_s), (pulse_s, times[-1])):
        if end <= start + 1e-12:
            continue
        marks = sorted({t for t in times if start < t < end - 1e-12} | {end})
        now, dt, found = start, first_s, []
        for mark in marks:
            while now < mark - 1e-12:
                most = next((size for until, size in sizes if now < until), sizes[-1][1])
                step = min(dt, most, mark - now)
                if step < mark - now < 2.0 * step:
                    step = 0.5 * (mark - now)
                found.append(step)
                now += step
                dt = ratio * min(dt, most)
        phases.append(np.array(found))
    return phases
