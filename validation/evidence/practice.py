"""Plausibility: thin nickel at 1.0 to 2.0 kA beside what practitioners report. Not judged, not tuned."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import product
from typing import Any

from validation.case import Check, Drawing, Outcome, reported
from validation.evidence.piece import Piece
from validation.evidence.runs import Changes, Run, march, march_all
from validation.readers import markdown

CURRENTS_KA = (1.0, 1.4, 2.0)
DURATIONS_MS = (3.0, 5.0, 8.0, 12.0, 20.0)
FORCES_N = (15.0, 30.0, 60.0)
SHUNTS = (0.05, 1.0)

FACTS = (
    ("500 to 2000 A, 1 to 20 ms, up to 40 ms from a weak supply", "common practice, no source"),
    ("10 to 40 J into the pair for 0.1 to 0.2 mm strip", "common practice, no source"),
    ("about 5 ms for 0.15 mm nickel on a stiff supply", "common practice, no source"),
    ("a slot between the tips sends the current through the can", "common practice, no source"),
    ("tip force 5 to 30 N by hand, 20 to 60 N on a bench head", "common practice, no source"),
    ("a weld set too strong on the negative end has pierced a can", "common practice, no source"),
    (
        "diffusion time across 0.25 to 0.30 mm of steel is 6 to 9 ms, so the inner face peaks during or "
        "after the pulse",
        "common practice, no source",
    ),
    ("whole-cell warming is trivial: 20 J in 45 g, half a kelvin", "common practice, no source"),
    (
        "peel acceptance wishes 20 to 50 N per pair; the nickel tears and leaves a button",
        "common practice, no source",
    ),
    (
        "small-scale nuggets are near 0.3 times the tip face",
        "published: Chang, Li and Zhou, Sci. Technol. Weld. Joining 6 (2001), abstract",
    ),
    (
        "heat very local and no damaging temperature found in real cells",
        "published: Brand et al., J. Energy Storage 1 (2015) 7, conclusion",
    ),
    (
        "nickel does not bond before melting starts at the faying surface",
        "published: Tan, thesis, Univ. of Waterloo, on thin nickel sheet",
    ),
)
"""What the trade says, each with its mark."""

Key = tuple[float, float, float, float]
"""Nominal current [kA], shunt fraction, force [N], duration [ms]."""


def run(workers: int) -> Outcome:
    ohms = {current: _internal_ohm(current) for current in CURRENTS_KA}
    keys = list(product(CURRENTS_KA, SHUNTS, FORCES_N, DURATIONS_MS))
    changes: list[Changes] = [_changes(ohms[key[0]], *key[1:]) for key in keys]
    found = dict(zip(keys, march_all(changes, workers), strict=True))
    drawing = Drawing("map", CAPTION, lambda: _draw(found))
    text = "\n\n".join(
        [_facts(), "Internal resistance for the nominal currents: " + _ohms(ohms), *_tables(found)]
    )
    return Outcome(tuple(_beside(found)), (drawing,), text)


def _changes(internal_ohm: float, shunt: float, force_N: float, duration_ms: float) -> Changes:
    return {
        "source.internal_resistance": f"{internal_ohm:.6g} ohm",
        "strip.shunt_fraction": shunt,
        "electrode.force": f"{force_N:g} N",
        "pulse.0.duration": f"{duration_ms:g} ms",
    }


def _internal_ohm(current_kA: float) -> float:
    """Internal resistance at which the bench's weld (slot, 30 N) takes this mean current in 5 ms."""
    volts, ohm = 12.0, 12.0 / (1e3 * current_kA) - 4.4e-3
    for _ in range(3):
        mean = march(_changes(ohm, 0.05, 30.0, 5.0))["mean_current_A"]
        ohm += volts / (1e3 * current_kA) - volts / mean
    return ohm


def _ohms(ohms: dict[float, float]) -> str:
    return ", ".join(f"{kA:g} kA {1e3 * ohm:.2f} mohm" for kA, ohm in ohms.items()) + "."


