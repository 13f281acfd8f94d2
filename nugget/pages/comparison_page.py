"""Several welds side by side in one file of HTML: one picture, one table of differences."""

from __future__ import annotations

import hashlib

import numpy as np

from nugget.outcome.record import CAUTIONS
from nugget.pages.history_plots import FIRST_S, LOOKS, MS
from nugget.pages.line_plot import LinePlot, Scale, Series, linear, number
from nugget.pages.render import LETTERS_OF_HASH, Origin, input_hash, render
from nugget.pages.weld_record import tone_of
from nugget.plot import style
from nugget.study.comparison import Comparison

KIND = "Comparison"
POINTS = 200


def comparison_page(comparison: Comparison) -> str:
    """Return a comparison as one page of HTML."""
    hashes = [input_hash(one.weld.setup) for one in comparison.entries]
    names = [one.name for one in comparison.entries]
    return render(
        "comparison.html",
        kind=KIND,
        title=" and ".join(names),
        names=names,
        tones=[tone_of(one.verdict) for one in comparison.entries],
        comparison=comparison,
        plot=growth_plot(comparison),
        caution=CAUTIONS[0],
        origin=Origin(),
        hash=hashlib.sha256("".join(hashes).encode()).hexdigest()[:LETTERS_OF_HASH],
        number=number,
    )


def growth_plot(comparison: Comparison) -> LinePlot:
    """Growth curves of all entries over one axis of time, with the minimum of each that has its own."""
    welds = [one.weld for one in comparison.entries]
    first = min(min(FIRST_S, weld.setup.train_s / 10.0) for weld in welds)
    last = max(float(weld.history["time_s"][-1]) for weld in welds)
    time = np.geomspace(first, last, POINTS)
    series = []
    for k, one in enumerate(comparison.entries):
        history = one.weld.history
        # Before its first and beyond its last step a run says nothing.
        value = np.interp(time, history["time_s"], history["nugget_diameter_m"], right=np.nan)
        series.append(Series(one.name, value * style.MM, LOOKS[k % len(LOOKS)]))
    targets = {weld.setup.joint.minimum_diameter_m * style.MM for weld in welds}
    levels = [(target, f"minimum {target:.2f} mm") for target in sorted(targets)]
    y = linear("nugget diameter", "mm", [*targets, *(float(np.nanmax(one.y)) for one in series)])
    peaks = ", ".join(f"{one.name} up to {np.nanmax(one.y):.2f} mm" for one in series)
    x = Scale("time", "ms", first * MS, last * MS, log=True)
    alt = f"Nugget diameter against time: {peaks}"
    return LinePlot("Growth curves", alt, x, y, time * MS, series, levels)
