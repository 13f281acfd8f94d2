"""Made-up materials, grids and quick setups for tests of the core."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from nugget.grid.layout import LayerRows
from nugget.grid.stack import Grid, Interface
from nugget.materials.material import Citation, Curve, Material
from nugget.setup import Setup, default_setup, preset
from nugget.setup.description import Description
from nugget.weld.march import March
from nugget.weld.state import WeldState

Marched = tuple[March, list[WeldState]]
Rows = float | Sequence[tuple[float, float]]

COARSE = (
    "numerics.refinement=0.25",
    "numerics.tolerance=40 K",
    "hold_time=0.1 ms",
)
BANK = (
    "source.kind=capacitor bank",
    "source.capacitance=0.5 F",
    "source.start_voltage=8 V",
    "source.series_resistance=2 mohm",
    "leads.inductance=0.2 uH",
)
TRANSFORMER = (
    "source.kind=transformer",
    "source.open_circuit_voltage_rms=4 V",
    "source.frequency=1000 Hz",
    "source.winding_resistance=0.5 mohm",
    "source.leakage_inductance=0.4 uH",
    "leads.inductance=0 uH",
)
CITATION = Citation("made up for a test", "estimated")


def coarse(*overrides: str, name: str = "coupon", until_ms: float | None = None) -> Setup:
    """A preset (``default``: the built-in example) on a coarse grid; `until_ms` ends the march."""
    changes = [*COARSE, *overrides]
    setup = default_setup(changes) if name == "default" else preset(name, changes)
    if until_ms is None:
        return setup
    return setup.with_({"numerics.max_time": until_ms * 1e-3})


def options(*overrides: str) -> list[str]:
    """Those of the command line for a coarse grid, no inductance (half of the steps), and these overrides."""
    return [part for one in (*COARSE, "leads.inductance=0 uH", *overrides) for part in ("--set", one)]


def marched(setup: Description) -> Marched:
    """A march and all of its moments."""
    march = March(setup)
    return march, list(march)


def at(states: list[WeldState], time_s: float) -> WeldState:
    """The moment nearest to a time."""
    return min(states, key=lambda state: abs(state.time_s - time_s))


def curve(given: Rows) -> Curve:
    """A constant, or rows of (temperature [K], value)."""
    rows = [(300.0, given)] if isinstance(given, float) else list(given)
    T, value = (np.array(column, dtype=np.float64) for column in zip(*rows, strict=True))
    return Curve(T, value, CITATION)


def matter(name: str = "made up", k: Rows = 50.0, rho: Rows | None = 1e-7, **changes: Any) -> Material:
    """A metal of 500 J/(kg K), 8000 kg/m3 and 1 GPa that melts from 1500 to 1600 K."""
    conductivity = curve(k)
    given: dict[str, Any] = {
        "title": name,
        "family": "metal",
        "density_kg_m3": 8000.0,
        "heat_capacity": curve(500.0),
        "conductivity_r": conductivity,
        "conductivity_z": conductivity,
        "resistivity": None if rho is None else curve(rho),
        "solidus_K": 1500.0,
        "liquidus_K": 1600.0,
        "heat_of_fusion_J_kg": 3e5,
        "boiling_K": None,
        "hardness": curve(1e9),
    }
    return Material(name=name, **(given | changes))


def column_grid(
    layers: Sequence[tuple[str, Material, Sequence[float]]],
    r_faces: Sequence[float] = (0.0, 1e-3),
    interfaces: Sequence[Interface] = (),
    bottom: str = "holder",
) -> Grid:
    """Layers (role, material, z faces) of one radius on top of each other, bottom to top."""
    z = np.concatenate([[layers[0][2][0]], *(faces[1:] for _, _, faces in layers)])
    materials = list(dict.fromkeys(id(material) for _, material, _ in layers))
    unique = {id(material): material for _, material, _ in layers}
    layer_rows: list[LayerRows] = []
    index: list[int] = []
    for role, material, faces in layers:
        rows = len(faces) - 1
        layer_rows.append(
            LayerRows(material.title, role, len(index), len(index) + rows, r_faces[-1], material)
        )
        index += [materials.index(id(material))] * rows
    return Grid(
        r_faces=np.array(r_faces),
        z_faces=z,
        material=np.repeat(np.array(index, dtype=np.intp)[:, None], len(r_faces) - 1, axis=1),
        materials=tuple(unique[key] for key in materials),
        layer_rows=tuple(layer_rows),
        interfaces=tuple(interfaces),
        grounds=(),
        bottom=bottom,
    )
