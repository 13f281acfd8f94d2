"""From what was seen at the bench to statements about model outputs, each with its spread.

Every observation says into which of a few classes an output fell (or its value), so that their
probabilities add up to one whatever the output is: "held" is the upper one of two classes, "tore
a button" the upper one of three.

The equations: manual, theory-chances.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.constants import ZERO_CELSIUS_K
from nugget.setup import Setup
from nugget.study.calibration.trial_table import Trial


@dataclass(frozen=True)
class Judging:
    """How observations are read: assumptions, every one of them to be changed by the user.

    Attributes
    ----------
    spread_share : float
        Weld-to-weld spread of the joint's diameter, one standard deviation, as a share of the
        minimum weld diameter. Published schedules differ by 25 to 30 % at like settings; one bench
        repeats itself better.
    holds_share : float
        Share of the minimum weld diameter from which a joint survives a hand peel: half, which in soft
        nickel is about 30 N per spot by the estimate of the pull-out force.
    pull_share : float
        Spread of a size that was worked out from a pull, as a share of the target.
    tint_K, tint_spread_K : float
        Peak of the can's inner face from which a heat tint shows. Tempering colours of steel
        start near 220 degC when heated slowly (common practice, no source); milliseconds need
        more.
    dent_K, dent_spread_K : float
        Peak from which the wall gives under the tip.
    open_share, open_spread : float
        Melted share of the wall at which it opens.
    gain_share : float
        Spread of the gain of a scope's probe or shunt, which all samples of a trace share.
    noise_share : float
        Spread of each sample of a thinned trace, as a share of the largest one: noise, and what
        a lumped circuit leaves out.
    print_m : float
        Spread of the diameter of a print: read with a loupe, and from weld to weld.
    cold_share : float
        Spread of a cold resistance: tips that are set down anew.
    outlier_share : float
        Share of rows that are wrong in ways that no model knows, such as oil on the strip.
    """

    spread_share: float = 0.12
    holds_share: float = 0.5
    pull_share: float = 0.25
    tint_K: float = ZERO_CELSIUS_K + 400.0
    tint_spread_K: float = 100.0
    dent_K: float = ZERO_CELSIUS_K + 1000.0
    dent_spread_K: float = 150.0
    open_share: float = 0.9
    open_spread: float = 0.1
    gain_share: float = 0.03
    noise_share: float = 0.02
    print_m: float = 0.07e-3
    cold_share: float = 0.05
    outlier_share: float = 0.02


@dataclass(frozen=True)
class Observation:
    """One statement about one output of the model.

    Attributes
    ----------
    output : int
        Which one.
    edges : tuple of float
        Bounds between the classes, in the unit of the output; none for a plain value.
    seen : int
        The class that was seen.
    value : float or None
        The value itself where it was measured; `seen` is then its class.
    spread : float
        Standard deviation.
    count : int
    outlier_share : float
        Chance that the row says nothing.
    words : str
        For people: which row, what was seen.
    """

    output: int
    edges: tuple[float, ...]
    seen: int
    value: float | None
    spread: float
    count: int
    outlier_share: float
    words: str

    def shares(self, output: FloatArray) -> list[FloatArray]:
        """Probability of each class."""
        from scipy.special import ndtr

        marks = [ndtr((edge - output) / self.spread) for edge in self.edges]
        steps = np.diff(np.array([np.zeros_like(output), *marks, np.ones_like(output)]), axis=0)
        even = self.outlier_share / len(steps)
        return [np.maximum((1.0 - self.outlier_share) * step, 0.0) + even for step in steps]

    def information(self, outputs: FloatArray, slopes: FloatArray) -> FloatArray:
        """Fisher information (p, p) of the inputs, from outputs (m,) and their slopes (m, p)."""
        slope = slopes[self.output]
        weight = float(self.weight(outputs[self.output : self.output + 1])[0])
        return np.asarray(weight * np.outer(slope, slope), dtype=np.float64)

    def hopeful(self, slopes: FloatArray) -> FloatArray:
        """Information (p, p) if the output stood at its threshold; where it stands is not known yet."""
        share = 1.0 if self.value is not None else HOPEFUL
        slope = slopes[self.output]
        return np.asarray(share * self.count / self.spread**2 * np.outer(slope, slope), dtype=np.float64)

    def weight(self, output: FloatArray) -> FloatArray:
        """Fisher information about the output that one more row of this kind brings, times `count`.

        Of all classes, weighted with their probabilities; where the top class comes with a value,
        that counts too.
        """
        from scipy.special import ndtr

        if not self.edges:
            return np.full_like(output, self.count / self.spread**2)
        z = [np.full_like(output, -np.inf), *((e - output) / self.spread for e in self.edges)]
        z.append(np.full_like(output, np.inf))
        density = [np.exp(-0.5 * one**2) / math.sqrt(2.0 * math.pi) for one in z]
        valued = self.value is not None
        total = np.zeros_like(output)
        for k in range(len(z) - 1 - valued):
            share = np.maximum(ndtr(z[k + 1]) - ndtr(z[k]), 1e-12)
            total += (density[k + 1] - density[k]) ** 2 / share
        if valued:
            last = self.edges[-1]
            edge = (last - output) / self.spread
            total += edge * density[-2] + 1.0 - ndtr(edge)
        return np.asarray(total * self.count / self.spread**2, dtype=np.float64)


TAIL = 0.1
"""Height of the flat density of an outlier, in units of the peak of the bell."""
HOPEFUL = 2.0 / math.pi
"""Information of one answer at its threshold, over that of a plain value."""


@dataclass(frozen=True)
class Traced:
    """One signal of a scope trace: samples with noise, and a gain that all of them share.

    Attributes
    ----------
    outputs : range
        Numbers of the outputs.
    values : tuple of float
        Samples.
    gain_share, noise_share : float
        As in `Judging`.
    words : str
        For people.
    """

    outputs: range
    values: tuple[float, ...]
    gain_share: float
    noise_share: float
    words: str

    @property
    def noise(self) -> float:
        """Spread of one sample."""
        return self.noise_share * max(abs(v) for v in self.values)

    def log_likelihood(self, outputs: FloatArray) -> FloatArray:
        """Logarithm of the probability density but for a constant, from (n, m) to (n,).

        The samples' covariance is that of the noise and of the common gain, which scales what the
        model says. Scaling what was measured instead would pull the fit below it, as smaller
        values would then come with smaller errors.
        """
        levels = outputs[:, list(self.outputs)]
        miss, gain = (np.abs(self.values) - levels) / self.noise, self._gain(levels)
        strength = 1.0 + (gain**2).sum(axis=1)
        squares = (miss**2).sum(axis=1) - (miss * gain).sum(axis=1) ** 2 / strength
        return np.asarray(-0.5 * (squares + np.log(strength)), dtype=np.float64)

    def information(self, outputs: FloatArray, slopes: FloatArray) -> FloatArray:
        """Fisher information (p, p) of the inputs, from outputs (m,) and their slopes (m, p)."""
        return self._information(outputs[list(self.outputs)], slopes)

    def hopeful(self, slopes: FloatArray) -> FloatArray:
        """As `information`, with what was measured for the outputs, which are not known yet."""
        return self._information(np.abs(self.values), slopes)

    def _information(self, levels: FloatArray, slopes: FloatArray) -> FloatArray:
        some, gain = slopes[list(self.outputs)] / self.noise, self._gain(levels)
        shared = some.T @ gain
        return np.asarray(some.T @ some - np.outer(shared, shared) / (1.0 + gain @ gain), dtype=np.float64)

    def _gain(self, levels: FloatArray) -> FloatArray:
        """What one standard deviation of the gain does to each sample, in units of the noise."""
        return self.gain_share * levels / self.noise


def size_edges(setup: Setup, judging: Judging) -> tuple[float, float]:
    """Diameters [m] from which a joint survives a hand peel, and from which it tears a button."""
    button_m = setup.joint.minimum_diameter_m
    return judging.holds_share * button_m, button_m


def pulled_size(setup: Setup, pull_N: float) -> float | None:
    """Diameter [m] of each spot that gives way at a pull: ``F = pi d t sigma / sqrt 3`` per spot.

    None when the strip's strength is unknown. A pair shares the pull.
    """
    strengths = [layer.material.tensile_strength_Pa for layer in setup.strip]
    known = [s for s in strengths if s is not None]
    if not known:
        return None
    spots = 2.0 if setup.arrangement.startswith("series") else 1.0
    strip_m = sum(layer.thickness_m for layer in setup.strip)
    return math.sqrt(3.0) * pull_N / (spots * math.pi * strip_m * min(known))


def observations_of(
    trial: Trial, setup: Setup, outputs: tuple[int, int, int, int], judging: Judging
) -> list[Observation]:
    """Return what one row says.

    Parameters
    ----------
    trial : Trial
    setup : Setup
        Of its condition.
    outputs : (int, int, int, int)
        Numbers of the outputs size, wall, inner-face peak and print.
    judging : Judging
    """
    size, wall, inner, mark = outputs
    where = trial.where.split(": ")[-1]
    found: list[Observation] = []
    for edges, seen, value, spread in _size(trial, setup, judging):
        words = f"{where}: {trial.result}"
        found.append(Observation(size, edges, seen, value, spread, trial.count, judging.outlier_share, words))
    opened = "pierced" in (trial.result, trial.inside)
    if trial.result or trial.inside:
        seen = int(opened)
        words = f"{where}: {'pierced' if opened else 'not pierced'}"
        edges = (judging.open_share,)
        found.append(
            Observation(
                wall, edges, seen, None, judging.open_spread, trial.count, judging.outlier_share, words
            )
        )
    found += _inside(trial, inner, judging, where)
    if trial.print_m is not None:
        words = f"{where}: print"
        found.append(
            Observation(
                mark, (), 0, trial.print_m, judging.print_m, trial.count, judging.outlier_share, words
            )
        )
    return found


def cold_observation(trial: Trial, output: int, judging: Judging) -> Observation:
    """What a cold resistance says: `output` is the number of the model's."""
    assert trial.resistance_ohm is not None
    where = trial.where.split(": ")[-1]
    spread = judging.cold_share * trial.resistance_ohm
    words = f"{where}: resistance"
    return Observation(output, (), 0, trial.resistance_ohm, spread, 1, 0.0, words)


