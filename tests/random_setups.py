"""Random setups that a bench could have, by seed: wide, but each number within what the trade uses.

Run as a program it marches many and prints what held and what did not:
``python tests/random_setups.py FIRST COUNT``; a third word, ``ends``, puts some of the numbers at the
ends of what a setup file may hold.
"""

from __future__ import annotations

import json
import math
import random
import sys
import time
import warnings
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from typing import Any

from pydantic import BaseModel

from nugget.errors import InputError, SolverError
from nugget.outcome.weld import Weld, run_weld
from nugget.setup import Setup, default_setup
from nugget.setup.quantity import Spec, spec_of

REFINEMENT = 0.3
ENERGY, CIRCUIT, LONGEST_S = 1e-6, 1e-4, 60.0
"""Residuals that a march has to keep, and how long it may compute."""

OUTCOMES, EVERY = ("answered", "refused", "stopped", "defect"), 50

STRIPS = (
    "nickel-200",
    "nickel-201",
    "nickel-plated-steel",
    "copper-etp",
    "stainless-304",
    "copper-nickel-clad",
)
WALLS = ("can-steel", "nickel-plated-can", "low-carbon-steel", "stainless-304", "aluminium-can")
TIPS = ("cucrzr", "copper-etp", "tungsten", "molybdenum", "tungsten-copper", "copper-class-3")
SIZES = ("18650", "21700", "26650", "32700")


