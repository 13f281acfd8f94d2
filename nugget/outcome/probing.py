"""Values at points: between cell centres within a layer, between kept instants in time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.outcome.fields import NAMES

if TYPE_CHECKING:
    from nugget.outcome.weld import Weld

SAME_PLANE_M = 1e-12
ODD = ("potential_V", "current_density_r_A_m2")
"""Fields that change sign at a plane of symmetry, against whose potential all is measured there."""


def is_mirrored(weld: Weld) -> bool:
    """Whether only the upper half of the stack was solved (opposed tips, both sheets alike)."""
    return bool(weld.z_faces_m[0] > -SAME_PLANE_M)


def at_points(
    weld: Weld,
    r_m: npt.ArrayLike,
    z_m: npt.ArrayLike,
    time_s: npt.ArrayLike | None,
    name: str,
    method: Literal["linear", "nearest"],
) -> FloatArray:
    """Return a field at points; see `Weld.at`."""
    if method not in ("linear", "nearest"):
        raise InputError("method", method, "linear or nearest")
    times, values = _kept(weld, time_s, name)
    given = (r_m, z_m, times[0] if time_s is None else time_s)
    r, z, t = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in given))
    turned = (z < 0.0) & (is_mirrored(weld) and name in ODD)
    r, z = np.abs(r), np.abs(z) if is_mirrored(weld) else z
    outside = ~((t >= times[0]) & (t <= times[-1]))
    if outside.any():
        raise InputError("t", float(t[outside].flat[0]), f"an instant from {times[0]:g} to {times[-1]:g} s")
    late = np.clip(np.searchsorted(times, t), 1, max(len(times) - 1, 1))
    early = late - 1
    late = np.minimum(late, len(times) - 1)
    span = np.where(late > early, times[late] - times[early], 1.0)
    share = np.where(late > early, (t - times[early]) / span, 0.0)
    if method == "nearest":
        share = np.round(share)
    rows, columns = _rows(weld, z), _columns(weld, r)
    low, high = _in_space(values, early, rows, columns), _in_space(values, late, rows, columns)
    found = np.where(share == 0.0, low, np.where(share == 1.0, high, (1.0 - share) * low + share * high))
    inside = weld.active[_cells(weld.z_faces_m, z), _cells(weld.r_faces_m, r)]
    inside &= (z >= weld.z_faces_m[0]) & (z <= weld.z_faces_m[-1]) & (r <= weld.r_faces_m[-1])
    return np.asarray(np.where(inside, np.where(turned, -found, found), np.nan), dtype=np.float64)


def _kept(weld: Weld, time_s: npt.ArrayLike | None, name: str) -> tuple[FloatArray, FloatArray]:
    """Instants and values, shape (nt, nz, nr), of what was kept of a field."""
    if name not in NAMES:
        raise InputError("field", name, f"one of {', '.join(NAMES)}")
    if time_s is None and name == "temperature_K":
        hottest = weld.snapshots["hottest"]
        return np.array([hottest.time_s]), hottest.temperature_K[None]
    if weld.fields is None:
        wanted = "a weld whose fields were kept, as by nugget.simulate(setup, every=1)"
        raise InputError("field" if time_s is None else "t", name if time_s is None else time_s, wanted)
    if time_s is None:
        raise InputError("t", None, f"an instant, to read {name} at")
    return weld.fields.time_s, getattr(weld.fields, name)


def _cells(faces: FloatArray, x: FloatArray) -> npt.NDArray[np.intp]:
    """Index of the cell that holds each place, the nearest one outside; a face belongs to the cell above."""
    return np.clip(np.searchsorted(faces, x, side="right") - 1, 0, len(faces) - 2)


def _rows(weld: Weld, z: FloatArray) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], FloatArray]:
    """The two rows around each height, both of its own layer, and the share of the upper one."""
    faces, row = weld.z_faces_m, _cells(weld.z_faces_m, z)
    layer = _layer_of_rows(weld)
    centre = 0.5 * (faces[1:] + faces[:-1])
    other = np.clip(np.where(z >= centre[row], row + 1, row - 1), 0, len(centre) - 1)
    other = np.where(layer[other] == layer[row], other, row)
    return row, other, _share(centre, row, other, z)


def _columns(weld: Weld, r: FloatArray) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], FloatArray]:
    faces, column = weld.r_faces_m, _cells(weld.r_faces_m, r)
    centre = 0.5 * (faces[1:] + faces[:-1])
    other = np.clip(np.where(r >= centre[column], column + 1, column - 1), 0, len(centre) - 1)
    return column, other, _share(centre, column, other, r)


def _share(
    centre: FloatArray, own: npt.NDArray[np.intp], other: npt.NDArray[np.intp], x: FloatArray
) -> FloatArray:
    """Share of `other` in a linear interpolation; 0 where it is the same cell."""
    apart = np.where(other != own, centre[other] - centre[own], 1.0)
    return np.where(other != own, (x - centre[own]) / apart, 0.0)


def _layer_of_rows(weld: Weld) -> npt.NDArray[np.intp]:
    height = 0.5 * (weld.z_faces_m[1:] + weld.z_faces_m[:-1])
    tops = np.array([layer.top_m for layer in weld.layers])
    return np.asarray(np.searchsorted(tops, height), dtype=np.intp)


def _in_space(
    values: FloatArray,
    instant: npt.NDArray[np.intp],
    rows: tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], FloatArray],
    columns: tuple[npt.NDArray[np.intp], npt.NDArray[np.intp], FloatArray],
) -> FloatArray:
    """Bilinear value; a neighbour in air does not count."""
    (row, next_row, up), (column, next_column, out) = rows, columns

    def along_r(k: npt.NDArray[np.intp]) -> FloatArray:
        own, other = values[instant, k, column], values[instant, k, next_column]
        return np.where(np.isnan(other), own, own + out * (other - own))

    own, other = along_r(row), along_r(next_row)
    return np.where(np.isnan(other), own, own + up * (other - own))