def _size(
    trial: Trial, setup: Setup, judging: Judging
) -> Sequence[tuple[tuple[float, ...], int, float | None, float]]:
    holds_m, button_m = size_edges(setup, judging)
    spread_m = judging.spread_share * button_m
    pulled_m = None if trial.pull_N is None else pulled_size(setup, trial.pull_N)
    if trial.result in ("", "pierced"):
        return []
    if trial.result == "held" and pulled_m is not None:
        return [((pulled_m,), 1, None, math.hypot(spread_m, judging.pull_share * pulled_m))]
    if trial.result == "button" and trial.button_m is not None:
        return [((holds_m, button_m), 2, trial.button_m, spread_m)]
    if pulled_m is not None:
        return [((), 0, pulled_m, math.hypot(spread_m, judging.pull_share * pulled_m))]
    if trial.result in ("button", "peeled"):
        return [((holds_m, button_m), 2 if trial.result == "button" else 1, None, spread_m)]
    return [((holds_m,), int(trial.result in ("held", "expulsion")), None, spread_m)]


def _inside(trial: Trial, inner: int, judging: Judging, where: str) -> list[Observation]:
    """What was seen at the can's inner face: no tint, a tint, a dent; each threshold its own."""
    if trial.inside in ("", "pierced"):
        return []
    tint = (judging.tint_K, judging.tint_spread_K, trial.inside != "clean")
    dent = (judging.dent_K, judging.dent_spread_K, trial.inside == "dented")
    return [
        Observation(
            inner,
            (edge,),
            int(over),
            None,
            spread,
            trial.count,
            judging.outlier_share,
            f"{where}: {trial.inside}",
        )
        for edge, spread, over in (tint, dent)
    ]
