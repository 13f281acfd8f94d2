"""What is below the wall decides: eight builds at two pulses, the contact of can and winding, the cap."""

from __future__ import annotations

import math
from concurrent.futures import ProcessPoolExecutor
from typing import Any

import numpy as np

from validation.case import Check, Outcome, at_most, holds, informative
from validation.evidence.piece import Piece
from validation.readers import markdown

PULSES_MS = (6.0, 12.0)
LIMIT = 0.15
"""What the temperatures of cap and rim may differ by from the transient of the whole cell."""
ROLL = {"role": "roll", "material": "jelly-roll-nmc", "thickness": "20 mm"}
FILM = {"role": "separator", "material": "polyethylene-separator", "thickness": "1 mm"}


def _disc(thickness: str, material: str = "polypropylene", **more: str) -> dict[str, str]:
    return {"role": "disc", "material": material, "thickness": thickness, **more}


BUILDS: dict[str, list[dict[str, str]]] = {
    "0.2 mm polypropylene, roll without film": [_disc("0.2 mm"), ROLL],
    "0.1 mm polypropylene, roll without film": [_disc("0.1 mm"), ROLL],
    "50 um electrolyte, roll, no disc": [
        {"role": "film", "material": "electrolyte", "thickness": "50 um"},
        ROLL,
    ],
    "0.2 mm polypropylene, separator": [_disc("0.2 mm"), FILM, ROLL],
    "0.1 mm polypropylene, separator (default)": [_disc("0.1 mm"), FILM, ROLL],
    "0.05 mm PET tape, separator": [_disc("0.05 mm", "pet"), FILM, ROLL],
    "0.1 mm electrolyte in the disc's hole of 4 mm, separator": [
        _disc("0.1 mm", inner_radius="2 mm", hole="electrolyte"),
        FILM,
        ROLL,
    ],
    "0.1 mm nickel tab of radius 2 mm, 0.1 mm polypropylene, separator": [
        {"role": "tab", "material": "nickel-200", "thickness": "0.1 mm", "radius": "2 mm"},
        _disc("0.1 mm"),
        FILM,
        ROLL,
    ],
}


def _judged(job: tuple[dict[str, Any], float]) -> tuple[dict[str, Any], str, tuple[str, ...]]:
    """Figures, verdict of the single run and broken limits of harm to the cell."""
    from nugget.outcome.verdict import broken_limits, state_of
    from nugget.outcome.weld import run_weld
    from validation.bench import bench

    changes, pulse_ms = job
    setup = bench().with_({**changes, "pulse.0.duration": f"{pulse_ms:g} ms"})
    figures = run_weld(setup).figures
    broken = tuple(one.id for one in broken_limits(setup, figures) if one.severity == "harm")
    return figures, state_of(setup, figures), broken


def _table(found: list[tuple[dict[str, Any], str, tuple[str, ...]]], names: list[str]) -> str:
    head = ("below the wall", "pulse", "inner face", "winding, top", "above 130 °C", "disc melted")
    head = (*head, "free electrolyte", "verdict", "harm to the cell")
    rows = []
    jobs = [(name, pulse) for name in names for pulse in PULSES_MS]
    for (name, pulse), (figures, verdict, broken) in zip(jobs, found, strict=True):
        share, film = figures["disc_melted_share"], figures["film_peak_K"]
        rows.append(
            (
                name,
                f"{pulse:g} ms",
                f"{figures['can_inner_peak_K'] - 273.15:.0f} °C",
                f"{figures['interior_peak_K'] - 273.15:.0f} °C",
                f"{1e3 * figures['time_above_limit_s']:.0f} ms",
                "-" if share is None else f"{100 * share:.0f} %",
                "-" if film is None else f"{film - 273.15:.0f} °C",
                verdict,
                ", ".join(broken),
            )
        )
    return markdown(head, rows)


