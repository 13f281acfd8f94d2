"""Charts measured: cost against bisection, truth against single runs, grid, two workers.

``python -m validation.charts [cost] [spread] [truth] [grid] [speed] [--columns 0.1,0.15,copper-etp:0.1]
[--set numerics.refinement=0.5]``

Limits (fixed beforehand): a column costs at most 3 single longest pulses with cool-down as set up,
and at least 4 times less than bisection over single runs; the welds whose inputs vary cost no more than
twice the columns of a chart of eleven, as the two outer edges of a band of contact radii did;
edges lie within 2 % in duration or 0.5 % in the quantity that governs them, on the fine grid
within 5 %; two workers are at least 1.7 times as fast as one on a chart of 12 columns.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import Any

from nugget.outcome.figures import figures_of
from nugget.outcome.recorder import Recorder
from nugget.setup import Setup, default_setup
from nugget.study.charting.duration_chart import draw_up, plan_chart
from nugget.study.durations.branches import LongPulse, with_duration
from nugget.study.durations.criteria import Criterion, criteria_of, margins
from nugget.study.durations.edges import Edge, grow
from nugget.study.inputs.variation import read_axis
from nugget.weld.march import March

LONGEST_S = 20e-3
COLUMNS = "0.1,0.15,0.2,nickel-plated-steel:0.15,copper-etp:0.1,bank:0.1"
NEAR_S, NEAR_VALUE, NEAR_FINE = 0.02, 0.005, 0.05
"""Limits: duration, governing quantity, duration on the fine grid."""


class Single:
    """Single runs of a setup, counted; the plain way to ask about one duration."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.solves, self.runs, self.seconds = 0, 0, 0.0
        self.known: dict[float, tuple[dict[str, Any], Any]] = {}

    def run(self, duration_s: float) -> tuple[dict[str, Any], Any]:
        """Figures and history of one whole weld."""
        if duration_s not in self.known:
            began = time.perf_counter()
            march = March(with_duration(self.setup, duration_s))
            recorder = Recorder(march)
            for state in march:
                recorder.add(state)
                recorder.rows[-1] |= margins(recorder, state)
                if recorder.done():
                    break
            self.known[duration_s] = figures_of(recorder, True), recorder.history()
            self.solves += march.model.stage_count
            self.runs += 1
            self.seconds += time.perf_counter() - began
        return self.known[duration_s]

    def excess(self, one: Criterion, duration_s: float) -> float:
        figures, history = self.run(duration_s)
        return one.excess(figures, history)


def bisect(single: Single, one: Criterion, longest_s: float) -> float | None:
    """The edge by bisection to the accuracy of the limit, starting from every run made so far."""
    if single.excess(one, longest_s) < 0.0:
        return None
    known = sorted((t, single.excess(one, t)) for t in single.known)
    high = min(t for t, e in known if e >= 0.0)
    low = max((t for t, e in known if e < 0.0 and t < high), default=0.0)
    while high - low > NEAR_S * high and high > 1e-3 * longest_s:
        middle = 0.5 * (low + high)
        if single.excess(one, middle) >= 0.0:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


BANK = (
    "source.kind=capacitor bank",
    "source.capacitance=1 F",
    "source.start_voltage=14 V",
    "source.series_resistance=3 mohm",
)


def setups(names: list[str], *overrides: str) -> Iterator[tuple[str, Setup]]:
    """Setups named by strip thickness in mm, with a material, or ``bank``, before a colon."""
    for name in names:
        kind, _, mm = name.rpartition(":")
        changes = [f"strip.thickness={mm} mm", *overrides]
        if kind:
            changes += BANK if kind == "bank" else [f"strip.material={kind}"]
        yield f"{kind or 'default'} {mm} mm", default_setup(changes)


def cost(names: list[str], *overrides: str) -> bool:
    """Stage solves and seconds of a column, of one longest pulse, and of bisection."""
    good = True
    print("\nCost of a column (stage solves; s = seconds)")
    for name, setup in setups(names, *overrides):
        found = grow((setup, LONGEST_S))
        single = Single(setup)
        try:
            single.run(LONGEST_S)
            whole = single.solves
            for one in criteria_of(setup):
                bisect(single, one, LONGEST_S)
        except Exception as failure:
            print(f"  {name}: bisection fails: {failure}")
            continue
        ratio, less = found.solves / whole, single.solves / found.solves
        fine = ratio <= 3.0 and less >= 4.0
        good &= fine
        print(
            f"  {name}: column {found.solves} ({found.seconds:.1f} s) = {ratio:.2f} single longest pulses"
            f" ({whole}); bisection {single.solves} in {single.runs} runs"
            f" ({single.seconds:.1f} s) = {less:.1f} times more solves,"
            f" {single.seconds / found.seconds:.1f} times longer{'' if fine else '  MISSED'}"
        )
    return good