class _Draw:
    """Numbers of one seed, written as a setup file writes them."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)

    def chance(self, share: float) -> bool:
        return self.dice.random() < share

    def choice(self, *of: Any) -> Any:
        return self.dice.choice(of)

    def log(self, low: float, high: float) -> float:
        """A number between two bounds, even on a logarithmic scale."""
        return math.exp(self.dice.uniform(math.log(low), math.log(high)))

    def quantity(self, low: float, high: float, unit: str) -> str:
        return f"{self.log(low, high):.4g} {unit}"


def overrides(seed: int, short: bool = False) -> list[str]:
    """Overrides of the default setup that belong to a seed; a few are refused, by name.

    Where `short`, of several pulses only the first and of it at most two half cycles: half the cost.
    """
    draw = _Draw(seed)
    flat = draw.chance(0.25)
    kind = draw.choice("series along", "series across", "series across", "indirect", "opposed")
    cell = "coupon" if kind == "opposed" else draw.choice("cell", "cell", "cell", "empty can", "coupon")
    face_mm = draw.log(0.8, 3.0)
    said: dict[str, Any] = {
        "numerics.refinement": REFINEMENT,
        "cell.kind": cell,
        "arrangement.kind": kind,
        "arrangement.spacing": f"{face_mm + draw.log(0.5, 4.0):.4g} mm",
        "electrode.tip_shape": "flat" if flat else "rounded",
        "electrode.material": draw.choice(*TIPS),
        "electrode.face_diameter": f"{face_mm:.4g} mm",
        "electrode.shank_diameter": f"{face_mm * draw.log(1.1, 3.0):.4g} mm",
        "electrode.force": draw.quantity(100.0, 3000.0, "N") if flat else draw.quantity(5.0, 80.0, "N"),
        "strip.material": draw.choice(*STRIPS),
        "strip.thickness": draw.quantity(0.05, 0.4, "mm"),
        "strip.width": draw.quantity(6.0, 20.0, "mm"),
        "contact.faying.film": draw.quantity(1e-13, 3e-11, "ohm m2"),
        "leads.resistance": draw.quantity(0.1, 6.0, "mohm"),
        "leads.inductance": "0 uH" if draw.chance(0.15) else draw.quantity(0.1, 8.0, "uH"),
        "hold_time": draw.quantity(1.0, 200.0, "ms"),
        "ambient.temperature": f"{draw.dice.uniform(0.0, 40.0):.3g} degC",
    }
    if cell == "coupon":
        said["cell.wall"] = draw.quantity(0.1, 1.0, "mm")
        said["cell.wall_material"] = draw.choice(*WALLS)
    else:
        said["cell.size"] = draw.choice(*SIZES)
        said["cell.end"] = draw.choice("negative", "negative", "positive")
        if draw.chance(0.3):
            said["cell.wall"] = draw.quantity(0.15, 0.5, "mm")
    said["strip.slots"] = "[]" if draw.chance(0.5) or kind in ("opposed", "indirect") else None
    said |= _circuit(draw, short)
    if said["strip.slots"] is None:
        del said["strip.slots"]
        said["strip.shunt_fraction"] = round(draw.dice.random(), 3)
    return [f"{path}={value}" for path, value in said.items()]


def _circuit(draw: _Draw, short: bool) -> dict[str, Any]:
    """Source, switch and pulses."""
    kind = draw.choice(
        "battery",
        "battery",
        "capacitor bank",
        "capacitor bank",
        "transformer",
        "transformer",
        "sine current",
        "constant current",
        "constant voltage",
    )
    said: dict[str, Any] = {"source.kind": kind}
    hertz = draw.choice(50, 60)
    match kind:
        case "battery":
            said["source.open_circuit_voltage"] = draw.quantity(3.0, 16.0, "V")
            said["source.internal_resistance"] = draw.quantity(1.0, 10.0, "mohm")
        case "capacitor bank":
            said["source.capacitance"] = draw.quantity(0.05, 300.0, "F")
            said["source.start_voltage"] = draw.quantity(3.0, 30.0, "V")
            said["source.series_resistance"] = draw.quantity(0.5, 10.0, "mohm")
        case "transformer":
            said["source.open_circuit_voltage_rms"] = draw.quantity(1.0, 6.0, "V")
            said["source.winding_resistance"] = draw.quantity(0.2, 3.0, "mohm")
            leakage = "0 uH" if draw.chance(0.2) else draw.quantity(0.2, 5.0, "uH")
            said["source.leakage_inductance"] = leakage
            said["source.firing_angle"] = (
                "0 deg" if draw.chance(0.4) else f"{draw.dice.uniform(1, 150):.3g} deg"
            )
            said["source.frequency"] = f"{hertz} Hz"
        case "sine current":
            said["source.current_rms"] = draw.quantity(200.0, 3000.0, "A")
            said["source.frequency"] = f"{hertz} Hz"
        case "constant current":
            said["source.current"] = draw.quantity(200.0, 3000.0, "A")
        case "constant voltage":
            said["source.voltage"] = draw.quantity(1.0, 8.0, "V")
    switched = kind in ("battery", "capacitor bank")
    relay = switched and draw.chance(0.15)
    if relay:
        said["switch.kind"] = "relay"
    pulses = []
    for _ in range(min(draw.choice(1, 1, 1, 2, 3), 1 if short else 3)):
        pulse: dict[str, Any] = {"cool_time": draw.quantity(0.5, 50.0, "ms") if draw.chance(0.7) else "0 ms"}
        if kind == "transformer" or (kind == "sine current" and draw.chance(0.7)):
            pulse["half_cycles"] = min(draw.choice(1, 1, 2, 2, 3, 4), 2 if short else 4)
            length_ms = pulse["half_cycles"] * 500.0 / hertz
        else:
            length_ms = draw.log(10.5, 30.0) if relay else draw.log(0.3, 25.0)
            pulse["duration"] = f"{length_ms:.4g} ms"
        if not switched and draw.chance(0.5):
            pulse["output_fraction"] = round(draw.dice.uniform(0.3, 1.0), 3)
            for slope in ("upslope", "downslope"):
                if draw.chance(0.5):
                    pulse[slope] = f"{length_ms * draw.dice.uniform(0.01, 0.45):.4g} ms"
        pulses.append(pulse)
    tables = (", ".join(f"{key} = {json.dumps(value)}" for key, value in p.items()) for p in pulses)
    said["pulse"] = "[" + ", ".join(f"{{{table}}}" for table in tables) + "]"
    return said


def random_setup(seed: int, short: bool = False) -> Setup:
    """Return the setup of a seed; InputError where it is refused."""
    return default_setup(overrides(seed, short))


def setup_at_the_ends(seed: int) -> Setup:
    """Return the short setup of a seed with one to three numbers at, or near, an end of their ranges.

    Such a setup is for nobody's bench; it is there to show that the ranges hold. InputError where it is
    refused.
    """
    plain, draw = random_setup(seed, short=True), _Draw(seed)
    ranges = dict(_ranges(plain.file, ""))
    changed = []
    for path in draw.dice.sample(sorted(ranges), draw.choice(1, 2, 3)):
        spec = ranges[path]
        low = spec.low if spec.low > 0.0 else spec.high * 1e-6
        near = draw.log(low, 3.0 * low), draw.log(spec.high / 3.0, spec.high)
        changed.append(f"{path}={draw.choice(spec.low, *near, spec.high):.6g} {spec.unit}")
    return default_setup([*overrides(seed, short=True), *changed])


def _ranges(model: BaseModel, prefix: str) -> Iterator[tuple[str, Spec]]:
    """Ranges of the quantities that a setup gives, by their paths, less those that a march does not read."""
    for key, info in type(model).model_fields.items():
        value, spec = getattr(model, key), spec_of(info)
        if spec is not None and value is not None:
            yield f"{prefix}{key}", spec
        for place, item in (
            [(f"{key}.{i}", one) for i, one in enumerate(value)]
            if isinstance(value, tuple)
            else [(key, value)]
        ):
            if isinstance(item, BaseModel) and key not in ("kinetics", "joint", "numerics", "interior"):
                yield from _ranges(item, f"{prefix}{place}.")


@dataclass(frozen=True)
class Finding:
    """What became of one random setup."""

    seed: int
    outcome: str
    cpu_s: float
    energy: float = 0.0
    circuit: float = 0.0
    steps: int = 0
    said: str = ""
    peak_K: float = 0.0
    """By how much a reported peak lies above anything in the history, less the tolerance of a step."""


def tried(seed: int, short: bool = False, ends: bool = False) -> Finding:
    """March the setup of a seed with every warning an error; `ends` for `setup_at_the_ends`."""
    began = time.process_time()

    def ended(outcome: str, said: str) -> Finding:
        return Finding(seed, outcome, time.process_time() - began, said=said)

    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            setup = setup_at_the_ends(seed) if ends else random_setup(seed, short)
        except InputError as refusal:  # of what can be said before anything is computed
            return ended("refused", str(refusal))
        try:
            weld = run_weld(setup)
        except SolverError as end:
            return ended("stopped", str(end))
        except Exception as defect:
            return ended("defect", f"{type(defect).__name__}: {defect}")
    figures = weld.figures
    residuals = figures["energy_residual"], figures["circuit_residual"]
    cpu_s = time.process_time() - began
    return Finding(seed, "answered", cpu_s, *residuals, figures["steps"], peak_K=_peak_beyond_K(weld))


def _peak_beyond_K(weld: Weld) -> float:
    tops = [
        found["peak_K"] - float(weld.history[f"{layer}_K"].max())
        for layer, found in weld.figures["layer_peaks"].items()
    ]
    return max(0.0, max(tops, default=0.0) - weld.setup.numerics.tolerance_K)


def sums(found: list[Finding]) -> dict[str, float]:
    """How many held and how many did not, and the worst of each kind."""
    answered = [one for one in found if one.outcome == "answered"]
    return {
        "tried": len(found),
        **{name: sum(one.outcome == name for one in found) for name in OUTCOMES},
        "energy beyond": sum(one.energy > ENERGY for one in answered),
        "circuit beyond": sum(one.circuit > CIRCUIT for one in answered),
        "peaks beyond": sum(one.peak_K > 0.0 for one in answered),
        "worst energy": max((one.energy for one in answered), default=0.0),
        "worst circuit": max((one.circuit for one in answered), default=0.0),
        "longest s": round(max(one.cpu_s for one in found), 1),
        "all s": round(sum(one.cpu_s for one in found), 1),
        "steps": sum(one.steps for one in answered),
    }


def main(first: int, count: int, ends: bool = False) -> None:
    """Print a line for each setup that was not simply answered, and the sums now and then."""
    found: list[Finding] = []
    for seed in range(first, first + count):
        found.append(one := tried(seed, ends=ends))
        bad = one.outcome != "answered" or one.energy > ENERGY or one.circuit > CIRCUIT
        if bad or one.cpu_s > LONGEST_S / 3.0:
            print(json.dumps(asdict(one)), flush=True)
        if len(found) % EVERY == 0 or len(found) == count:
            print(json.dumps(sums(found)), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]), ends="ends" in sys.argv[3:])
