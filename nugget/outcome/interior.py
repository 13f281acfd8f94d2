"""Temperatures that reach the inside of the cell, and when the run may end (manual, theory-interior)."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.constants import GAS_CONSTANT_J_MOL_K, REFERENCE_K
from nugget.setup.description import Kinetics
from nugget.setup.layer_kinds import interior_names, is_interior, judged_as, kind_of

if TYPE_CHECKING:
    from nugget.weld.model import WeldModel

FALLEN_SHARE = 0.05
SETTLED_K = 0.1


@dataclass(frozen=True)
class LayerFace:
    """What people call a face that is followed: as a title, in a sentence, and beside a curve."""

    title: str
    sentence: str
    label: str


WALL_FACE = "can_inner"
WINDING = "interior"
"""Name of the hottest top of the winding's layers in the history."""


def followed_faces() -> tuple[str, ...]:
    """Faces that may be followed: the wall's inner one, then the top of each kind of layer behind it."""
    return (WALL_FACE, *interior_names())


def face_of(layer: str) -> LayerFace:
    """What people call the face of a layer."""
    if layer == WALL_FACE:
        return LayerFace("Wall, inner face", "the wall's inner face", "wall, inner face")
    if layer == WINDING:
        return LayerFace("Winding, top", "the top of the winding", "winding, top")
    title = kind_of(layer).title
    return LayerFace(f"{title.capitalize()}, top", f"the top of the {title}", f"{title}, top")


def layer_of(name: str) -> str:
    """The face that a column belongs to: ``roll_K``, or for the second of two alike ``gap below_K``."""
    return name.removesuffix("_K").split(" ")[0]


@dataclass(frozen=True)
class Probe:
    """A horizontal face whose highest temperature over r is followed.

    `upper` and `lower` are the rows on its two sides (None: a free or insulated surface);
    `side` tells which side's surface temperature is read, from `inner_m` to `outer_m` along r.
    """

    name: str
    upper: int
    lower: int | None
    side: str
    inner_m: float = 0.0
    outer_m: float = np.inf


class ProbeReader:
    """Reads the face temperatures of the can's inner face and of each interior layer's top."""

    def __init__(self, model: WeldModel) -> None:
        self.model, grid = model, model.grid
        walls = [b for b in grid.layer_rows if b.role == "can"]
        self.probes: list[Probe] = []
        if walls:
            below = walls[0].start - 1
            self.probes.append(Probe("can_inner", walls[0].start, below if below >= 0 else None, "upper"))
        for band in reversed(grid.layer_rows):
            if not is_interior(band.role):
                continue
            hole_m = band.inner_radius_m
            self.probes.append(Probe(band.role, band.end, band.end - 1, "lower", hole_m))
            if band.hole is not None and hole_m > 0.0:
                role = judged_as("", band.hole.family, band.hole.solidus_K is not None)
                self.probes.append(Probe(role, band.end, band.end - 1, "lower", 0.0, hole_m))
        self._names = _told_apart([probe.name for probe in self.probes])
        tops = [one.name != WALL_FACE and kind_of(one.name).winding for one in self.probes]
        self._winding = list(compress(self._names, tops))
        self._prepare()

    def _prepare(self) -> None:
        """What the probes read, rows by rows: those between two layers, and those on a free surface."""
        grid, model = self.model.grid, self.model

        def seen(probe: Probe) -> npt.NDArray[np.bool_]:
            inside: npt.NDArray[np.bool_] = grid.active[probe.upper] & (grid.r > probe.inner_m)
            return inside & (grid.r < probe.outer_m)

        self._free = [(k, one.upper, seen(one)) for k, one in enumerate(self.probes) if one.lower is None]
        between = [(k, one, one.lower) for k, one in enumerate(self.probes) if one.lower is not None]
        self._between = np.array([k for k, _, _ in between], dtype=np.intp)
        uppers, lowers = [one.upper for _, one, _ in between], [lower for _, _, lower in between]
        self._pairs = np.array([uppers, lowers], dtype=np.intp)
        self._cells = model.tables.cells(model.index[self._pairs])
        self._half = 0.5 * grid.dz[self._pairs][..., None]
        self._extra = model.heat.extra_z[self._pairs[1]]
        self._from_above = np.array([one.side == "upper" for _, one, _ in between], dtype=bool)[:, None]
        self._seen = np.array([seen(one) & grid.active[lower] for _, one, lower in between], dtype=bool)
        self._seen = self._seen.reshape(len(between), grid.shape[1])

    def read(self, temperature: FloatArray) -> dict[str, float]:
        """Return the highest temperature over r of every probe [K]."""
        found = np.empty(len(self.probes))
        for k, row, seen in self._free:
            found[k] = np.where(seen, temperature[row], -np.inf).max()
        pairs = temperature[self._pairs]
        upper, lower = pairs
        half_up, half_down = self._half / self._cells.conductivity_z(pairs)
        flux = (upper - lower) / (half_up + self._extra + half_down)
        face = np.where(self._from_above, upper - flux * half_up, lower + flux * half_down)
        found[self._between] = np.where(self._seen, face, -np.inf).max(axis=1)
        return dict(zip(self._names, found.tolist(), strict=True))

    def winding_K(self, probes: Mapping[str, float]) -> dict[str, float]:
        """The hottest top of the winding's layers [K] by its column; nothing where there is no winding."""
        return {f"{WINDING}_K": max(probes[name] for name in self._winding)} if self._winding else {}


def _told_apart(names: Sequence[str]) -> list[str]:
    """The names, each once: a second one of a name lies below the first."""
    found: list[str] = []
    for name in names:
        while name in found:
            name += " below"
        found.append(name)
    return found


