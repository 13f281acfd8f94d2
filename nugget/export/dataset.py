"""A weld as labelled arrays (xarray) and as a table (pandas)."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import VERSION
from nugget.outcome.fields import NAMES
from nugget.outcome.naming import title_of, unit_of
from nugget.outcome.probing import is_mirrored
from nugget.outcome.weld import Weld

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

DIMS = ("time", "z", "r")


def fields_in_time(weld: Weld) -> tuple[FloatArray, dict[str, FloatArray]]:
    """Return instants [s] and the fields that are there at each, NaN where there is nothing.

    Those that were kept; without any, the temperature at the hottest moment and at the interior
    peak.
    """
    if weld.fields is not None:
        return weld.fields.time_s, {name: getattr(weld.fields, name) for name in NAMES}
    at = {shot.time_s: shot.temperature_K for shot in weld.snapshots.values()}
    times = np.array(sorted(at))
    stack = np.array([np.where(weld.active, at[t], np.nan) for t in times])
    return times, {"temperature_K": stack}


def weld_dataset(weld: Weld) -> xr.Dataset:
    """Return fields over time, z and r, and histories over step_time; see `nugget.Weld.to_xarray`."""
    import xarray as xr

    times, found = fields_in_time(weld)
    data: dict[str, Any] = {name: (DIMS, values, _said(name)) for name, values in found.items()}
    melting = np.where(np.isfinite(weld.melting_K), weld.melting_K, np.nan)
    data["melting_K"] = (DIMS[1:], melting, _said("melting_K"))
    for name, column in weld.history.items():
        if name != "time_s":
            data[f"history_{name.replace(' ', '_')}"] = ("step_time", column, _said(name))
    coords = {
        "time": ("time", times, {"units": "s", "long_name": "time since the start of the first pulse"}),
        "z": ("z", _centres(weld.z_faces_m), {"units": "m", "long_name": "height above the faying surface"}),
        "r": ("r", _centres(weld.r_faces_m), {"units": "m", "long_name": "distance from the axis"}),
        "z_faces": ("z_faces", weld.z_faces_m, {"units": "m", "long_name": "faces of the cells"}),
        "r_faces": ("r_faces", weld.r_faces_m, {"units": "m", "long_name": "faces of the cells"}),
        "step_time": ("step_time", weld.history["time_s"], {"units": "s", "long_name": "time of each step"}),
    }
    attrs = {
        "title": weld.setup.title,
        "source": f"nugget {VERSION}",
        "figures": json.dumps(weld.figures, allow_nan=False),
        "below_the_faying_surface": "mirror image" if is_mirrored(weld) else "as it is",
    }
    return xr.Dataset(data, coords, attrs)


def weld_dataframe(weld: Weld) -> pd.DataFrame:
    """Return the histories, one row a step, with time as the index; ``attrs["units"]`` holds the units."""
    import pandas as pd

    columns = {name: column for name, column in weld.history.items() if name != "time_s"}
    table = pd.DataFrame(columns, index=pd.Index(weld.history["time_s"], name="time_s"))
    table.attrs["units"] = {name: unit_of(name) for name in weld.history}
    return table


def _said(name: str) -> dict[str, str]:
    return {"units": unit_of(name), "long_name": title_of(name)}


def _centres(faces: FloatArray) -> FloatArray:
    return np.asarray(0.5 * (faces[1:] + faces[:-1]), dtype=np.float64)
