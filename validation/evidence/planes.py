"""Series load of thin layers against an independent planar solve; what a slit leaves of the shunt."""

from __future__ import annotations

import math
from dataclasses import replace

from validation import sheet_fem as planar
from validation.case import Check, Outcome, at_most, reported
from validation.evidence.piece import Piece
from validation.readers import markdown
from validation.rig import curve

LIMIT = 0.05
OUTLINE_LIMIT = 0.01
H_MM = 0.125
SPACING, WIDTH, TIP, CAN = 5.0, 8.0, 0.75, 9.1
"""Default geometry: tip spacing, strip width, radius of the tip face, radius of the can base [mm]."""
SLIT_MM, END_MM = 1.0, 5.0
"""Width of the default's slit and distance of the tips from the strip's end [mm]."""
IDEAL_OHM_M = 1e-13
"""Resistivity of a tip that adds nothing to the load."""
THIN = (1.0, 0.3, 0.1, 0.03)


def run(workers: int) -> Outcome:
    sheets = {
        "strip, tips along it": planar.strip_along(SPACING, WIDTH),
        "strip, tips across it": planar.strip_across(SPACING, WIDTH),
        "can disc": planar.disc(SPACING, CAN),
        "strip, tips across it, slit 25 mm past them": _slit(25.0),
    }
    solved = {name: planar.converged(sheet, TIP, H_MM) for name, sheet in sheets.items()}
    along, across, can, slit = (value for value, _ in solved.values())
    checks = [_guard()]
    checks += _factors(along, across, can)
    checks += _loads("series along", along, can, 1.0)
    checks += _loads("series across", across, can, 1.0)
    direct = _factor("series across") / (2.0 * math.pi)
    checks += _loads("series across", slit, can, direct / slit)
    checks += _shunts(direct, across)
    checks += _outlines()
    return Outcome(tuple(checks), text=_convergence(solved))


def _slit(past: float) -> planar.Sheet:
    return planar.slit_strip(SPACING, WIDTH, SLIT_MM, past, END_MM)


def _guard() -> Check:
    """The solver itself: two discs on a sheet so wide that its edge is a small known correction."""
    radius = 40.0
    found, _ = planar.converged(planar.disc(SPACING, radius), TIP, 0.25)
    quarter = 0.25 * SPACING**2
    edge = math.log((radius**2 + quarter) / (radius**2 - quarter))
    exact = (math.acosh(SPACING / (2.0 * TIP)) + edge) / (2.0 * math.pi)
    return at_most(
        "guard: planar solve of two discs on a wide sheet, arccosh(s / 2a)", abs(found / exact - 1.0), 2e-3
    )


def _factor(arrangement: str) -> float:
    from nugget.outline import planar as factors

    rule = factors.strip_along if arrangement == "series along" else factors.strip_across
    return rule(SPACING, TIP, WIDTH)


def _factors(along: float, across: float, can: float) -> list[Check]:
    """Closed planar factors against the solve."""
    from nugget.outline import planar as factors

    return [
        at_most(f"planar factor, {name}", abs(factor / (2.0 * math.pi * solved) - 1.0), LIMIT, "",
                f"{factor:.4f} and {2.0 * math.pi * solved:.4f}")
        for name, factor, solved in (
            ("strip, tips along it", _factor("series along"), along),
            ("strip, tips across it", _factor("series across"), across),
            ("can disc", factors.disc(SPACING, TIP, CAN), can),
        )
    ]  # fmt: skip


def _loads(arrangement: str, strip: float, can: float, shunt_fraction: float) -> list[Check]:
    """Load of the whole model with real materials against both sheets in parallel, ever thinner."""
    checks = []
    name = (
        arrangement if shunt_fraction == 1.0 else f"{arrangement}, slit, shunt fraction {shunt_fraction:.4f}"
    )
    for share in THIN:
        model_ohm, strip_ohm, can_ohm = _load(arrangement, shunt_fraction, share)
        plane = 2.0 / (1.0 / (strip_ohm * strip) + 1.0 / (can_ohm * can))
        note = f"{1e3 * model_ohm:.4f} and {1e3 * plane:.4f} mohm"
        miss = model_ohm / plane - 1.0
        title = f"load, {name}, layers {share:g} x default"
        if share == THIN[-1]:
            checks.append(at_most(title, abs(miss), LIMIT, "", note))
        else:
            checks.append(reported(title, miss, "", note))
    fine_ohm, _, _ = _load(arrangement, shunt_fraction, THIN[-1], 2.0)
    checks.append(reported(f"the thinnest on the fine grid, {name}", fine_ohm / plane - 1.0))
    return checks


