"""Read a saved weld back: its content is checked as strictly as a setup's.

Nothing that a file says is believed before it was compared: sizes before they are allocated, shapes
and types before a figure is drawn from them. No pickle is read and no code runs.
"""

from __future__ import annotations

import io
import json
import lzma
import math
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import fields
from pathlib import Path
from typing import Any

import numpy as np

from nugget.errors import InputError
from nugget.files import read_bytes
from nugget.merit.figure import FIGURES
from nugget.outcome.fields import Fields
from nugget.outcome.recorder import Snapshot
from nugget.outcome.weld import FORMAT, LayerInfo, Weld
from nugget.setup import setup_from_dict

MOST_BYTES = 1_000_000_000
"""Of the file, and of the arrays in it when they are unpacked."""
EXPECTED = "a file written by Weld.save"
COLUMNS = (
    *("time_s", "current_A", "load_ohm", "emf_V", "tip_radius_m", "contact_radius_m", "load_share"),
    *("nugget_diameter_m", "bonded_diameter_m", "can_penetration", "strip_penetration", "hottest_K"),
)
"""Columns that every history has, as figures and pictures ask for them."""
KINDS: dict[str, tuple[type, ...]] = {"yes/no": (bool,), "text": (str,), "table": (dict, list)}
"""What figures are that are no numbers."""
UNREADABLE = (
    *(OSError, EOFError, ValueError, KeyError, TypeError, AttributeError, NotImplementedError, IndexError),
    *(RecursionError, MemoryError, OverflowError, RuntimeError),
    *(zipfile.BadZipFile, zlib.error, lzma.LZMAError),
)
"""What reading a damaged or foreign file may raise."""


class _Wrong(Exception):
    """What is wrong with the content: place, what is there, what is expected."""


def load_weld(path: str | Path) -> Weld:
    """Read a file that `Weld.save` wrote.

    Raises
    ------
    InputError
        If the file is not one of ours, or was changed into what no weld can be.
    """
    where = str(path)
    packed = read_bytes(Path(path), where, EXPECTED, MOST_BYTES)
    try:
        data = _arrays(packed)
        header = json.loads(str(data["header"]))
        if header["format"] != FORMAT:
            raise _Wrong("format", header["format"], str(FORMAT))
        weld = Weld(
            setup=setup_from_dict(header["setup"], where),
            figures=header["figures"],
            history={k.removeprefix("history "): v for k, v in data.items() if k.startswith("history ")},
            snapshots={k: Snapshot(t, data[f"snapshot {k}"]) for k, t in header["snapshots"].items()},
            r_faces_m=data["r_faces_m"],
            z_faces_m=data["z_faces_m"],
            active=data["active"],
            melting_K=data["melting_K"],
            layers=tuple(LayerInfo(**one) for one in header["layers"]),
            fields=_fields_in(data),
        )
        _check(weld)
    except _Wrong as wrong:
        place, given, expected = wrong.args
        raise InputError(f"{where}: {place}", given, expected) from wrong
    except UNREADABLE as failure:
        raise InputError(where, f"{type(failure).__name__}: {failure}", EXPECTED) from failure
    return weld


def _arrays(packed: bytes) -> dict[str, Any]:
    """Unpack the arrays, after their sizes and ways of packing were looked at."""
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        members = archive.infolist()
        if sum(one.file_size for one in members) > MOST_BYTES:
            raise _Wrong("size", "more than a gigabyte when unpacked", EXPECTED)
        if any(one.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED) for one in members):
            raise _Wrong("packing", "another one than numpy's", EXPECTED)
        for one in members:
            with archive.open(one) as stream:
                _check_size(stream, one)
    with np.load(io.BytesIO(packed), allow_pickle=False) as archive:
        return {name: archive[name] for name in archive.files}


def _check_size(stream: Any, member: zipfile.ZipInfo) -> None:
    """Compare what an array says of its size with the bytes that are there."""
    version = np.lib.format.read_magic(stream)
    read = np.lib.format.read_array_header_1_0 if version == (1, 0) else np.lib.format.read_array_header_2_0
    shape, _, dtype = read(stream)
    if math.prod(shape) * dtype.itemsize > member.file_size:
        raise _Wrong(member.filename.removesuffix(".npy"), f"the shape {shape}", "an array that is there")


