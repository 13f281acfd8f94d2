"""Collects what one march says, step by step."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, replace

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.dome import sinking
from nugget.grid.layout import LayerRows
from nugget.outcome.cap import LAST_S as CAP_LAST_S
from nugget.outcome.interior import PeakDetector, ProbeReader, crossing_time, winding_K
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
        self._interior = [b for b in self.model.grid.layer_rows if is_interior(b.role)]
        self._melting: dict[str, list[LayerRows]] = {}
        for band in self._interior:
            if band.material.solidus_K is not None and band.material.family != "metal":
                self._melting.setdefault(band.role, []).append(band)
        self._tips = [b for b in self.model.grid.layer_rows if is_electrode(b.role)]
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
        probes = self.probes.read(state.temperature)
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
            "can_penetration": float(np.minimum(self._share(state, "can") + dissolved, 1.0).max()),
            "rim_molten": float(self.melt.rim_is_molten(state)),
            "vapour_J": self.melt.vapour_J(state),
            "wall_vapour_J": self.melt.wall_vapour_J(state),
            "hottest_K": float(hottest.max()),
            "interior_heat_J": self._heat(state, self._interior),
            "weld_J": state.energy.returned_J,
        }
        row |= self._at_the_tip(state) | {f"{name}_K": value for name, value in probes.items()}
        winding = winding_K(probes)
        row |= winding
        for role, bands in self._melting.items():
            row[f"{role}_melted"] = max(float(self._melted(state, band).max()) for band in bands)
        if self.setup.sealed:
            row["wall_mean_K"] = self._mean_K(state, "can")
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
        strip, under = self._share(state, "strip"), self._under(state)
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

    def _share(self, state: WeldState, role: str) -> FloatArray:
        # The lower half of a mirrored stack is the upper one again.
        mirrored = self.model.mirrored and role == "can"
        rows = self.model.grid.rows("strip" if mirrored else role)
        if rows.stop == rows.start:
            return np.zeros(self.model.grid.shape[1])
        return self.melt.melted_share(state, rows)

    def _melted(self, state: WeldState, band: LayerRows) -> FloatArray:
        """Melted share of a layer inside the wall in each column; nothing of what fills its hole."""
        share = self.melt.melted_share(state, slice(band.start, band.end))
        r = self.model.grid.r
        return np.where((r > band.inner_radius_m) & (r < band.radius_m), share, 0.0)

    def _mean_K(self, state: WeldState, role: str) -> float:
        """Mean temperature of a part by volume [K]."""
        rows = self.model.grid.rows(role)
        weights = np.where(self.model.grid.active[rows], self.model.heat.volume[rows], 0.0)
        return float(np.average(state.temperature[rows], weights=weights))

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
        return 0.0 if self.last is None else self._heat(self.last, self._tips)

    def _heat(self, state: WeldState, layer_rows: list[LayerRows]) -> float:
        volume = self.model.heat.volume
        return sum(
            float(
                (
                    (state.enthalpy[b.start : b.end] - self._start[b.start : b.end]) * volume[b.start : b.end]
                ).sum()
            )
            for b in layer_rows
        )

    def _keep(self, state: WeldState, hottest_K: float, inmost_K: float) -> None:
        if hottest_K > self._hottest:
            self._hottest = hottest_K
            self.snapshots["hottest"] = Snapshot(state.time_s, state.temperature)
        if inmost_K > self._inmost:
            self._inmost = inmost_K
            self.snapshots["interior peak"] = Snapshot(state.time_s, state.temperature)
