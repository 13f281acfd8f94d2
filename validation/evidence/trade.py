"""What the trade says of force, face and tip on the bench; it and the default in their windows."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from validation.case import Check, Outcome, at_least, at_most, holds, reported
from validation.evidence.piece import Piece
from validation.evidence.runs import Changes, Run, march_all, milliseconds
from validation.readers import markdown

FORCES_N = {4.0: (21.0, 30.0, 39.0, 60.0), 6.0: (20.0, 30.0, 40.0, 50.0, 60.0)}
"""At each pulse [ms] the forces of a bench head: 20 to 60 N, common practice, no source."""
SPREAD = 0.20
"""How far a diameter may lie from the mean over the forces: practice welds with all of them."""
FACES_MM = (1.0, 1.5, 2.0)
TIPS = ("copper-etp", "cucrzr", "tungsten")
SAME_A = "1300 A"
"""About what the default source gives; tips are compared at equal current too, as a welder sets it."""
COPPER: Changes = {"strip.material": "copper-etp", "strip.thickness": "0.1 mm"}
SHEETS: Changes = {
    "cell": {"kind": "coupon", "wall_material": "copper-etp", "wall": "0.2 mm", "radius": "6 mm"},
    "strip.material": "copper-etp",
    "strip.thickness": "0.2 mm",
    "strip.width": "12 mm",
    "strip.slots": [],
    "arrangement.kind": "opposed",
    "electrode.tip_shape": "flat",
    "electrode.force": "60 N",
    "contact.tip.film": "1e-11 ohm m2",
    "contact.faying.film": "1e-11 ohm m2",
    "source": {"kind": "constant current", "current": "2500 A"},
}
"""Copper on copper, where the trade uses tungsten: what is heated is all of a good conductor."""
WINDOW_MS = (1.2, 1.5, 1.8, 2.2, 2.5, 2.8, 3.1, 3.5)


def run(workers: int) -> Outcome:
    by_force: dict[tuple[float, float], Changes] = {
        (ms, force): {**milliseconds(ms), "electrode.force": f"{force:g} N"}
        for ms, forces in FORCES_N.items()
        for force in forces
    }
    four = milliseconds(4.0)
    by_face: dict[float, Changes] = {mm: {**four, "electrode.face_diameter": f"{mm:g} mm"} for mm in FACES_MM}
    set_current: Changes = {"source": {"kind": "constant current", "current": SAME_A}}
    ways: dict[str, Changes] = {
        "default source": four,
        f"{SAME_A} through nickel": {**four, **set_current},
        "copper strip on a can, 8 ms": {**milliseconds(8.0), **COPPER},
        "copper on copper, 8 ms": {**milliseconds(8.0), **SHEETS},
    }
    by_tip: dict[tuple[str, str], Changes] = {
        (way, tip): {**changes, "electrode.material": tip}
        for (way, changes), tip in product(ways.items(), TIPS)
    }
    window = {ms: milliseconds(ms) for ms in WINDOW_MS}
    keys = [*by_force, *by_face, *by_tip, *window]
    many = [*by_force.values(), *by_face.values(), *by_tip.values(), *window.values()]
    found = march_all(many, workers)
    forces = dict(zip(by_force, found, strict=False))
    faces = dict(zip(by_face, found[len(by_force) :], strict=False))
    tips = dict(zip(by_tip, found[len(by_force) + len(by_face) :], strict=False))
    growth = dict(zip(window, found[-len(window) :], strict=True))
    checks = [*_forces(forces), *_faces(faces), *_tips(tips, list(ways)), *_window(growth)]
    return Outcome(tuple(checks), text=_table(keys, found))


def _forces(found: dict[tuple[float, float], Run]) -> Iterator[Check]:
    for ms, forces in FORCES_N.items():
        sizes = [found[ms, force].fused_mm for force in forces]
        mean = sum(sizes) / len(sizes)
        note = ", ".join(f"{force:g} N {size:.3f}" for force, size in zip(forces, sizes, strict=True)) + " mm"
        worst = max(abs(size / mean - 1.0) for size in sizes) if mean else float("nan")
        yield at_most(f"{ms:g} ms: diameter against its mean over the forces, worst", worst, SPREAD, "", note)
        yield holds(f"{ms:g} ms: every force welds", min(sizes) > 0.0)


def _faces(found: dict[float, Run]) -> Iterator[Check]:
    """The trade: a smaller face gives more heat and a larger joint."""
    smallest, _, largest = (found[mm] for mm in FACES_MM)
    note = ", ".join(f"{mm:g} mm {r.fused_mm:.3f}" for mm, r in found.items()) + " mm"
    yield at_least("diameter, face of 1 over 2 mm", smallest.fused_mm / largest.fused_mm, 1.0, "", note)
    heat = smallest["weld_energy_J"] / largest["weld_energy_J"]
    yield at_least("energy into the pair, face of 1 over 2 mm", heat, 1.0)


def _tips(found: dict[tuple[str, str], Run], ways: list[str]) -> Iterator[Check]:
    """The trade: tungsten heats by itself and is for copper; copper tips take heat away."""
    for way in ways:
        copper, alloy, tungsten = (found[way, tip] for tip in TIPS)
        sizes = ", ".join(
            f"{tip} {r['one_side_melt_diameter_m'] * 1e3:.3f} mm, {r['hottest_K']:.0f} K, "
            f"{r['rms_current_A']:.0f} A"
            for tip, r in zip(TIPS, (copper, alloy, tungsten), strict=True)
        )
        ratio = tungsten["weld_energy_J"] / alloy["weld_energy_J"]
        yield reported(f"{way}: energy into the pair, tungsten over CuCrZr", ratio, "", sizes)
    key = "nugget_diameter_m"
    tungsten, alloy = found[ways[3], "tungsten"], found[ways[3], "cucrzr"]
    note = f"{1e3 * tungsten[key]:.3f} against {1e3 * alloy[key]:.3f} mm"
    yield holds(
        "copper on copper joins wider under tungsten than under CuCrZr", tungsten[key] > alloy[key], note
    )
    tungsten, alloy = found[ways[2], "tungsten"], found[ways[2], "cucrzr"]
    note = "the can makes the heat here: a tip that widens its contact as it heats draws more of it away"
    yield reported(
        "copper strip on a can: joint under tungsten over CuCrZr", tungsten[key] / alloy[key], "", note
    )
    same = ways[1]
    more = found[same, "tungsten"]["spot_energy_J"] / found[same, "cucrzr"]["spot_energy_J"]
    yield at_least("equal current: energy under tungsten over CuCrZr", more, 1.02, "", "a tip that heats")


def _window(growth: dict[float, Run]) -> Iterator[Check]:
    """Where the bench's window lies (joint reached, wall less than half melted); the default in its own."""
    from nugget.outcome.verdict import state_of
    from nugget.outcome.weld import run_weld
    from nugget.setup import default_setup
    from validation.bench import bench

    setup = bench()
    states = {
        ms: state_of(setup.with_({"pulse.0.duration": f"{ms:g} ms"}), r.figures) for ms, r in growth.items()
    }
    nominal_ms = round(1e3 * setup.train[0].duration_s, 6)
    nominal = growth[nominal_ms]
    note = ", ".join(f"{ms:g} ms {state}" for ms, state in states.items())
    yield holds("the bench's nominal march is in window", states[nominal_ms] == "in window", note)
    yield reported("its nugget over the target", nominal.fused_mm * 1e-3 / setup.joint.minimum_diameter_m)
    yield reported("its share of the wall melted", nominal["can_penetration"], "", "limit 0.5")
    given = default_setup()
    weld = run_weld(given)
    share = weld.figures["can_penetration"]
    note = f"{1e3 * weld.figures['nugget_diameter_m']:.3f} mm, {share:.2f} of the wall melted"
    inside = state_of(given, weld.figures) == "in window"
    yield holds("the default setup's nominal march is in window", inside, note)