def _fields_in(data: dict[str, Any]) -> Fields | None:
    found = {k.removeprefix("field "): v for k, v in data.items() if k.startswith("field ")}
    return Fields(**found) if found else None


def _check(weld: Weld) -> None:
    nr, nz = len(_rising("r_faces_m", weld.r_faces_m)) - 1, len(_rising("z_faces_m", weld.z_faces_m)) - 1
    if weld.active.dtype != np.bool_ or weld.active.shape != (nz, nr):
        raise _Wrong("active", _kind(weld.active), f"true or false in the shape {(nz, nr)}")
    _numbers("melting_K", weld.melting_K, (nz, nr), finite=False)
    if np.isnan(weld.melting_K).any():
        raise _Wrong("melting_K", "nan", "temperatures, infinite where nothing melts")
    _check_history(weld.history)
    for name, snapshot in weld.snapshots.items():
        if not _is_number(snapshot.time_s):
            raise _Wrong(f"snapshots.{name}", snapshot.time_s, "a finite time [s]")
        _numbers(f"snapshot {name}", snapshot.temperature_K, (nz, nr))
    if "hottest" not in weld.snapshots:
        raise _Wrong("snapshots", ", ".join(weld.snapshots) or "none", "the hottest moment")
    _check_layers(weld.layers)
    if not weld.layers:
        raise _Wrong("layers", "none", "the layers of the weld")
    if weld.fields is not None:
        _check_fields(weld.fields, (nz, nr))
    _check_figures(weld.figures)


def _check_history(history: Mapping[str, Any]) -> None:
    for name in COLUMNS:
        if name not in history:
            raise _Wrong(f"history.{name}", "nothing", "this column")
    steps = history["time_s"].shape
    for name, column in history.items():
        _numbers(f"history.{name}", column, steps)
    if len(steps) != 1 or steps[0] < 2 or (np.diff(history["time_s"]) < 0.0).any():
        raise _Wrong("history.time_s", _kind(history["time_s"]), "two or more times that rise")


def _check_layers(layers: tuple[LayerInfo, ...]) -> None:
    for k, one in enumerate(layers):
        for text in (one.title, one.role):
            if not isinstance(text, str):
                raise _Wrong(f"layers.{k}", text, "text")
        for number in (one.bottom_m, one.top_m, one.radius_m, one.inner_radius_m):
            if not _is_number(number):
                raise _Wrong(f"layers.{k}", number, "a finite number")


def _check_fields(found: Fields, shape: tuple[int, int]) -> None:
    times = found.time_s.shape
    _numbers("field time_s", found.time_s, times)
    if len(times) != 1 or not times[0]:
        raise _Wrong("field time_s", f"the shape {times}", "a row of instants")
    for one in fields(Fields):
        if one.name != "time_s":
            _numbers(f"field {one.name}", getattr(found, one.name), (*times, *shape), finite=False)


def _check_figures(figures: Any) -> None:
    if not isinstance(figures, dict):
        raise _Wrong("figures", type(figures).__name__, "a table of figures")
    for key, figure in FIGURES.items():
        if not figure.origin and key not in figures:
            raise _Wrong(f"figures.{key}", "nothing", "this figure")
    for key, value in figures.items():
        unit = FIGURES[key].unit if key in FIGURES else ""
        if value is None or not unit:  # does not apply, or a figure of a plugin that is not here
            continue
        kinds = KINDS.get(unit, ())
        if not (isinstance(value, kinds) if kinds else _is_number(value)):
            raise _Wrong(f"figures.{key}", value, unit if kinds else f"a finite number in {unit}")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _rising(name: str, faces: Any) -> Any:
    _numbers(name, faces, faces.shape)
    if faces.ndim != 1 or len(faces) < 2 or not (np.diff(faces) > 0.0).all():
        raise _Wrong(name, _kind(faces), "two or more numbers that rise")
    return faces


def _numbers(name: str, found: Any, shape: tuple[int, ...], finite: bool = True) -> None:
    if found.dtype.kind not in "fi" or found.shape != shape:
        raise _Wrong(name, _kind(found), f"numbers of the shape {shape}")
    if finite and not np.isfinite(found).all():
        raise _Wrong(name, "what is not finite", "finite numbers")


def _kind(found: Any) -> str:
    return f"{found.dtype} of the shape {found.shape}"
