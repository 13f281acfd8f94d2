"""The model reacts to what it contains: one change at a time, and what moves."""

from __future__ import annotations

from validation.case import Check, Outcome, at_least
from validation.evidence.piece import Piece
from validation.evidence.runs import Changes, Run, march, march_all
from validation.mutations import no_interface_heat
from validation.readers import markdown

LEAST = 0.005
"""A change counts when mean current or fused diameter moves by more than the time step may."""
FILM: Changes = {"contact.tip.film": "2e-11 ohm m2", "contact.faying.film": "2e-11 ohm m2"}
HALF_OPEN: Changes = {"strip.shunt_fraction": 0.5}
OPEN: Changes = {"strip.shunt_fraction": 1.0}


def run(workers: int) -> Outcome:
    changes: dict[str, Changes] = {
        "default": {},
        "twice the force (60 N)": {"electrode.force": "60 N"},
        "half the force (15 N)": {"electrode.force": "15 N"},
        "a film of 2e-11 ohm m2 on both contacts": FILM,
        "eight times the hardness": {"contact.hardness_factor": 8.0},
        "half the shunt (0.025)": {"strip.shunt_fraction": 0.025},
        "no slot": OPEN,
        "half the shunt of no slot (0.5)": HALF_OPEN,
    }
    names = list(changes)
    found = dict(zip(names, march_all(list(changes.values()), workers), strict=True))
    found["no interface heat"] = _without_interface_heat({})
    found["the film, no interface heat"] = _without_interface_heat(FILM)
    against = dict.fromkeys(found, "default")
    against["half the shunt of no slot (0.5)"] = "no slot"
    against["the film, no interface heat"] = names[3]
    judged = (names[1], names[3], names[4], names[5], "the film, no interface heat")
    checks: list[Check] = []
    for name in judged:
        here, base = found[name], found[against[name]]
        current = here["mean_current_A"] / base["mean_current_A"] - 1.0
        size = here.fused_mm / base.fused_mm - 1.0
        note = f"against {against[name]}: mean current {100 * current:+.1f} %, diameter {100 * size:+.1f} %"
        checks.append(at_least(f"{name}: larger move", max(abs(current), abs(size)), LEAST, "", note))
    return Outcome(tuple(checks), text=_table(found))


def _without_interface_heat(changes: Changes) -> Run:
    """A march in which the interfaces resist but make no heat."""
    with no_interface_heat():
        return march(changes)


def _table(found: dict[str, Run]) -> str:
    head = ("setup", "mean current [A]", "peak current [A]", "fused [mm]", "wall melted",
            "rise at the roll [K]", "energy into the pair [J]", "melting from [ms]",
            "faying contact [mm]")  # fmt: skip
    body = [
        (
            name,
            f"{r['mean_current_A']:.0f}",
            f"{r['peak_current_A']:.0f}",
            f"{r.fused_mm:.3f}",
            f"{r['can_penetration']:.2f}",
            f"{r.roll_rise_K:.1f}",
            f"{r['weld_energy_J']:.2f}",
            "never" if r["melting_onset_s"] is None else f"{1e3 * r['melting_onset_s']:.2f}",
            f"{1e3 * r['contact_diameter_m']:.3f}",
        )
        for name, r in found.items()
    ]
    return markdown(head, body)


PIECE = Piece(
    name="reacts",
    title="Reaction to what the model contains",
    what="0.15 mm nickel with one change at a time. A change counts when the mean current or the fused "
    f"diameter moves by at least {100 * LEAST:g} %, more than half the time-step tolerance may move them. "
    "Interface heat is switched off in the heat equation only, with the film that makes it matter.",
    run=run,
)