def spread(_: list[str], *overrides: str) -> bool:
    """Seconds of a chart's columns, and of the welds of its statement."""
    plan = plan_chart(default_setup(overrides))
    (panel,) = plan.panels
    seconds = [sum(grow(plan.tasks[key]).seconds for key in keys) for keys in (panel.nominal, panel.rows)]
    print(
        f"\nStatement of a chart: {len(panel.nominal)} columns {seconds[0]:.0f} s, {len(panel.rows)} welds"
        f" {seconds[1]:.0f} s"
    )
    return True


def truth(names: list[str], *overrides: str) -> bool:
    """Each edge against independent single runs around it."""
    good = True
    print("\nTruth of the edges (single runs at the edge and 2 % to both sides)")
    for name, setup in setups(names, *overrides):
        found, single = grow((setup, LONGEST_S)), Single(setup)
        for one in criteria_of(setup):
            edge = found.edge(one.key)
            if edge.duration_s:
                good &= _true(name, single, one, edge, edge.duration_s)
    return good


def _true(name: str, single: Single, one: Criterion, edge: Edge, edge_s: float) -> bool:
    try:
        at = single.excess(one, edge_s)
        below, above = (single.excess(one, edge_s * (1.0 + side * NEAR_S)) for side in (-1.0, 1.0))
    except Exception as failure:
        print(f"  {name}, {edge.key}: single run fails: {failure}  MISSED")
        return False
    inside = below < 0.0 <= above
    fine = inside or abs(at) <= NEAR_VALUE
    error = edge_s * NEAR_S * (-at) / max(above - below, 1e-12) * 2.0
    print(
        f"  {name}, {edge.key}: {edge_s * 1e3:.3f} ms, excess {at:+.4f} ({below:+.4f}, {above:+.4f} around),"
        f" off by about {100.0 * error / edge_s:+.2f} % in duration{'' if fine else '  MISSED'}"
    )
    return fine


def grid(names: list[str], *overrides: str) -> bool:
    """Each edge against the one on the fine grid."""
    good = True
    print("\nStandard against fine grid (edges in ms)")
    for (name, setup), (_, fine_setup) in zip(
        setups(names, *overrides), setups(names, *overrides, "numerics.refinement=2"), strict=True
    ):
        standard, fine = grow((setup, LONGEST_S)), grow((fine_setup, LONGEST_S))
        long: LongPulse | None = None
        for one in criteria_of(setup):
            a, b = standard.edge(one.key).duration_s, fine.edge(one.key).duration_s
            if not a or not b:
                if a != b:
                    print(f"  {name}, {one.key}: {a} against {b}")
                continue
            near, said = abs(a / b - 1.0) <= NEAR_FINE, ""
            if not near:  # a flat growth curve: what the fine grid says at the standard grid's edge
                long = long or LongPulse(fine_setup, LONGEST_S)
                there = one.excess(*_pair(long.run(min(a, long.searched_s), one.deep)))
                near, said = abs(there) <= NEAR_VALUE, f", excess there {there:+.4f}"
            good &= near
            both = f"{a * 1e3:.3f} against {b * 1e3:.3f}, {100 * (a / b - 1):+.1f} %"
            print(f"  {name}, {one.key}: {both}{said}{'' if near else '  MISSED'}")
    return good


def _pair(run: Any) -> tuple[Any, Any]:
    return run.figures, run.history


def twelve_columns(workers: int, *overrides: str) -> float:
    """Time of a chart of twelve columns [s], start of the workers included."""
    setup = default_setup(overrides)
    plan = plan_chart(setup, read_axis(setup, "strip.thickness=0.08:0.19 mm:12"), spread=False)
    began = time.perf_counter()
    with ProcessPoolExecutor(workers, get_context("forkserver")) as executor:
        draw_up(plan, executor, advice=False)
    return time.perf_counter() - began


def speed(_: list[str], *overrides: str) -> bool:
    """Twelve columns with one and with two workers."""
    taken = [twelve_columns(count, *overrides) for count in (1, 2)]
    ratio = taken[0] / taken[1]
    times = f"{taken[0]:.1f} s with one worker, {taken[1]:.1f} s with two"
    load = f"load {os.getloadavg()[0]:.1f}"
    missed = "" if ratio >= 1.7 else "  MISSED"
    print(f"\nTwelve columns: {times}: {ratio:.2f} ({load}){missed}")
    return ratio >= 1.7


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*", default=["cost", "spread", "truth", "speed"])
    parser.add_argument("--columns", default=COLUMNS)
    parser.add_argument("--set", action="append", default=[], dest="overrides", metavar="FIELD=VALUE")
    args = parser.parse_args(argv)
    names = args.columns.split(",")
    parts = {"cost": cost, "spread": spread, "truth": truth, "grid": grid, "speed": speed}
    results = [parts[name](names, *args.overrides) for name in args.parts]
    return 0 if all(results) else 1


if __name__ == "__main__":
    sys.exit(main())
