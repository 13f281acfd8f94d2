"""Plated steel strip over random setups: finer steps and a finer grid say the same."""

from __future__ import annotations

import random
from typing import Any

from validation.case import Check, Drawing, Outcome, at_most, reported
from validation.evidence.piece import Piece
from validation.evidence.runs import Changes, Run, march_all
from validation.evidence.spacing import differences
from validation.readers import markdown

COUNT, SEED = 24, 20
LIMIT = 0.02
WAYS: dict[str, Changes] = {
    "standard": {},
    "tolerance 0.5 K": {"numerics.tolerance": "0.5 K"},
    "refinement 2": {"numerics.refinement": 2.0},
}


def drawn(count: int = COUNT, seed: int = SEED) -> list[dict[str, object]]:
    """Changes of `count` random setups with plated steel strip."""
    draw = random.Random(seed)

    def one() -> dict[str, object]:
        return {
            "strip.material": "nickel-plated-steel",
            "strip.thickness": f"{draw.uniform(0.1, 0.25):.4f} mm",
            "strip.shunt_fraction": round(draw.uniform(0.0, 0.6), 3),
            "cell.wall": f"{draw.uniform(0.22, 0.35):.4f} mm",
            "electrode.material": draw.choice(("cucrzr", "copper-etp", "tungsten")),
            "electrode.face_diameter": f"{draw.uniform(1.0, 2.0):.4f} mm",
            "electrode.force": f"{draw.uniform(15.0, 60.0):.2f} N",
            "arrangement.spacing": f"{draw.uniform(3.5, 6.0):.3f} mm",
            "source.internal_resistance": f"{draw.uniform(2.5, 6.0):.3f} mohm",
            "pulse.0.duration": f"{draw.uniform(1.5, 6.0):.3f} ms",
        }

    return [one() for _ in range(count)]


def target_mm(changes: Changes) -> float:
    """The target diameter of a setup [mm]."""
    from validation.bench import bench

    return 1e3 * bench().with_(changes).joint.minimum_diameter_m


def run(workers: int) -> Outcome:
    setups = drawn()
    many: list[Changes] = [{**changes, **way} for way in WAYS.values() for changes in setups]
    found = march_all(many, workers)
    runs = {name: found[i * COUNT : (i + 1) * COUNT] for i, name in enumerate(WAYS)}
    targets = [target_mm(changes) for changes in setups]
    checks: list[Check] = []
    body = []
    for other in list(WAYS)[1:]:
        pairs = list(zip(runs["standard"], runs[other], targets, strict=True))
        moves = [differences(here, there, target) for here, there, target in pairs]
        for quantity in range(3):
            name = moves[0][quantity][0]
            misses = [move[quantity][1] for move in moves]
            worst = max(range(COUNT), key=misses.__getitem__)
            beyond = sum(miss > LIMIT for miss in misses)
            note = f"setup {worst + 1}: {moves[worst][quantity][2]}; {beyond} of {COUNT} beyond the limit"
            checks.append(at_most(f"{other}: {name}, worst of {COUNT}", misses[worst], LIMIT, "", note))
            checks.append(reported(f"{other}: {name}, median", sorted(misses)[COUNT // 2]))
        body += [
            (other, n + 1, *(f"{share:.2%} ({text})" for _, share, text in move))
            for n, move in enumerate(moves)
        ]
    head = ("against", "setup", "fused diameter", "rise at the roll", "energy into the pair")
    drawing = Drawing("plated", "Diameters of the standard march and of the finer ones.", lambda: _draw(runs))
    return Outcome(tuple(checks), (drawing,), markdown(head, [tuple(map(str, line)) for line in body]))


def _draw(runs: dict[str, list[Run]]) -> Any:
    from validation.drawing import axes

    figure, ax = axes("fused diameter, standard [mm]", "finer march [mm]")
    here = [r.fused_mm for r in runs["standard"]]
    for (name, found), mark in zip(list(runs.items())[1:], ("o", "s"), strict=True):
        ax.plot(here, [r.fused_mm for r in found], mark, mfc="none", label=name)
    ax.plot((0.0, max(here)), (0.0, max(here)), "k", lw=0.7)
    ax.legend()
    return figure


PIECE = Piece(
    name="plated",
    title="Plated steel over random setups",
    what=f"{COUNT} setups drawn at random (seed {SEED}): nickel-plated steel strip of 0.1 to 0.25 mm, walls "
    "of 0.22 to 0.35 mm, three tip metals, faces of 1 to 2 mm, 15 to 60 N, 1.5 to 6 ms, sources from stiff "
    "to weak. Standard march (tolerance 1.5 K, refinement 1) against a tolerance of 0.5 K and against "
    "refinement 2. A plating that melts between two solids must not let the contact jump. Interior rise and "
    "energy relative, the fused diameter as a share of the larger of itself and half the target; 2 % is the "
    "whole numerical error that a weld may have (theory: numerics). Setups 6 and 21 miss it in the rise of "
    "their winding, the others keep it. In both the strip melts nearly through under a hot tip, up to 3100 "
    "and 3000 K, and there the tip's contact widens in bursts, at instants that steps and grid decide. "
    "Setup 21: over ten tolerances from 1.5 to 0.1 K its winding rises by 148 to 153 K (153 K as delivered, "
    "149 K at the shortest steps), and its wall burns through each time. Setup 6: over seven grids of "
    "refinement 1 to 2.4 its tip's contact ends at 0.70 to 0.78 mm and its winding rises by 109 to 114 K, "
    "in no order (114 K as delivered); its wall melts to 0.44 to 0.47 of its thickness. Both are delivered "
    "at the hot end of what they scatter by.",
    run=run,
)
