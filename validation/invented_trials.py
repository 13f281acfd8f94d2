"""Trials of an invented machine: drawn from the model with known inputs and the noise that the fit assumes.

``python -m validation.invented_trials DIR`` writes the table and the scope trace that are handed out as an
example. What the machine has is `EXAMPLE`; it stands in no file of the example.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from nugget.arrays import FloatArray
from nugget.setup import Setup, default_setup
from nugget.study.calibration.condition import Answer, Ask, answer
from nugget.study.calibration.observation import Judging, size_edges
from nugget.study.inputs.uncertain import Uncertain

EXAMPLE = {
    "contact.hardness_factor": 1.2,
    "contact.tip.film": 4e-12,
    "contact.faying.film": 8e-12,
    "source.internal_resistance": 4.9e-3,
    "leads.inductance": 0.7e-6,
    "electrode.force": 28.0,
}
"""What the invented machine of the example has; everything else is as in the default setup."""
SEED = 28
TRACE_S = 1.5e-3
STEP_S = 20e-6
COUPONS_S = (0.2e-3, 0.4e-3, 0.6e-3, 0.8e-3, 1.1e-3, 1.5e-3, 2.0e-3)
EACH = 2
CANS_S = (1.5e-3,)


@dataclass(frozen=True)
class Drawn:
    """What was seen of an invented machine.

    Attributes
    ----------
    rows : tuple of str
        Lines of a table with the columns of `HEAD`.
    trace : str
        A scope trace of the coupon of `TRACE_S`.
    """

    rows: tuple[str, ...]
    trace: str


HEAD = "cell,duration,result,button,inside,print,resistance,count,trace,note"


def draw(
    setup: Setup,
    machine: Mapping[str, float],
    random: np.random.Generator,
    coupons_s: Sequence[float] = COUPONS_S,
    each: int = EACH,
    cans_s: Sequence[float] = CANS_S,
    trace: str = "",
    cold: bool = True,
    prints: int = 0,
) -> Drawn:
    """Weld an invented machine.

    Parameters
    ----------
    setup : Setup
        What its owner believes, on a cell.
    machine : mapping of str to float
        What it has instead [SI].
    random : Generator
    coupons_s, cans_s : sequence of float
        Durations at which coupons and empty cans are welded and torn open [s].
    each : int
        Welds at each of them.
    trace : str
        Name of the file with the trace; none by default.
    cold : bool
        Whether the cold resistance is read.
    prints : int
        At how many of the coupons with a button the print is measured.
    """
    judging = Judging()
    fields = setup.fields
    true = setup.with_({path: fields[path].exact(value) for path, value in machine.items()})
    wall = {"cell.wall": setup.file.cell.wall, "cell.wall_material": setup.file.cell.wall_material}
    coupon, can = (true.with_({"cell.kind": kind, **wall}) for kind in ("coupon", "empty can"))
    time_s = np.arange(0.0, TRACE_S + 0.5 * STEP_S, STEP_S) if trace else np.zeros(0)
    durations = tuple(sorted({*coupons_s, *([TRACE_S] if trace else [])}))
    said = answer(Ask(coupon, durations, (), tuple(float(t) for t in time_s)))
    rows = []
    if cold:
        reading = said.cold_ohm[0] * (1.0 + judging.cold_share * random.normal())
        rows.append(f"coupon,,,,,,{reading * 1e3:.3g} mohm,,,four-wire before the first weld")
    rows += _coupons(setup, said, durations, coupons_s, each, random, prints)
    if trace:
        rows.append(f"coupon,{TRACE_S * 1e3:g} ms,,,,,,,{trace},scope")
    if cans_s:
        rows += _cans(setup, answer(Ask(can, tuple(cans_s), tuple(cans_s), ())), cans_s, each, random)
    return Drawn(tuple(rows), _trace(time_s, said, random) if trace else "")


def _word(setup: Setup, size_m: float) -> str:
    holds_m, button_m = size_edges(setup, Judging())
    return (
        "button"
        if size_m >= button_m
        else "peeled"
        if size_m >= holds_m
        else "stuck"
        if size_m > 0
        else "loose"
    )


def _size(setup: Setup, size_m: float, random: np.random.Generator) -> float:
    return size_m + Judging().spread_share * setup.joint.minimum_diameter_m * float(random.normal())


def _coupons(
    setup: Setup,
    said: Answer,
    durations: Sequence[float],
    coupons_s: Sequence[float],
    each: int,
    random: np.random.Generator,
    prints: int,
) -> list[str]:
    rows = []
    for duration_s in coupons_s:
        at = durations.index(duration_s)
        for _ in range(each):
            size_m = _size(setup, said.size_m[at], random)
            word = _word(setup, size_m)
            button = f"{size_m * 1e3:.2f} mm" if word == "button" else ""
            mark = ""
            if button and prints > 0:
                prints -= 1
                mark = f"{(said.print_m[at] + Judging().print_m * random.normal()) * 1e3:.2f} mm"
            rows.append(f"coupon,{duration_s * 1e3:g} ms,{word},{button},,{mark},,,,")
    return rows


def _cans(
    setup: Setup, said: Answer, cans_s: Sequence[float], each: int, random: np.random.Generator
) -> list[str]:
    judging, rows = Judging(), []
    for at, duration_s in enumerate(cans_s):
        for _ in range(each):
            word = _word(setup, _size(setup, said.size_m[at], random))
            word = "held" if word in ("peeled", "button") else word
            inner_K = said.inner_K[at]
            tint = inner_K + judging.tint_spread_K * random.normal() >= judging.tint_K
            dent = inner_K + judging.dent_spread_K * random.normal() >= judging.dent_K
            inside = "dented" if dent else "tinted" if tint else "clean"
            rows.append(f"empty can,{duration_s * 1e3:g} ms,{word},,{inside},,,,,not torn open")
    return rows


def _trace(time_s: FloatArray, said: Answer, random: np.random.Generator) -> str:
    judging, columns = Judging(), []
    for signal in (np.array(said.current_A), np.array(said.voltage_V)):
        gain = 1.0 + judging.gain_share * random.normal()
        columns.append(gain * signal + judging.noise_share * signal.max() * random.normal(size=len(signal)))
    lines = [f"{1e3 * t:.2f},{i:.0f},{u:.3f}" for t, i, u in zip(time_s, *columns, strict=True)]
    return "\n".join(["time_ms,current_A,voltage_V", *lines]) + "\n"


def at_an_end(item: Uncertain, value: float) -> bool:
    """Whether a value is at the end of the range that is believed: no interval within it holds that."""
    low, high = item.spread.low, item.spread.width
    return item.spread.kind == "range" and not 1.001 * low < value < 0.999 * high


TRACE = "trials_logger_scope.csv"


def example() -> Drawn:
    """What the example's machine does today."""
    return draw(default_setup(), EXAMPLE, np.random.default_rng(SEED), trace=TRACE, prints=2)


def main(argv: list[str] | None = None) -> int:
    """Write the example's files into a folder."""
    parser = argparse.ArgumentParser(prog="python -m validation.invented_trials", description=main.__doc__)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args(argv).folder
    drawn = example()
    said = (
        "# INVENTED. No such welds were made: numbers drawn from the model for a machine of known inputs,\n"
    )
    said += (
        "# with the spread that the tool assumes, to show how a table of trials looks. River-level logger's\n"
    )
    said += "# pack, 0.12 mm nickel strip on steel coupons and empty cans.\n"
    (folder / "trials_logger.csv").write_text(
        f"{said}{HEAD}\n" + "\n".join(drawn.rows) + "\n", encoding="utf-8"
    )
    head = "# INVENTED, as trials_logger.csv: the model's current and tip voltage with noise added.\n"
    (folder / TRACE).write_text(head + drawn.trace, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