def winding_layers() -> tuple[str, ...]:
    """Kinds of layers that belong to the winding."""
    return tuple(name for name in interior_names() if kind_of(name).winding)


class _Late:
    """Spread of a series since a moment that moves on; each value is handled twice at most."""

    def __init__(self) -> None:
        self._rising: deque[tuple[float, float]] = deque()  # what may still be the smallest
        self._falling: deque[tuple[float, float]] = deque()  # what may still be the largest

    def add(self, time_s: float, value: float) -> None:
        while self._falling and self._falling[-1][1] <= value:
            self._falling.pop()
        while self._rising and self._rising[-1][1] >= value:
            self._rising.pop()
        self._falling.append((time_s, value))
        self._rising.append((time_s, value))

    def spread(self, since_s: float) -> float:
        """Largest less smallest value from `since_s` on, which never decreases from call to call."""
        for series in (self._rising, self._falling):
            while series[0][0] < since_s:
                series.popleft()
        return self._falling[0][1] - self._rising[0][1]


class PeakDetector:
    """Decides when every probe has passed its peak.

    A probe has when it fell by `FALLEN_SHARE` of its rise, or stood still to `SETTLED_K` while time
    doubled. Standing still counts only after `patience_s`, the time that heat needs to cross the
    layers above the innermost probe: before that it may not have felt the weld at all.
    """

    def __init__(self, ambient_K: float, patience_s: float) -> None:
        self.ambient_K, self.patience_s = ambient_K, patience_s
        self.samples: list[tuple[float, dict[str, float]]] = []
        self._highest: dict[str, float] = {}
        self._late: dict[str, _Late] = {}

    def add(self, time_s: float, probes: dict[str, float]) -> None:
        """Take the temperatures [K] of all probes at one time."""
        self.samples.append((time_s, probes))
        for name, value in probes.items():
            self._highest[name] = max(value, self._highest.get(name, value))
            self._late.setdefault(name, _Late()).add(time_s, value)

    def follow(self, other: PeakDetector, count: int) -> None:
        """Take over the first samples of another detector."""
        for time_s, probes in other.samples[:count]:
            self.add(time_s, probes)

    def done(self) -> bool:
        """Whether every probe has passed its peak."""
        now_s, latest = self.samples[-1]
        return all(self._fell(name, value) or self._stood(name, now_s) for name, value in latest.items())

    def _fell(self, name: str, value: float) -> bool:
        rise = self._highest[name] - self.ambient_K
        return rise > 0.0 and value <= self._highest[name] - FALLEN_SHARE * rise

    def _stood(self, name: str, now_s: float) -> bool:
        return now_s > self.patience_s and self._late[name].spread(0.5 * now_s) < SETTLED_K


def crossing_time(model: WeldModel) -> float:
    """Diffusion time [s] through all layers from the strip to the top of the innermost layer."""
    root = 0.0
    for layer in (*model.setup.strip, *model.setup.base[:-1]):
        m = layer.material
        storage = m.density_kg_m3 * float(m.heat_capacity(REFERENCE_K))
        root += layer.thickness_m * (storage / float(m.conductivity_z(REFERENCE_K))) ** 0.5
    return root**2


def dose(time_s: FloatArray, temperature_K: FloatArray, kinetics: Kinetics) -> float:
    """Arrhenius dose, integral of A exp(-Ea / (R T)) dt, dimensionless.

    An extrapolation: published rates were fitted near 80 to 150 degrees Celsius at kelvins per
    minute. The exponent is taken linear between samples, so steep rises are integrated well.
    """
    exponent = np.log(kinetics.frequency_1_s) - kinetics.activation_J_mol / (
        GAS_CONSTANT_J_MOL_K * temperature_K
    )
    step = np.diff(exponent)
    flat = np.abs(step) < 1e-6
    growth = np.where(flat, 1.0 + 0.5 * step, np.expm1(step) / np.where(flat, 1.0, step))
    return float((np.exp(exponent[:-1]) * growth * np.diff(time_s)).sum())


def time_above(time_s: FloatArray, value: FloatArray, limit: float) -> float:
    """Time during which `value` is above `limit` [s], linear between samples."""
    from nugget.outcome.melt import positive_share

    over = value - limit
    return float((positive_share(over[:-1], over[1:]) * np.diff(time_s)).sum())


def peak(time_s: FloatArray, value: FloatArray, most_rise: float) -> tuple[float, float]:
    """Time [s] and height of the highest point of a history.

    A parabola through the three samples at the top tells where a smooth peak lies between them.
    Where it rises above the largest sample by more than `most_rise`, what a step may be wrong by,
    the curve has a kink there, as where the current stops, and the sample itself is the peak.

    Parameters
    ----------
    time_s, value : ndarray, shape (n,)
    most_rise : float
        In the unit of `value`; the height returned exceeds ``value.max()`` by no more than this.
    """
    k = int(np.argmax(value))
    sample = float(time_s[k]), float(value[k])
    if k in (0, len(value) - 1):
        return sample
    t, v = time_s[k - 1 : k + 2], value[k - 1 : k + 2]
    left, right = t[0] - t[1], t[2] - t[1]
    a = ((v[0] - v[1]) / left - (v[2] - v[1]) / right) / (left - right)
    b = (v[0] - v[1]) / left - a * left
    if not a < 0.0:
        return sample
    shift = float(np.clip(-0.5 * b / a, left, right))
    rise = float(a * shift**2 + b * shift)
    return (float(t[1] + shift), float(v[1] + rise)) if 0.0 <= rise <= most_rise else sample
