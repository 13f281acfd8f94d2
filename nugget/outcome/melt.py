"""Where metal is liquid: joint diameters and penetration, interpolated inside cells.

The level of a point is ``(h - h_solidus) / (h_liquidus - h_solidus)``, the liquid fraction
carried on below 0 and above 1; metal is *melted* from 0.5 up. Enthalpy moves evenly while a
front crosses a cell, temperature does not, so diameters read from it do not move in steps.

The equations: manual, theory-joint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.compiled.seam import serve
from nugget.outcome.joint import faying_pair
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState

MELTED = 0.5
NEVER = -1e6
"""Level of what does not melt: finite, so that it can be interpolated."""


@dataclass(frozen=True)
class Faying:
    """The joint at the faying surface up to one instant, lengths in m.

    `nugget_m` is joined by the rule of the pair, `both_m` molten on both sides, `one_side_m` on one
    at least, `bonded_m` warm enough to bond. They are diameters of circles with the same area, so a
    zone that starts as a thin ring counts for what it holds and grows from zero. A full zone has its
    own diameter. `outer_diameter_m` and `inner_diameter_m` are those of the nugget's edges: where it
    ends, and how wide a ring stands open.
    """

    nugget_m: float
    outer_diameter_m: float
    inner_diameter_m: float
    both_m: float
    one_side_m: float
    bonded_m: float


@dataclass(frozen=True)
class Zone:
    """What the faying surface has seen so far.

    Attributes
    ----------
    levels : ndarray, shape (4, 2, nr)
        Highest levels. First axis: nugget, both sides, one side at least, bond; positive where it is
        joined, molten, bonded. Second axis: read from enthalpy carried to the surface, and from the
        interface temperature.
    wet_s : ndarray, shape (nr,)
        For how long melt has stood on the joined surface.
    """

    levels: FloatArray
    wet_s: FloatArray


class MeltReader:
    """Reads joint size and penetration off the moments of one model."""

    def __init__(self, model: WeldModel) -> None:
        self.model, self.grid = model, model.grid
        tables, index = model.tables, model.index
        self.melts = np.isfinite(tables.solidus_J_m3)[index] & self.grid.active
        self.solidus = np.where(self.melts, tables.solidus_J_m3[index], 0.0)
        liquidus = np.where(self.melts, tables.liquidus_J_m3[index], 1.0)
        self.per_span = 1.0 / (liquidus - self.solidus)
        layer = np.full(self.grid.shape[0], -1)
        for number, band in enumerate(self.grid.layer_rows):
            layer[band.start : band.end] = number
        # How far a level goes on from the middle of a cell to its face, by what it gains from the cell
        # on the other side of the same layer.
        dz = self.grid.dz
        within, pairs = layer[:-1] == layer[1:], dz[:-1] + dz[1:]
        self._down, self._up = (np.where(within, d / pairs, 0.0)[:, None] for d in (dz[:-1], dz[1:]))
        self.wall_rows = self.grid.rows("strip" if self.model.mirrored else "can")
        self.boiling = np.where(self.grid.active, tables.boiling_J_m3[index], np.inf)
        self.faying = next(k for k, i in enumerate(self.grid.interfaces) if i.name == "faying")
        interface = self.grid.interfaces[self.faying]
        self.pair = faying_pair(self.grid, interface)
        self._latest: tuple[FloatArray | None, tuple[FloatArray, ...]] = None, ()
        # Solidus and width of the melting range on the two sides of the joint [K].
        self.ranges = np.array([self._melting_range(row) for row in self.pair.rows]).transpose(1, 0, 2)
        self.lower_melting_K = np.minimum(
            tables.melting_K[index[interface.above]], tables.melting_K[index[interface.below]]
        )

    def _melting_range(self, row: int) -> tuple[FloatArray, FloatArray]:
        """Solidus (infinite: never) and width of the melting range in each column of a row [K]."""
        materials = self.grid.materials
        solidus = np.array([m.solidus_K or np.inf for m in materials])
        liquidus = np.array([m.liquidus_K or np.inf for m in materials])
        span = np.where(np.isfinite(solidus), liquidus - np.where(np.isfinite(solidus), solidus, 0.0), 1.0)
        index = self.model.index[row]
        return solidus[index], span[index]

    def side_levels(self, state: WeldState, number: int) -> tuple[FloatArray, FloatArray]:
        """Levels on the two sides of an interface, extrapolated from the two cells next to it."""
        interface = self.grid.interfaces[number]
        _, lower_faces, upper_faces = self._levels(state.enthalpy)
        upper = lower_faces[interface.above]
        return upper, upper if interface.mirrored else upper_faces[interface.below]

    def level(self, enthalpy: FloatArray, rows: int | slice = slice(None)) -> FloatArray:
        """Level of every cell of these rows; `NEVER` where nothing melts."""
        found = (enthalpy[rows] - self.solidus[rows]) * self.per_span[rows]
        return np.where(self.melts[rows], found, NEVER)

    def _levels(self, enthalpy: FloatArray) -> tuple[FloatArray, ...]:
        """Level in the middle of every cell, at its lower and at its upper face, shape (nz, nr) each.

        Kept for the other readings of the same moment. A face takes what two cells of its layer tell.
        """
        if self._latest[0] is not enthalpy:
            level = self.level(enthalpy)
            rise, lower, upper = level[1:] - level[:-1], level.copy(), level.copy()
            lower[:-1] -= self._down * rise
            upper[1:] += self._up * rise
            self._latest = enthalpy, (level, lower, upper)
        return self._latest[1]

    def zone(
        self, state: WeldState, bond_fraction: float, before: tuple[Zone, float, float] | None = None
    ) -> Zone:
        """What the faying surface has seen, this moment included.

        What has once joined stays joined after it has frozen, as in a cut through the joint; only
        columns that the contact has reached count.

        Parameters
        ----------
        before : (Zone, float, float), optional
            The zone up to the moment before, the contact radius then [m] and its time [s].
        """
        contact = state.contacts[self.faying]
        colder = np.minimum(contact.above_K, contact.below_K)
        upper, lower = self._sides(state)
        both, either = np.minimum(upper, lower) - MELTED, np.maximum(upper, lower) - MELTED
        joined = self.pair.level(colder, both, either)
        bonded = np.maximum(colder / (bond_fraction * self.lower_melting_K) - 1.0, both)
        now = np.array([joined, both, either, bonded])
        if before is None:
            return Zone(now, np.zeros(colder.size))
        highest, radius_m, time_s = before
        wet = joined.sum(axis=0) > 0.0
        # One column past the edge keeps its level: diameters are interpolated towards it.
        reached = int(self.grid.r_faces.searchsorted(radius_m)) + 1
        np.maximum(now[..., :reached], highest.levels[..., :reached], out=now[..., :reached])
        return Zone(now, highest.wet_s + wet * (state.time_s - time_s))

    def _sides(self, state: WeldState) -> FloatArray:
        """Levels above and below the joint, shape (2, 2, nr): of each, the two readings of `Zone`.

        Read in the layers that are joined: carried to the surface, and what the interface temperatures
        of the flux balance stand for.
        """
        (above, below), (_, lower_faces, upper_faces) = self.pair.rows, self._levels(state.enthalpy)
        contact, (solidus, span) = state.contacts[self.faying], self.ranges
        sides = np.empty((2, 2, span.shape[1]))
        sides[0, 0] = lower_faces[above]
        sides[1, 0] = lower_faces[above] if above == below else upper_faces[below]
        sides[:, 1] = np.maximum((np.array([contact.above_K, contact.below_K]) - solidus) / span, NEVER)
        return sides

    def at_faying(self, zone: Zone, edge_m: float) -> Faying:
        """Diameters of a `zone` inside the contact radius `edge_m`.

        Each is the mean of two readings: the enthalpy level carried to the surface, and the
        level of the interface temperature. Against finer grids the first is 1 % off early and
        up to 3 % late in a pulse, the second the other way round; the mean stays within 2 %.
        """
        r, edges = self.grid.r, []
        sizes = equal_diameters(zone.levels, r, edge_m)
        for joined, nugget in zip(zone.levels[0], sizes[0], strict=True):
            outer = min(outermost(joined, r), edge_m) if nugget > 0.0 else 0.0
            inner = min(innermost(joined, r), outer) if nugget > 0.0 else 0.0
            edges.append((outer, inner))
        nugget, *others = (0.5 * (sizes[:, 0] + sizes[:, 1])).tolist()
        # Radii of the two readings: their sum is the mean diameter.
        outer, inner = (one + other for one, other in zip(*edges, strict=True))
        return Faying(nugget, outer, inner, *others)

    def tip_melt_diameter(self, state: WeldState) -> float:
        """Diameter [m] of the circle with the area on which the tip touches molten strip."""
        level = self._levels(state.enthalpy)[2][self.grid.interfaces[0].below] - MELTED
        return equal_diameter(level, self.grid.r, state.contacts[0].radius_m)

    def rim_is_molten(self, state: WeldState) -> bool:
        """Whether a contact that has reached its cap has liquid metal at its rim."""
        for number, (interface, contact) in enumerate(zip(self.grid.interfaces, state.contacts, strict=True)):
            if contact.radius_m < interface.cap_m * (1.0 - 1e-9):
                continue
            either = np.maximum(*self.side_levels(state, number))
            if float(np.interp(contact.radius_m, self.grid.r, either)) >= MELTED:
                return True
        return False

    def melted_share(self, state: WeldState, rows: slice) -> FloatArray:
        """Melted share of a layer's thickness in each column, 0 to 1, shape (nr,)."""
        cells, lower, upper = self._levels(state.enthalpy)
        if serve():
            from nugget.outcome.compiled_melt import melted_share

            return melted_share((cells, lower, upper), rows, self.grid.z_faces, self.grid.z)
        level = np.concatenate([lower[rows.start, None], cells[rows], upper[rows.stop - 1, None]]) - MELTED
        if float(level.max()) < 0.0:
            return np.zeros(self.grid.shape[1])
        ends = self.grid.z_faces[[rows.start, rows.stop]]
        z = np.concatenate([ends[:1], self.grid.z[rows], ends[1:]])
        span = (z[1:] - z[:-1])[:, None]
        share = positive_share(level[:-1], level[1:])
        return np.asarray((share * span).sum(axis=0) / (ends[1] - ends[0]), dtype=np.float64)

    def vapour_J(self, state: WeldState) -> tuple[float, float]:
        """Heat beyond the boiling point, which nothing carries away in the model [J]: all, and the wall's.

        The wall of sheets alike is the upper one again.
        """
        beyond = state.enthalpy - self.boiling
        if float(beyond.max()) <= 0.0:
            return 0.0, 0.0
        vapour = np.maximum(beyond, 0.0) * self.model.heat.volume
        return float(vapour.sum()), float(vapour[self.wall_rows].sum())


