"""Collects what one march says, step by step."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.contact.dome import sinking
from nugget.outcome.cap import LAST_S as CAP_LAST_S
from nugget.outcome.interior import PeakDetector, ProbeReader, crossing_time
from nugget.outcome.joint import dissolved_depth
from nugget.outcome.melt import Faying, MeltReader, Zone
from nugget.outcome.strip_through import hole_width
from nugget.setup.layer_kinds import is_electrode, is_interior
from nugget.weld.march import March
from nugget.weld.state import WeldState

CHILL_S = 20e-6
"""Heat crosses some 20 um of nickel in this time, more than the row that touches the tip."""


@dataclass(frozen=True)
class Snapshot:
    """Temperature field [K] at one instant [s], shape (nz, nr)."""

    time_s: float
    temperature_K: FloatArray


class Recorder:
    """Turns moments into columns of figures and keeps the fields worth showing."""

    def __init__(self, march: March) -> None:
        self.march, self.model, self.setup = march, march.model, march.setup
        self.melt, self.probes = MeltReader(self.model), ProbeReader(self.model)
        self.peak_detector = PeakDetector(
            self.setup.ambient_K, self.setup.train_s + crossing_time(self.model)
        )
        self.rows: list[dict[str, float]] = []
        self.zones: list[Zone] = []
        self.snapshots: dict[str, Snapshot] = {}
        self._hottest = self._inmost = -np.inf
        self._wall_m = sum(layer.thickness_m for layer in self.setup.base if layer.role == "can")
        self._inside_m3, self._tips_m3 = (self._volumes(part) for part in (is_interior, is_electrode))
        grid = self.model.grid
        # The lower half of a mirrored stack is the upper one again.
        self._strip, self._can = grid.rows("strip"), grid.rows("strip" if self.model.mirrored else "can")
        self._melting: dict[str, list[tuple[slice, npt.NDArray[np.bool_]]]] = {}
        for band in grid.layer_rows:
            melts = band.material.solidus_K is not None and band.material.family != "metal"
            if melts and is_interior(band.role):
                own = (grid.r > band.inner_radius_m) & (grid.r < band.radius_m)  # not what fills its hole
                self._melting.setdefault(band.role, []).append((slice(band.start, band.end), own))
        self._wall_m3 = np.where(grid.active, self.model.heat.volume, 0.0)[grid.rows("can")]
        self._start = self.model.initial()
        self.last: WeldState | None = None
        self._held: deque[tuple[float, FloatArray]] = deque()
        self.hottest_by_material = np.full(len(self.model.grid.materials), -np.inf)
        material = np.where(self.model.grid.active, self.model.grid.material, len(self.hottest_by_material))
        self._by_material = np.argsort(material, axis=None, kind="stable")
        self._first = np.searchsorted(material.ravel()[self._by_material], np.unique(material))

    def add(self, state: WeldState) -> None:
        """Read one moment."""
        if state.electric is None:
            # No current, no interface heat: side temperatures of the cooling joint.
            state = self._cooling(state)
        faying, dissolved = self._joint(state)
        probes, (vapour_J, wall_vapour_J) = self.probes.read(state.temperature), self.melt.vapour_J(state)
        hottest = self._hottest_of_each(state)
        row = {
            "time_s": state.time_s,
            "current_A": state.circuit.current_A,
            "load_ohm": state.load_ohm,
            "emf_V": state.emf_V,
            "tip_radius_m": state.contacts[0].radius_m,
            "contact_radius_m": state.contacts[self.melt.faying].radius_m,
            "load_share": min(t.load_share for t in state.contacts),
            "nugget_diameter_m": faying.nugget_m,
            "both_sides_melt_diameter_m": faying.both_m,
            "nugget_outer_diameter_m": faying.outer_diameter_m,
            "nugget_inner_diameter_m": faying.inner_diameter_m,
            "one_side_melt_diameter_m": faying.one_side_m,
            "bonded_diameter_m": faying.bonded_m,
            "can_penetration": float(np.minimum(self._share(state, self._can) + dissolved, 1.0).max()),
            "rim_molten": float(self.melt.rim_is_molten(state)),
            "vapour_J": vapour_J,
            "wall_vapour_J": wall_vapour_J,
            "hottest_K": float(hottest.max()),
            "interior_heat_J": self._heat_J(state, self._inside_m3),
            "weld_J": state.energy.returned_J,
        }
        row |= self._at_the_tip(state) | {f"{name}_K": value for name, value in probes.items()}
        winding = self.probes.winding_K(probes)
        row |= winding
        for role, bands in self._melting.items():
            shares = (self.melt.melted_share(state, rows) * own for rows, own in bands)
            row[f"{role}_melted"] = max(float(share.max()) for share in shares)
        if self.setup.sealed:
            wall_K = state.temperature[self.model.grid.rows("can")]
            row["wall_mean_K"] = float(np.vdot(wall_K, self._wall_m3) / self._wall_m3.sum())
        self.rows.append(row)
        np.maximum(self.hottest_by_material, hottest, out=self.hottest_by_material)
        self.peak_detector.add(state.time_s, probes)
        inmost_K = list(probes.values())[-1] if probes else -np.inf
        self._keep(state, row["hottest_K"], next(iter(winding.values()), inmost_K))
        self.last = state

    def _joint(self, state: WeldState) -> tuple[Faying, FloatArray]:
        """The joint with what it has seen so far, and the share of the wall that its melt dissolves."""
        before = None
        if self.zones:
            before = self.zones[-1], self.rows[-1]["contact_radius_m"], self.rows[-1]["time_s"]
        zone = self.melt.zone(state, self.setup.joint.bond_fraction, before)
        self.zones.append(zone)
        joint = self.melt.at_faying(zone, state.contacts[self.melt.faying].radius_m)
        return joint, self._dissolved_share(zone.wet_s)

    def _at_the_tip(self, state: WeldState) -> dict[str, float]:
        """What the tip does to the strip: melt under it and beside it, its print."""
        strip, under = self._share(state, self._strip), self._under(state)
        return {
            "strip_penetration": float((under * strip).max()),
            "strip_beside_tip": float(((1.0 - under) * strip).max()),
            "tip_melt_diameter_m": self.melt.tip_melt_diameter(state),
            "strip_hole_m": hole_width(strip, self.melt.grid.r_faces),
            "indentation_m": self._indentation_m(state.contacts[0].radius_m),
        }

    def _under(self, state: WeldState) -> FloatArray:
        """Share of each column that the tip has held for `CHILL_S`, or since the step before.

        A tip whose contact jumps outwards meets metal that melted beside it and chills it within
        microseconds; whether steps end in between is chance.
        """
        held = self._held
        if not held and self.last is not None:
            held.append((self.last.time_s, self.last.contacts[0].contact_fraction))
        held.append((state.time_s, state.contacts[0].contact_fraction))
        while len(held) > 1 and held[1][0] <= state.time_s - CHILL_S:
            held.popleft()
        return np.minimum(held[0][1], held[-1][1])

    def done(self) -> bool:
        """Whether all probes have passed their peak after the last pulse, and a cap has been watched."""
        watch_s = self.setup.train_s + (CAP_LAST_S if self.setup.sealed else 0.0)
        ended = self.last is not None and self.last.time_s > watch_s * (1.0 + 1e-9)
        return ended and self.last.electric is None and self.peak_detector.done()  # type: ignore[union-attr]

    def history(self) -> dict[str, FloatArray]:
        """Columns by name, one entry per step."""
        return {name: np.array([row[name] for row in self.rows]) for name in self.rows[0]}

    def held_past_table(self) -> list[str]:
        """Materials that became hotter than their property tables reach; their last values were used."""
        ends_K, materials = self.model.tables.table_end_K, self.model.grid.materials
        return [m.name for k, m in enumerate(materials) if self.hottest_by_material[k] > ends_K[k] + 1.0]

    def _cooling(self, state: WeldState) -> WeldState:
        contacts = self.model.cooled_contacts(state.temperature, state.contacts)
        return replace(state, contacts=contacts)

    def _hottest_of_each(self, state: WeldState) -> FloatArray:
        """Highest temperature in each material of the grid [K]."""
        found = np.maximum.reduceat(state.temperature.ravel()[self._by_material], self._first)
        return np.asarray(found[: len(self.hottest_by_material)], dtype=np.float64)

    def _share(self, state: WeldState, rows: slice) -> FloatArray:
        if rows.stop == rows.start:
            return np.zeros(self.model.grid.shape[1])
        return self.melt.melted_share(state, rows)

    def _indentation_m(self, tip_radius_m: float) -> float:
        """Depth to which a dome has sunk [m]; the grid does not move, so heat knows nothing of it."""
        tip = self.setup.electrode
        return sinking(tip_radius_m, tip.dome_radius_m, tip.worn_flat_m)

    def _dissolved_share(self, wet_s: FloatArray) -> FloatArray:
        """Share of the wall that the melt on it has dissolved in each column, beyond what has melted."""
        if self._wall_m == 0.0 or self.melt.pair.record.kind != "soluble":
            return np.zeros_like(wet_s)
        return dissolved_depth(wet_s) / self._wall_m

    def tip_heat_J(self) -> float:
        """Heat that the modelled tips hold in the end."""
        return 0.0 if self.last is None else self._heat_J(self.last, self._tips_m3)

    def _volumes(self, belongs: Callable[[str], bool]) -> FloatArray:
        """Volumes of the cells of the layers with such roles, zero elsewhere."""
        found = np.zeros_like(self.model.heat.volume)
        for band in self.model.grid.layer_rows:
            if belongs(band.role):
                found[band.start : band.end] = self.model.heat.volume[band.start : band.end]
        return found

    def _heat_J(self, state: WeldState, volumes_m3: FloatArray) -> float:
        """Heat since the start in these volumes."""
        return float(np.vdot(state.enthalpy - self._start, volumes_m3))

    def _keep(self, state: WeldState, hottest_K: float, inmost_K: float) -> None:
        if hottest_K > self._hottest:
            self._hottest = hottest_K
            self.snapshots["hottest"] = Snapshot(state.time_s, state.temperature)
        if inmost_K > self._inmost:
            self._inmost = inmost_K
            self.snapshots["interior peak"] = Snapshot(state.time_s, state.temperature)