def _load(
    arrangement: str, shunt_fraction: float, share: float, refinement: float = 1.0
) -> tuple[float, float, float]:
    """Cold load of the pair and the sheet resistances of strip and can [ohm]."""
    from nugget.weld.model import WeldModel
    from validation.bench import bench

    changes = {
        "arrangement.kind": arrangement,
        "strip.shunt_fraction": shunt_fraction,
        "electrode.tip_shape": "flat",
        "numerics.refinement": refinement,
        "contact.tip.law": "table",
        "contact.tip.table": [{"temperature": "20 degC", "resistance": "0 ohm m2"}],
        "contact.faying.law": "table",
        "contact.faying.table": [{"temperature": "20 degC", "resistance": "0 ohm m2"}],
    }
    setup = bench().with_(changes).si
    strip, can = setup.strip[0], setup.base[0]
    ideal = replace(setup.electrode.material, resistivity=curve(IDEAL_OHM_M))
    setup = replace(
        setup,
        electrode=replace(setup.electrode, material=ideal),
        strip=(replace(strip, thickness_m=share * strip.thickness_m),),
        base=(replace(can, thickness_m=share * can.thickness_m), *setup.base[1:]),
    )
    model = WeldModel(setup)
    T, _ = model.cells.temperature(model.initial())
    _, _, sigma = model.cells.conductivities(T)
    contacts = model.first_touch(T)
    load = model.load_ohm(model.solve_electric(sigma, contacts).resistance_ohm)
    strip_rho, can_rho = (
        layer.material.resistivity(setup.ambient_K)  # type: ignore[misc]
        for layer in (strip, can)
    )
    return (
        load,
        float(strip_rho) / (share * strip.thickness_m),
        float(can_rho) / (share * can.thickness_m),
    )


def _shunts(direct: float, across: float) -> list[Check]:
    """Shunt fraction that a slit of several lengths leaves, as the setup counts it."""
    checks = []
    for past in (5.0, 10.0, 15.0, 25.0):
        slit, _ = planar.converged(_slit(past), TIP, 0.25)
        note = (
            f"{slit:.3f} squares to the mid-plane; against the planar solve without slit {across / slit:.4f}"
        )
        checks.append(
            reported(f"shunt fraction of a slit {past:g} mm past the tips", direct / slit, "", note)
        )
    return checks


def _outlines() -> list[Check]:
    """Outlines that no closed form knows: FiPy's point sources against discs by finite elements.

    Tips of 0.25 mm, as an equipotential disc and a point source with even field part by (a/s)^2: 1.2 %
    for the default face, which the axisymmetric field around each tip makes up for.
    """
    from nugget.outline import Outline, Slot, planar_factor

    tip, mm = 0.25, 1e-3

    def strip(end: float, *slots: Slot) -> float:
        return planar_factor(Outline("across", SPACING * mm, WIDTH * mm, end * mm, slots=slots), tip * mm)

    cases = {
        "tips 3 mm from the end": (strip(3.0), planar.strip_across(SPACING, WIDTH, 3.0)),
        "slit 10 mm past the tips": (
            strip(END_MM, Slot(0.0, (END_MM + 10.0) * mm, SLIT_MM * mm)),
            planar.slit_strip(SPACING, WIDTH, SLIT_MM, 10.0, END_MM),
        ),
        "slit 25 mm past the tips": (
            strip(END_MM, Slot(0.0, (END_MM + 25.0) * mm, SLIT_MM * mm)),
            _slit(25.0),
        ),
    }
    checks = []
    for name, (factor, sheet) in cases.items():
        solved = 2.0 * math.pi * planar.converged(sheet, tip, H_MM)[0]
        note = f"{factor:.4f} and {solved:.4f}"
        checks.append(at_most(f"outline, {name}", abs(factor / solved - 1.0), OUTLINE_LIMIT, "", note))
    return checks


def _convergence(solved: dict[str, tuple[float, list[float]]]) -> str:
    head = (
        "planar solve, squares to the mid-plane",
        *(f"{k * H_MM:g} mm" for k in (4, 2, 1)),
        "extrapolated",
    )
    body = [(name, *(f"{v:.5f}" for v in values), f"{value:.5f}") for name, (value, values) in solved.items()]
    return (
        "Convergence of the planar solve with the spacing of its mesh:\n\n" + markdown(head, body) + "\n\n"
        "The setup's shunt fraction divides the model's own planar factor, so the fraction of a slit is that "
        "factor over the solved resistance. The default states 0.05."
    )


PIECE = Piece(
    name="planes",
    title="Series load of thin layers against a planar solve",
    what="Finite elements on half of the real outline (strip 8 mm wide, can base of 9.1 mm radius, tips of "
    "0.75 mm radius 5 mm apart), tip disc against the mid-plane, each sheet on its own; both in parallel "
    "are the load of thin layers. Against it stand the model's closed planar factors, and the cold load of "
    "the whole model with its grid, grounds, layers and shunt fraction, the contacts as wide as the face "
    "(so that hardly any constriction is left), a tip and films without resistance and the "
    "layers thinned: what a thick layer adds is the way through its thickness, which a planar solve does not "
    "hold. Judged at the thinnest.",
    run=run,
)