def _named_disc() -> Check:
    """The overhang entered as a disc, without the disc: judged as what it is."""
    honest, named = ([{**FILM, "role": role}, ROLL] for role in ("separator", "disc"))
    one, other = (_judged(({"cell.interior": build}, 3.0))[0]["interior_peak_K"] for build in (honest, named))
    return holds("a separator that is called a disc is judged as a separator", one == other, f"{one:.1f} K")


def _swept() -> list[Check]:
    """The winding's peak over the conductance between can and winding that was measured."""
    from nugget.setup.facts import facts

    known = {name: str(fact["value"]) for name, fact in facts()["conductance_below"].items()}
    peaks = {"perfect": _judged(({}, 2.5))[0]["interior_peak_K"]}
    for name, value in known.items():
        peaks[f"{name}, {value}"] = _judged(({"cell.conductance_below": value}, 2.5))[0]["interior_peak_K"]
    checks = [
        informative(
            f"winding's peak at 2.5 ms, contact {name}", peak - 273.15, peaks["perfect"] - 273.15, "degC"
        )
        for name, peak in peaks.items()
    ]
    return [*checks, holds("perfect contact is the hottest", max(peaks, key=lambda k: peaks[k]) == "perfect")]


def _cap() -> list[Check]:
    """Mean of the cap and its rim after a pair of spots, against the transient of the whole cell."""
    from nugget.followup.cell_parts import whole_cell
    from nugget.followup.repeated import heat_left_J
    from nugget.outcome.cap import course, outside_factor, spot_radius_m
    from nugget.outcome.weld import run_weld
    from nugget.whole_cell import respond
    from validation.bench import bench

    after = np.array([0.2, 0.5, 1.0, 2.0, 5.0, 10.0])
    checks = []
    for pulse_ms in (2.5, 6.0):
        setup = bench().with_({"cell.end": "positive", "pulse.0.duration": f"{pulse_ms:g} ms"})
        weld = run_weld(setup)
        factor = outside_factor(heat_left_J(weld.figures), weld.figures["outside_heat_J"])
        time, mean, rim = course(setup, weld.history["time_s"], weld.history["wall_mean_K"], factor)
        answer = respond(whole_cell(setup), spot_radius_m(setup), setup.face_radius_m)
        edge, each = setup.base[0].radius_m, 0.5 * heat_left_J(weld.figures)
        theirs = {
            "mean": 2.0 * each * answer.read(answer.mean("wall", edge), after),
            "rim": each * sum(answer.rise("wall", edge * (1 - 1e-6), a, after) for a in (0.0, math.pi)),
        }
        for name, ours in (("mean", mean), ("rim", rim)):
            found = np.interp(after, time, ours) - setup.ambient_K
            for at, one, two in zip(after, found, theirs[name], strict=True):
                note = f"rise of {one:.1f} and {two:.1f} K"
                checks.append(
                    at_most(f"cap, {name}, {pulse_ms:g} ms, {at:g} s", one / two - 1.0, LIMIT, "", note)
                )
        peak = weld.figures["gasket_peak_K"] - 273.15
        checks.append(informative(f"gasket's peak, {pulse_ms:g} ms", peak, peak, "degC"))
    return checks


def run(workers: int) -> Outcome:
    jobs = [({"cell.interior": build}, pulse) for build in BUILDS.values() for pulse in PULSES_MS]
    with ProcessPoolExecutor(max(1, workers)) as pool:
        found = list(pool.map(_judged, jobs))
    checks = [_named_disc(), *_swept(), *_cap()]
    return Outcome(tuple(checks), text=_table(found, list(BUILDS)))


PIECE = Piece(
    name="interior",
    title="Inside the cell: what lies below the wall, and the cap",
    what="0.15 mm nickel at 6 and 12 ms over eight builds of a negative end, with the verdict of each; the "
    "contact between can and winding over what was measured; the mean of a cap and its rim after a pair of "
    "spots, from the march of one spot and the closed form of an insulated disc, against the transient of "
    "the whole cell. 15 %: the contact of cap, ring and burst disc is known less well.",
    run=run,
)
