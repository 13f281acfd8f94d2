"""``python -m validation.statement_against_plain``: how right a statement of few welds is.

Counts many welds of each of ten benches, of another drawing than a statement's, on the grid that its welds
have, and holds statements of few of them against all: how often an interval holds the counted share, how
far the chances are off, and how often harm is stated too low or the joint too high. With ``--keep FOLDER``
welds are kept there, and a call that was broken off goes on from them; two thousand welds of all benches
take an hour on a core with compiled kernels.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.cli.workers import with_workers
from nugget.setup import Setup, default_setup
from nugget.study.durations.criteria import criteria_of
from nugget.study.inputs.uncertain import Inputs, inputs_of
from nugget.study.statement.chances import (
    GOOD,
    JOINT,
    UNFINISHED,
    Chance,
    Spots,
    Surface,
    chances_of,
    clipped,
    gaps_of,
    surface_of,
)
from nugget.study.statement.reasons import titles_of
from nugget.study.statement.response_surface import degrees, features
from nugget.study.statement.samples import Sample, kept, sample
from nugget.study.statement.statement import FEW, keyed, looser
from nugget.study.tasks import run_all
from validation.ten_benches import BENCHES

PLAIN_SEED = 77
TOO_FAR = 0.05
"""By no more may an interval of harm end below the counted share, or one of the joint begin above."""


@dataclass(frozen=True)
class Compared:
    """Statements of one chance against what was counted.

    Attributes
    ----------
    key, severity : str
        As in `nugget.study.statement.chances.Chance`.
    counted, bare : float
        Share of all welds; and with what the grid gives, without what it is allowed to read too low.
    shares : ndarray, shape (sets,)
        As stated.
    ends : ndarray, shape (sets, 2)
        Of their intervals.
    """

    key: str
    severity: str
    counted: float
    bare: float
    shares: FloatArray
    ends: FloatArray

    @property
    def held(self) -> float:
        """Share of the intervals that hold what was counted."""
        return float(np.mean((self.ends[:, 0] <= self.counted) & (self.counted <= self.ends[:, 1])))

    @property
    def unsafe(self) -> int:
        """How many intervals lie on the unsafe side of what was counted by over five points."""
        if self.key in (JOINT, GOOD):
            return int((self.ends[:, 0] > self.counted + TOO_FAR).sum())
        return int((self.ends[:, 1] < self.counted - TOO_FAR).sum())

    def said(self) -> str:
        """In one line."""
        counted, bare, stated = (100.0 * x for x in (self.counted, self.bare, self.shares.mean()))
        scatter, half = 100.0 * self.shares.std(), 50.0 * np.ptp(self.ends, axis=1).mean()
        held = f"held in {100.0 * self.held:.0f} % of {len(self.shares)} sets"
        return (
            f"{self.key:24s} counted {counted:5.1f} % ({bare:.1f} as the grid has it), stated {stated:5.1f}"
            f" (scatter {scatter:.1f}, half interval {half:.1f}); {held}, on the unsafe side by over 5 points"
            f" in {self.unsafe}"
        )


def main(argv: list[str] | None = None) -> int:
    """Print what was found; return 0 when no harm is stated too low, and no joint too high."""
    parser = argparse.ArgumentParser(prog="python -m validation.statement_against_plain", description=__doc__)
    parser.add_argument("--plain", type=int, default=2048, metavar="N", help="welds that are counted")
    parser.add_argument("--few", type=int, default=FEW, metavar="N", help="welds of a statement")
    parser.add_argument("--bench", action="append", choices=BENCHES, help="all ten by default")
    parser.add_argument("--keep", type=Path, metavar="FOLDER")
    parser.add_argument("--workers", type=int, default=2)
    args = parser.parse_args(argv)
    wrong = 0
    for name in args.bench or BENCHES:
        file = None if args.keep is None else args.keep / f"{name.replace(' ', '-')}.jsonl"
        setup = default_setup(list(BENCHES[name]))
        found = compare(setup, counted(setup, args.plain, args.workers, file), args.few)
        wrong += sum(one.unsafe for one in found if one.key == JOINT or one.severity == "harm")
        print(name, *(one.said() for one in found), sep="\n  ", flush=True)
    return int(wrong > 0)


def counted(setup: Setup, count: int, workers: int, file: Path | None = None) -> list[Sample]:
    """Weld `count` of them; in a file those of an earlier call are."""
    inputs = inputs_of(setup)
    rows = keyed(looser(inputs.setup_at(row)) for row in inputs.drawn(count, PLAIN_SEED))
    finished = kept(file, resume=True)
    found = with_workers(lambda executor: run_all(sample, dict(rows), executor, finished), len(rows), workers)
    return [found[key] for key, _ in rows]


def compare(setup: Setup, welds: Sequence[Sample], few: int) -> list[Compared]:
    """Hold statements of `few` welds each against all of `welds`, drawn with `PLAIN_SEED`."""
    inputs = inputs_of(setup)
    drawn = inputs.drawn(len(welds), PLAIN_SEED)
    sets = [range(k, k + few) for k in range(0, len(welds) - few + 1, few)]
    found = [of_one_spot(inputs, drawn[list(some)], [welds[k] for k in some]) for some in sets]
    return [
        Compared(
            key,
            one.severity,
            share_of(setup, welds, key),
            share_of(setup, welds, key, bare=True),
            np.array([some[key].share for some in found if key in some]),
            np.array([(some[key].low, some[key].high) for some in found if key in some]),
        )
        for key, one in found[0].items()
    ]


def of_one_spot(inputs: Inputs, drawn: FloatArray, welds: Sequence[Sample]) -> dict[str, Chance]:
    """Chances of a weld that is the spot it is, as counted welds are, not the worse of its pair."""
    ended = [k for k, one in enumerate(welds) if not one.failed]
    samples = [welds[k] for k in ended]
    criteria = [one for one in criteria_of(inputs.setup) if one.key in samples[0].excess]
    surface = OneSpot(**vars(surface_of(inputs, criteria, drawn[ended], samples)))
    lost = 1.0 - len(samples) / len(welds)
    gaps = gaps_of(surface, drawn[ended], [clipped(samples, one.key) for one in criteria], lost)
    found = chances_of(surface, samples, gaps, titles_of(inputs.setup))
    return {one.key: one for one in found if one.key != UNFINISHED}


class OneSpot(Surface):
    """A surface that takes the spot of each row as it is drawn."""

    def read(self, deviations: FloatArray) -> list[Spots]:
        """Excess and its error of each criterion at each row."""
        places = features(deviations, degrees(self.inputs))
        return [[one.at(places)] for one in self.responses]


def share_of(setup: Setup, welds: Sequence[Sample], key: str, bare: bool = False) -> float:
    """Share of the welds with what a chance is a chance of; one that stopped counts as bad.

    As statements do, with what a grid may read too low added to what it gives; not if `bare`.
    """
    severity = {limit.id: limit.severity for limit in setup.limits}

    def has(one: Sample) -> bool:
        if one.failed:
            return key not in (JOINT, GOOD)
        broken = one.broken if bare else [k for k, v in one.excess.items() if k in severity and v >= 0.0]
        if key in (JOINT, GOOD):
            return one.enough and not (key == GOOD and broken)
        return key in broken or key in {severity[id] for id in broken}

    return float(np.mean([has(one) for one in welds]))


if __name__ == "__main__":
    sys.exit(main())
