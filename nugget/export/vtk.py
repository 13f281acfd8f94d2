"""A weld as a mesh of its cells for ParaView and other readers of VTK: the section, or turned about the axis.

The mesh is written by meshio, which the extra ``nugget[fields]`` installs.
"""

from __future__ import annotations

import html
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.export.dataset import fields_in_time
from nugget.outcome.probing import ODD, is_mirrored
from nugget.outcome.weld import Weld
from nugget.outcome.writing import write_bytes, write_text

IntArray = npt.NDArray[np.intp]
SUFFIXES = (".vtu", ".pvd")
FEWEST_SEGMENTS = 3


def write_vtk(weld: Weld, path: Path, time_s: float | None, segments: int | None) -> list[Path]:
    """Write the cells of a weld; see `nugget.Weld.to_vtk`."""
    if path.suffix not in SUFFIXES:
        raise InputError("path", str(path), f"a name that ends in {' or '.join(SUFFIXES)}")
    if segments is not None and (isinstance(segments, bool) or segments < FEWEST_SEGMENTS):
        raise InputError("segments", segments, f"a count from {FEWEST_SEGMENTS}, or None for the section")
    meshio = _meshio()
    times, _ = fields_in_time(weld)
    points, cells, source = _section(weld) if segments is None else _revolved(weld, segments)
    if path.suffix == ".vtu":
        number = _instant(weld, times, time_s)
        return [_write(meshio, path, points, cells, _cell_data(weld, number, source, segments))]
    if time_s is not None:
        raise InputError("t", time_s, "nothing: a .pvd file holds every instant that was kept")
    written, entries = [], []
    for number, t in enumerate(times):
        part = path.with_name(f"{path.stem}-{number:04d}.vtu")
        written.append(_write(meshio, part, points, cells, _cell_data(weld, number, source, segments)))
        entries.append(f'    <DataSet timestep="{float(t)!r}" file="{html.escape(part.name)}"/>')
    lines = ['<?xml version="1.0"?>', '<VTKFile type="Collection" version="0.1">', "  <Collection>"]
    return [write_text(path, "\n".join([*lines, *entries, "  </Collection>", "</VTKFile>", ""])), *written]


def _meshio() -> Any:
    try:
        import meshio
    except ImportError as error:
        wanted = "the package meshio: pip install 'nugget[fields]'"
        raise InputError("VTK files", "no meshio installed", wanted) from error
    return meshio


def _instant(weld: Weld, times: FloatArray, time_s: float | None) -> int:
    """Number of the kept instant that is nearest to `time_s`; the hottest moment by default."""
    wanted = weld.snapshots["hottest"].time_s if time_s is None else time_s
    if not times[0] - 1e-12 <= wanted <= times[-1] + 1e-12:
        if time_s is None:
            return int(np.argmin(np.abs(times - wanted)))
        raise InputError("t", time_s, f"an instant from {times[0]:g} to {times[-1]:g} s")
    return int(np.argmin(np.abs(times - wanted)))


def _halves(weld: Weld) -> tuple[FloatArray, IntArray, IntArray]:
    """Heights of the faces of the whole stack, and row and column of each active cell, bottom to top."""
    z = weld.z_faces_m
    rows = np.arange(len(z) - 1)
    if is_mirrored(weld):
        z, rows = np.concatenate([-z[:0:-1], z]), np.concatenate([rows[::-1], rows])
    k, j = np.nonzero(weld.active[rows])
    return z, k, j


Mesh = tuple[FloatArray, list[tuple[str, IntArray]], list[IntArray]]
"""Points, cells by kind, and for each kind the position of each cell among the active cells."""


def _section(weld: Weld) -> Mesh:
    """Quadrilaterals in the plane of the axis: x is the radius, z the height."""
    z, k, j = _halves(weld)
    r = weld.r_faces_m
    nr = len(r)
    r_grid, z_grid = np.meshgrid(r, z)
    points = np.column_stack([r_grid.ravel(), np.zeros(r_grid.size), z_grid.ravel()])
    corner = k * nr + j
    quads = np.column_stack([corner, corner + 1, corner + nr + 1, corner + nr])
    return points, [("quad", quads)], [np.arange(len(k))]


