"""One simulated weld: figures, histories and fields, kept and read back whole."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.grid.stack import Grid
from nugget.outcome.fields import Fields, keeper
from nugget.outcome.figures import figures_of
from nugget.outcome.probing import at_points
from nugget.outcome.recorder import Recorder, Snapshot
from nugget.outcome.weld_text import weld_text
from nugget.outcome.writing import write_whole
from nugget.setup import Setup
from nugget.weld.effort import Foresight
from nugget.weld.march import March
from nugget.weld.state import WeldState

IntArray = npt.NDArray[np.intp]
FORMAT = 1


@dataclass(frozen=True)
class LayerInfo:
    """A layer as drawn: title, role, z range, outer and inner radius [m]."""

    title: str
    role: str
    bottom_m: float
    top_m: float
    radius_m: float
    inner_radius_m: float = 0.0


@dataclass(frozen=True, repr=False)
class Weld:
    """Result of one simulated weld.

    Attributes
    ----------
    setup : Setup
    figures : dict
        Figures of merit, SI units in the names, JSON-ready.
    history : dict of str to ndarray, shape (steps + 1,)
        Columns against ``time_s``.
    snapshots : dict of str to Snapshot
        ``hottest`` and ``interior peak``.
    r_faces_m, z_faces_m : ndarray
        Grid faces; z = 0 is the faying surface.
    active : ndarray of bool, shape (nz, nr)
    melting_K : ndarray, shape (nz, nr)
        Melting temperature of each cell, infinite where none.
    layers : tuple of LayerInfo
        Bottom to top.
    fields : Fields or None
        Fields in time, where they were asked for.
    seconds : float
        Wall time of the march, 0 for a weld that was read back; no part of the result, so that
        equal welds compare equal.
    """

    setup: Setup
    figures: dict[str, Any]
    history: dict[str, FloatArray]
    snapshots: dict[str, Snapshot]
    r_faces_m: FloatArray
    z_faces_m: FloatArray
    active: npt.NDArray[np.bool_]
    melting_K: FloatArray
    layers: tuple[LayerInfo, ...]
    fields: Fields | None = None
    seconds: float = field(default=0.0, compare=False)

    def __getattr__(self, name: str) -> Any:
        """Figures of merit read as attributes: ``weld.nugget_diameter_m``."""
        if name.startswith("__") or "figures" not in self.__dict__:
            raise AttributeError(name)
        try:
            return self.figures[name]
        except KeyError:
            raise AttributeError(f"Weld has no figure {name!r}") from None

    def __repr__(self) -> str:
        """Return a few lines: title and key figures."""
        return weld_text(self)

    def at(
        self,
        r: npt.ArrayLike,
        z: npt.ArrayLike,
        t: npt.ArrayLike | None = None,
        *,
        field: str = "temperature_K",
        method: Literal["linear", "nearest"] = "linear",
    ) -> FloatArray:
        """Return a field at points: NaN in air.

        Between cell centres it is linear within a layer, and held over the half cell next to a
        layer's faces: contacts are jumps.

        Parameters
        ----------
        r, z : array_like
            Distance from the axis and height [m]; z = 0 is the faying surface, the strip above it.
        t : array_like, optional
            Instants [s], within those that were kept; the hottest moment by default.
        field : str
            ``temperature_K``, ``liquid_fraction``, ``potential_V``, ``current_density_r_A_m2`` or
            ``current_density_z_A_m2``.
        method : {"linear", "nearest"}
            Between the instants that were kept.

        Returns
        -------
        ndarray
            Of the shape that `r`, `z` and `t` broadcast to.

        Raises
        ------
        InputError
            When the fields were not kept at such instants.

        Examples
        --------
        >>> import nugget
        >>> setup = nugget.preset("coupon", ["pulse.0.duration=0.1 ms", "numerics.refinement=0.25"])
        >>> weld = nugget.simulate(setup, every=1)
        >>> start, end = weld.at(0.0, 10e-6, [0.0, 1e-4])
        >>> round(float(start), 2), bool(end > start)
        (293.15, True)
        """
        return at_points(self, r, z, t, field, method)

    def save(self, path: str | Path) -> Path:
        """Write fields, histories and figures to one npz file, whole or not at all."""
        header = {
            "format": FORMAT,
            "figures": self.figures,
            "setup": self.setup.document(whole=True),
            "layers": [vars(b) for b in self.layers],
            "snapshots": {name: s.time_s for name, s in self.snapshots.items()},
        }
        arrays: dict[str, Any] = {
            "r_faces_m": self.r_faces_m,
            "z_faces_m": self.z_faces_m,
            "active": self.active,
            "melting_K": self.melting_K,
        }
        arrays |= {f"history {k}": v for k, v in self.history.items()}
        arrays |= {f"snapshot {k}": v.temperature_K for k, v in self.snapshots.items()}
        if self.fields is not None:
            arrays |= {f"field {k}": v for k, v in vars(self.fields).items()}
        text = json.dumps(header, allow_nan=False)

        def write(handle: Any) -> None:
            np.savez_compressed(handle, header=np.array(text), **arrays)

        return write_whole(Path(path), write)


def iter_steps(setup: Setup) -> Iterator[WeldState]:
    """Step through a weld: yields a `WeldState` with the fields after every accepted step.

    Ends, like `run_weld`, when the interior probes have passed their peak.
    """
    march = March(setup)
    recorder = Recorder(march)
    for state in march:
        recorder.add(state)
        yield state
        if recorder.done():
            return


def run_weld(
    setup: Setup,
    on_step: Callable[[WeldState], None] | None = None,
    keep: Sequence[float | str] | None = None,
    every: int | None = None,
    frames: int | None = None,
) -> Weld:
    """Run one march and return the weld, without sensitivity runs.

    A march that will take over a minute says so through `logging`, once.

    Parameters
    ----------
    setup : Setup
    on_step : callable, optional
        Called with every moment, for progress bars.
    keep : sequence of float or str, optional
        Instants at which fields are kept [s].
    every : int, optional
        Keep the fields of every so many steps instead.
    frames : int, optional
        Keep fewer than twice so many instead, evenly spread over the steps.
    """
    started = time.perf_counter()
    march = March(setup)
    recorder = Recorder(march)
    fields = keeper(march.model, keep, every, setup.numerics.max_time_s, frames)
    foresight, reached = Foresight(setup), False
    for state in march:
        foresight.add(state)
        recorder.add(state)
        if fields is not None:
            fields.add(state)
        if on_step is not None:
            on_step(state)
        if recorder.done():
            reached = True
            break
    figures = figures_of(recorder, reached)
    grid, tables, index = march.model.grid, march.model.tables, march.model.index
    return Weld(
        setup=setup,
        figures=figures,
        history=recorder.history(),
        snapshots=recorder.snapshots,
        r_faces_m=grid.r_faces,
        z_faces_m=grid.z_faces,
        active=grid.active,
        melting_K=np.where(grid.active, tables.melting_K[index], np.inf),
        layers=_layers(grid),
        fields=None if fields is None else fields.kept(),
        seconds=time.perf_counter() - started,
    )


def _layers(grid: Grid) -> tuple[LayerInfo, ...]:
    """The layers of a grid as they are drawn."""
    z = grid.z_faces
    return tuple(
        LayerInfo(b.name, b.role, float(z[b.start]), float(z[b.end]), b.radius_m, b.inner_radius_m)
        for b in grid.layer_rows
    )