def _table(keys: list[object], found: list[Run]) -> str:
    body = [
        (
            str(key),
            f"{r.fused_mm:.3f}",
            f"{1e3 * r['both_sides_melt_diameter_m']:.3f}",
            f"{1e3 * r['bonded_diameter_m']:.3f}",
            f"{r['can_penetration']:.2f}",
            f"{r['hottest_K']:.0f}",
            f"{r['weld_energy_J']:.1f}",
            f"{r['rms_current_A']:.0f}",
            f"{1e3 * r['tip_contact_diameter_m']:.2f}",
            f"{1e3 * r['contact_diameter_m']:.2f}",
        )
        for key, r in zip(keys, found, strict=True)
    ]
    head = ("what", "nugget [mm]", "both sides", "bonded", "wall melted", "hottest [K]", "pair [J]",
            "current [A]", "tip contact [mm]", "faying contact [mm]")  # fmt: skip
    return markdown(head, body)


PIECE = Piece(
    name="trade",
    title="Force, face and tip as the trade knows them",
    what="0.15 mm nickel for 2.2 ms, else the default setup. "
    "Force: at 4 ms diameters at 21, 30, 39 and 60 N, and at 6 ms from 20 to 60 N, "
    "within 20 % of their mean and none zero, as bench heads weld at 20 to 60 N (common practice, no "
    "source). Faces of 1, 1.5 and 2 mm at 4 ms: a smaller face should give more heat and a larger joint "
    "(common practice). The order is missed: 1 mm gives 1.6 % less diameter and 4 % less energy than 2 mm. "
    "The contact of a rounded tip ends inside its face, whose dome decides no more than the first touch. "
    "What a smaller face changes is the metal behind it: less of it resists more, 1 to 2 % in the first "
    "0.2 ms, as the trade has it; then it is hotter and the strip under it softer, its contact widens to "
    "0.74 instead of 0.59 mm, and the load falls by a seventh. Under flat tips the face sets the "
    "density of the current, see case 6-face. Tips of copper, CuCrZr and tungsten: tungsten "
    "is for good conductors and heats by itself (common practice): judged where the current is set, and on "
    "copper between copper. On a steel can the steel makes the heat, under copper strip too, and there no "
    "order was found in what the trade says. On the default source a tip of higher resistance also draws "
    "less current, which is reported. Last the bench's window: the nugget must reach its target before "
    "half of the wall has melted; the nominal pulse lies between the two, as does that of the default setup.",
    run=run,
)