def _revolved(weld: Weld, segments: int) -> Mesh:
    """Wedges at the axis and hexahedra around it, `segments` of them to a turn."""
    z, k, j = _halves(weld)
    r = weld.r_faces_m
    angle = 2.0 * np.pi * np.arange(segments) / segments
    # One point of the axis for each height, then rings from the inside out.
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    plane = np.concatenate([[[0.0, 0.0]], *(radius * ring for radius in r[1:])])
    points = np.column_stack([np.tile(plane, (len(z), 1)), np.repeat(z, len(plane))])

    def at(row: IntArray, face: IntArray, turn: int) -> IntArray:
        inner = np.where(face > 0, 1 + (face - 1) * segments + turn % segments, 0)
        return np.asarray(row * len(plane) + inner, dtype=np.intp)

    axis, around = np.flatnonzero(j == 0), np.flatnonzero(j > 0)
    wedges, bricks = [], []
    for s in range(segments):
        k0, j0 = k[axis], j[axis]
        # In VTK the first triangle of a wedge is seen counterclockwise from outside.
        low = [at(k0, j0, s), at(k0, j0 + 1, s + 1), at(k0, j0 + 1, s)]
        high = [at(k0 + 1, j0, s), at(k0 + 1, j0 + 1, s + 1), at(k0 + 1, j0 + 1, s)]
        wedges.append(np.column_stack([*low, *high]))
        k1, j1 = k[around], j[around]
        below = [at(k1, j1, s), at(k1, j1 + 1, s), at(k1, j1 + 1, s + 1), at(k1, j1, s + 1)]
        above = [at(k1 + 1, j1, s), at(k1 + 1, j1 + 1, s), at(k1 + 1, j1 + 1, s + 1), at(k1 + 1, j1, s + 1)]
        bricks.append(np.column_stack([*below, *above]))
    return (
        points,
        [("wedge", np.concatenate(wedges)), ("hexahedron", np.concatenate(bricks))],
        [np.tile(axis, segments), np.tile(around, segments)],
    )


def _cell_data(
    weld: Weld, number: int, source: list[IntArray], segments: int | None
) -> dict[str, list[FloatArray]]:
    """Values of every cell by name, one array for each kind of cell."""
    _, found = fields_in_time(weld)
    fields = {name: _whole(weld, values[number], name in ODD) for name, values in found.items()}
    layer = np.searchsorted([one.top_m for one in weld.layers], _centres(weld.z_faces_m)).astype(np.float64)
    fields["layer"] = _whole(weld, np.repeat(layer[:, None], weld.active.shape[1], axis=1))
    along_r, along_z = fields.pop("current_density_r_A_m2", None), fields.pop("current_density_z_A_m2", None)
    data = {name: [values[cells] for cells in source] for name, values in fields.items()}
    if along_r is not None and along_z is not None:
        data["current_density_A_m2"] = [
            _vectors(along_r[cells], along_z[cells], len(cells), segments) for cells in source
        ]
    return data


def _vectors(along_r: FloatArray, along_z: FloatArray, count: int, segments: int | None) -> FloatArray:
    """Vectors in space at the middle of each segment; in the section, x is the radius."""
    if segments is None:
        return np.column_stack([along_r, np.zeros(count), along_z])
    each = count // segments
    angle = np.repeat(2.0 * np.pi * (np.arange(segments) + 0.5) / segments, each)
    return np.column_stack([along_r * np.cos(angle), along_r * np.sin(angle), along_z])


def _whole(weld: Weld, values: FloatArray, odd: bool = False) -> FloatArray:
    """Values of the active cells of the whole stack, in the order of `_halves`."""
    lower = -values[::-1] if odd else values[::-1]
    both = np.concatenate([lower, values]) if is_mirrored(weld) else values
    _, k, j = _halves(weld)
    return both[k, j]


def _centres(faces: FloatArray) -> FloatArray:
    return np.asarray(0.5 * (faces[1:] + faces[:-1]), dtype=np.float64)


def _write(
    meshio: Any,
    path: Path,
    points: FloatArray,
    cells: list[tuple[str, IntArray]],
    data: dict[str, list[FloatArray]],
) -> Path:
    with tempfile.TemporaryDirectory() as folder:  # meshio writes by name, and not whole or not at all
        part = Path(folder, "mesh.vtu")
        meshio.Mesh(points, cells, cell_data=data).write(part)
        return write_bytes(path, part.read_bytes())
