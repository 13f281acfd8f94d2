"""Figures of the cap and of the gasket at its rim."""

from __future__ import annotations

import numpy as np

from nugget.merit.figure import Figure
from nugget.outcome.cap import INSTANTS_S, course, outside_factor
from nugget.outcome.interior import layer_of, peak, time_above
from nugget.outcome.reading import Reading

MEAN = "wall_mean_K"


def _course(reading: Reading) -> tuple[np.ndarray, ...] | None:
    if MEAN not in reading.history:
        return None
    energy = reading.energy
    left_J = energy.returned_J / reading.whole - energy.holder_J - energy.air_J - reading.tip_heat_J
    factor = outside_factor(left_J, energy.outside_J)
    return course(reading.setup, reading.time_s, reading.history[MEAN], factor)


def _cap_mean(reading: Reading) -> float | None:
    found = _course(reading)
    return None if found is None else float(found[1].max())


def _gaskets(reading: Reading) -> list[tuple[np.ndarray, np.ndarray]]:
    """Times and temperatures of every gasket: at the rim of a cap, and of a layer of that name."""
    found = _course(reading)
    each = [] if found is None else [(found[0], found[2])]
    columns = [c for c in reading.history if c.endswith("_K") and layer_of(c) == "gasket"]
    return each + [(reading.time_s, reading.history[c]) for c in columns]


def _gasket_peak(reading: Reading, which: int) -> float | None:
    rise_K = reading.setup.numerics.tolerance_K
    peaks = [peak(time, value, rise_K) for time, value in _gaskets(reading)]
    return max(peaks, key=lambda one: one[1])[which] if peaks else None


def _gasket_above_s(reading: Reading) -> float | None:
    limits = [k.value for k in reading.setup.limits if k.figure == "gasket_peak_K" and k.sense == "at most"]
    gaskets = _gaskets(reading)
    if not gaskets or not limits:
        return None
    return max(time_above(time, value, min(limits)) for time, value in gaskets)


def _table(reading: Reading) -> dict[str, dict[str, float]] | None:
    found = _course(reading)
    if found is None:
        return None
    after, mean, rim = found
    reached = [one for one in INSTANTS_S if one <= after[-1]]
    return {
        f"{one:g} s": {
            "mean_K": float(np.interp(one, after, mean)),
            "rim_K": float(np.interp(one, after, rim)),
        }
        for one in reached
    }


CAP_FIGURES = (
    Figure(
        "cap_mean_K",
        "Cap, mean temperature",
        "K",
        "weld",
        "interior",
        "Highest mean temperature of the cap from 0.1 s to 10 s after the last pulse, heat of all spots",
        read=_cap_mean,
        weight="spread",
        layer="gasket",
        row="Cap",
        words="{} in the mean 0.1 s after the pulse or later",
    ),
    Figure(
        "gasket_peak_K",
        "Gasket, peak temperature",
        "K",
        "weld",
        "interior",
        "Highest temperature where the cap's rim sits in the gasket, from 0.1 s to 10 s after the last pulse,"
        " with the heat of all spots, or at the top of a layer that is a gasket",
        read=lambda reading: _gasket_peak(reading, 1),
        weight="spread",
        layer="gasket",
        beyond="gasket temperature limit",
        row="Gasket at the cap's rim",
    ),
    Figure(
        "gasket_peak_time_s",
        "Gasket, time of the peak",
        "s",
        "weld",
        "interior",
        "When the gasket is hottest, after the last pulse",
        read=lambda reading: _gasket_peak(reading, 0),
        layer="gasket",
    ),
    Figure(
        "gasket_above_s",
        "Gasket above its limit",
        "s",
        "weld",
        "interior",
        "How long the gasket is hotter than the strictest limit on it",
        read=_gasket_above_s,
        layer="gasket",
        row="Gasket at the cap's rim",
        words="above its limit for {}",
        optional=True,
    ),
    Figure(
        "cap_course",
        "Cap and gasket after the pulse",
        "table",
        "weld",
        "interior",
        "Mean temperature of the cap and that of its rim at times after the last pulse, heat of all spots",
        read=_table,
        layer="gasket",
    ),
)
