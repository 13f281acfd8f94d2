"""Temperatures that reach the inside of the cell, and when the run may end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import GAS_CONSTANT_J_MOL_K, REFERENCE_K
from nugget.setup.description import Kinetics
from nugget.weld.model import WeldModel

FALLEN_SHARE = 0.05
SETTLED_K = 0.1
INTERIOR_ROLES = ("gap", "disc", "roll")


@dataclass(frozen=True)
class Probe:
    """A horizontal face whose highest temperature over r is followed.

    `upper` and `lower` are the rows on its two sides (None: a free or insulated surface);
    `side` tells which side's surface temperature is read.
    """

    name: str
    upper: int
    lower: int | None
    side: str


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
            if band.role in INTERIOR_ROLES:
                self.probes.append(Probe(band.role, band.end, band.end - 1, "lower"))
        rows = sorted({p.upper for p in self.probes} | {p.lower for p in self.probes if p.lower is not None})
        self._rows = {row: model.tables.cells(model.index[row]) for row in rows}

    def read(self, temperature: FloatArray) -> dict[str, float]:
        """Return the highest temperature over r of every probe [K]."""
        found: dict[str, float] = {}
        for probe in self.probes:
            name = probe.name
            while name in found:
                name += " below"
            found[name] = float(self._face(probe, temperature).max())
        return found

    def _face(self, probe: Probe, temperature: FloatArray) -> FloatArray:
        grid, heat = self.model.grid, self.model.heat
        upper = temperature[probe.upper]
        active = grid.active[probe.upper]
        if probe.lower is None:
            return np.where(active, upper, -np.inf)
        lower = temperature[probe.lower]
        active = active & grid.active[probe.lower]
        half_up = 0.5 * grid.dz[probe.upper] / self._rows[probe.upper].conductivities(upper)[1]
        half_down = 0.5 * grid.dz[probe.lower] / self._rows[probe.lower].conductivities(lower)[1]
        flux = (upper - lower) / (half_up + heat.extra_z[probe.lower, 0] + half_down)
        face = upper - flux * half_up if probe.side == "upper" else lower + flux * half_down
        return np.where(active, face, -np.inf)


class PeakDetector:
    """Decides when every probe has passed its peak (contract, section 5).

    A probe that stands still counts only after `patience_s`, the time that heat needs to cross
    the layers above the innermost probe: before that it may not have felt the weld at all.
    """

    def __init__(self, ambient_K: float, patience_s: float) -> None:
        self.ambient_K, self.patience_s = ambient_K, patience_s
        self.times: list[float] = []
        self.values: list[dict[str, float]] = []

    def add(self, time_s: float, probes: dict[str, float]) -> None:
        self.times.append(time_s)
        self.values.append(probes)

    def done(self) -> bool:
        """Whether every probe fell by 5 % of its rise or stood still while time doubled."""
        now, latest = self.times[-1], self.values[-1]
        half = int(np.searchsorted(self.times, 0.5 * now))
        for name, value in latest.items():
            series = [v[name] for v in self.values]
            peak = max(series)
            fallen = value <= peak - FALLEN_SHARE * (peak - self.ambient_K) and peak > self.ambient_K
            late = series[half:]
            still = now > self.patience_s and max(late) - min(late) < SETTLED_K
            if not (fallen or still):
                return False
        return True


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