def positive_share(start: FloatArray, end: FloatArray) -> FloatArray:
    """Share of each segment on which a linear function from `start` to `end` is positive."""
    high, low = np.maximum(start, end), np.minimum(start, end)
    span = np.where(high > low, high - low, 1.0)
    return np.where(low >= 0.0, 1.0, np.where(high <= 0.0, 0.0, high / span))


def equal_diameter(level: FloatArray, r: FloatArray, edge_m: float) -> float:
    """Diameter [m] of the circle whose area is that where `level` is positive inside `edge_m`.

    See `equal_diameters`.
    """
    if float(level.max()) <= 0.0:
        return 0.0
    return float(equal_diameters(level, r, edge_m))


def equal_diameters(levels: FloatArray, r: FloatArray, edge_m: float) -> FloatArray:
    """`equal_diameter` of several levels at once, shape (..., nr) to (...).

    A level is taken linear in r squared between cell centres and constant up to the axis.
    """
    if serve():
        from nugget.outcome import compiled_melt

        return compiled_melt.equal_diameters(levels, r, edge_m)
    square, inside = r * r, min(edge_m, float(r[-1])) ** 2
    beyond = int(np.searchsorted(square, inside))
    at = np.concatenate([levels[..., :1], levels[..., :beyond], levels[..., beyond : beyond + 1]], axis=-1)
    if beyond > 0:
        inner, outer = levels[..., beyond - 1], levels[..., beyond]
        slope = (outer - inner) / (square[beyond] - square[beyond - 1])
        at[..., -1] = slope * (inside - square[beyond - 1]) + inner
    ends = np.concatenate([[0.0], square[:beyond], [inside]])
    area = (positive_share(at[..., :-1], at[..., 1:]) * (ends[1:] - ends[:-1])).sum(axis=-1)
    return np.asarray(2.0 * np.sqrt(area), dtype=np.float64)


def outermost(level: FloatArray, r: FloatArray) -> float:
    """Largest radius [m] at which `level` passes from positive to negative; 0 if never positive."""
    (positive,) = (level > 0.0).nonzero()
    if positive.size == 0:
        return 0.0
    last = int(positive[-1])
    if last + 1 == level.size:
        return float(r[last])
    a, b = level[last], level[last + 1]
    return float(r[last] + (r[last + 1] - r[last]) * a / (a - b))


def innermost(level: FloatArray, r: FloatArray) -> float:
    """Radius [m] at which `level` first turns positive; 0 when it is positive at the axis."""
    first = int((level > 0.0).nonzero()[0][0])
    if first == 0:
        return 0.0
    a, b = level[first - 1], level[first]
    return float(r[first - 1] + (r[first] - r[first - 1]) * a / (a - b))