def _beside(found: dict[Key, Run]) -> Iterator[Check]:
    """The same statements that the trade makes, from the model."""
    usual: Key = (1.4, 0.05, 30.0, 5.0)
    weld = found[usual]
    yield reported(
        "1.4 kA, slot, 30 N, 5 ms: fused diameter", weld.fused_mm, "mm", "practice: about 5 ms does"
    )
    yield reported(
        "the same: energy into the pair", weld["weld_energy_J"], "J", "practice: 10 to 40 J into the pair"
    )
    yield reported("the same: share of the wall melted", weld["can_penetration"])
    yield reported("the same: fused diameter over tip face", weld.fused_mm / 1.5, "", "published: near 0.3")
    pull = 2.0 * weld["shear_force_N"]
    yield reported("the same: pull-out estimate of the pair", pull, "N", "practice: peel 20 to 50 N per pair")
    late = 1e3 * weld["can_inner_peak_time_s"]
    yield reported(
        "the same: inner face of the can peaks at", late, "ms", "practice: during or after the pulse"
    )
    yield reported(
        "the same: top of the roll rises by", weld.roll_rise_K, "K", "published: no damaging temperature"
    )
    bare = found[(1.4, 1.0, 30.0, 5.0)]
    yield reported("1.4 kA source without slot: fused diameter", bare.fused_mm, "mm", "practice: slots help")
    good = [
        r for r in found.values() if r.fused_mm >= 0.6 and r["can_penetration"] < 0.5 and not r["expulsion"]
    ]
    for name, pick in (("least", min), ("most", max)):
        energy = pick((r["weld_energy_J"] for r in good), default=float("nan"))
        yield reported(
            f"{name} energy of the welds that reach 0.6 mm with less than half the wall melted",
            energy, "J", f"{len(good)} of {len(found)} welds; practice: 10 to 40 J",
        )  # fmt: skip
    pierced = [key for key, r in found.items() if r["burn_through"]]
    note = "practice: too strong a weld has pierced a can"
    if pierced:
        current, shunt, force, ms = min(pierced, key=lambda k: (k[3], k[0]))
        note += f"; first at {current:g} kA, {'no slot' if shunt == 1.0 else 'slot'}, {force:g} N, {ms:g} ms"
    yield reported("welds that melt the wall to its inner face", len(pierced), "", note)


def _facts() -> str:
    return "What the trade says:\n\n" + "\n".join(f"- {fact} [{mark}]" for fact, mark in FACTS)


def _tables(found: dict[Key, Run]) -> Iterator[str]:
    head = ("source", "force", *(f"{ms:g} ms" for ms in DURATIONS_MS))
    for shunt in SHUNTS:
        body = [
            (
                f"{current:g} kA",
                f"{force:g} N",
                *(_cell(found[current, shunt, force, ms]) for ms in DURATIONS_MS),
            )
            for current, force in product(CURRENTS_KA, FORCES_N)
        ]
        title = "Without slot" if shunt == 1.0 else f"With slot (shunt fraction {shunt:g})"
        yield (
            f"{title}. Each cell: mean current [kA], fused diameter [mm], share of the wall melted, rise at "
            "the top of the roll [K], energy into the pair [J]; T strip melted through, X expulsion, B "
            "burn-through."
        )
        yield markdown(head, body)


def _cell(r: Run) -> str:
    marks = "".join(
        mark
        for mark, key in (("T", "strip_through_ratio"), ("X", "expulsion"), ("B", "burn_through"))
        if r[key]
    )
    numbers = (
        f"{1e-3 * r['mean_current_A']:.2f}; {r.fused_mm:.2f}; {r['can_penetration']:.2f}; "
        f"{r.roll_rise_K:.0f}; {r['weld_energy_J']:.0f}"
    )
    return f"{numbers} {marks}".strip()


CAPTION = "Fused diameter, melted share of the wall and rise at the roll; solid with slot, dashed without."


def _draw(found: dict[Key, Run]) -> Any:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(12.0, 10.0), layout="constrained")
    axes = figure.subplots(3, 3, sharex=True, sharey="row")
    rows: tuple[tuple[str, Callable[[Run], float]], ...] = (
        ("fused diameter [mm]", lambda r: r.fused_mm),
        ("share of the wall melted", lambda r: r["can_penetration"]),
        ("rise at the roll [K]", lambda r: r.roll_rise_K),
    )
    colours = ("#0072B2", "#E69F00", "#009E73")
    for (label, read), line in zip(rows, axes, strict=True):
        line[0].set_ylabel(label)
        for ax, current in zip(line, CURRENTS_KA, strict=True):
            ax.grid(alpha=0.3)
            for (shunt, style), (force, colour) in product(
                zip(SHUNTS, ("o-", "s--"), strict=True), zip(FORCES_N, colours, strict=True)
            ):
                values = [read(found[current, shunt, force, ms]) for ms in DURATIONS_MS]
                ax.plot(DURATIONS_MS, values, style, color=colour, ms=4, label=_label(force, shunt))
    for ax, current in zip(axes[0], CURRENTS_KA, strict=True):
        ax.set_title(f"{current:g} kA")
    for ax in axes[-1]:
        ax.set_xlabel("pulse [ms]")
    axes[0, 0].legend(ncols=2)
    for ax in axes[:, 0]:
        ax.set_ylim(bottom=0.0)
    return figure


def _label(force_N: float, shunt: float) -> str:
    return f"{force_N:g} N, {'no slot' if shunt == 1.0 else 'slot'}"


PIECE = Piece(
    name="practice",
    title="Plausibility beside what practitioners report",
    what="0.15 mm nickel strip on the negative end of a 18650 cell, 12 V battery whose internal resistance "
    "is set so that the bench's weld takes a mean current of 1.0, 1.4 and 2.0 kA within 5 ms; then with and "
    "without slot, at 15, 30 and 60 N, from 3 to 20 ms. Nothing is fitted: the only number adjusted is the "
    "source's resistance, to deliver the stated current. Reported, not judged.",
    run=run,
)
