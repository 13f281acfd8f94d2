"""Case 2, electric part: constriction of a disc contact, and a sheet with two discs."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nugget.contact.edge_correction import resolved_radius
from nugget.contact.spot import coverage
from nugget.field.electric import ElectricalContact, ElectricField, ElectricSolution
from nugget.grid import stack
from nugget.grid.stack import Grid, Ground
from nugget.outline import planar
from validation import rig
from validation.bench import bench
from validation.case import Case, Check, Drawing, Outcome, informative, relative, scaled
from validation.peers.tube import psi

RHO = 7.2e-8
A = 1e-4

# Guards against a slip in the formula: equipotential disc in a tube, by eps = a/b.
PSI_GUARD = {0.05: 0.92957967, 0.1: 0.8594136, 0.2: 0.7208756, 0.3: 0.58650941, 0.5: 0.33960939}


def tube(eps: float, cells_per_a: int, growth: float, long: float = 2.0) -> tuple[Grid, ElectricSolution]:
    """Two tubes of radius a / eps that touch on a disc of radius a: the model's own interface."""
    b = A / eps
    fine = A / cells_per_a
    r = rig.graded([0.0, A, b], lambda x: fine + growth * np.abs(x - A))
    up = rig.graded([0.0, long * b], lambda z: fine + growth * np.abs(z))
    metal = rig.matter(rho=RHO)
    grid = rig.layered(
        r,
        [("can", metal, -up[::-1], b), ("strip", metal, up, b)],
        [rig.contact(len(up) - 2, len(r) - 1, A)],
        bottom="holder",
    )
    electrical_contact = ElectricalContact(coverage(A, r), np.full(grid.shape[1], 1e-18))
    return grid, ElectricField(grid).solve(np.full(grid.shape, 1.0 / RHO), [electrical_contact])


def standard_grid(share: float) -> float:
    """Relative error of the resistance on the spacing that the model uses around a first contact."""
    fine = A / 8.0
    a, b = A + share * fine, 10.0 * A
    flat = fine * np.arange(13)
    r = np.concatenate([flat, rig.graded([flat[-1], b], lambda x: fine + 0.1 * (x - flat[-1]))[1:]])
    up = rig.graded([0.0, b], lambda z: fine + 0.1 * z)
    metal = rig.matter(rho=RHO)
    layers = [("can", metal, -up[::-1], b), ("strip", metal, up, b)]
    grid = rig.layered(r, layers, [rig.contact(len(up) - 2, len(r) - 1, a)], bottom="holder")
    electrical_contact = ElectricalContact(
        coverage(resolved_radius(a, r, float(up[1])), r), np.full(grid.shape[1], 1e-18)
    )
    solution = ElectricField(grid).solve(np.full(grid.shape, 1.0 / RHO), [electrical_contact])
    exact = 2.0 * (RHO / (math.pi * b) + psi(a / b) * RHO / (4.0 * a))
    return solution.resistance_ohm / exact - 1.0


def run_constriction() -> Outcome:
    checks: list[Check] = []
    for eps, guard in PSI_GUARD.items():
        checks.append(relative(f"formula psi({eps:g}) against its guard", psi(eps), guard, 1e-4))
    for eps in (0.1, 0.3, 0.5):
        _, solution = tube(eps, 96, 0.06)
        exact = 2.0 * (RHO * 2.0 / (math.pi * A / eps) + psi(eps) * RHO / (4.0 * A))
        checks.append(
            relative(f"resistance of two tubes, a/b = {eps:g}", solution.resistance_ohm, exact, 0.01, "ohm")
        )
    grid, solution = tube(0.0025, 96, 0.06, 1.0)
    half_space = solution.resistance_ohm - 2.0 * RHO / (math.pi * A / 0.0025)
    checks.append(relative("half spaces, R = rho / (2 a)", half_space, RHO / (2.0 * A), 0.01, "ohm"))
    checks += _field_checks(grid, solution)
    rows, sizes = [], (8, 16, 32, 64)
    exact = 2.0 * (RHO * 2.0 / (math.pi * A / 0.3) + psi(0.3) * RHO / (4.0 * A))
    for n in sizes:
        error = tube(0.3, n, 0.06)[1].resistance_ohm / exact - 1.0
        rows.append((n, error))
        checks.append(
            informative(f"a/b = 0.3, {n} cells per radius", error + 1.0, 1.0, "", "no correction of the edge")
        )
    for share in (0.0, 0.25, 0.5, 0.75):
        error = standard_grid(share)
        name = f"grid of the model, 8 cells per radius, edge cell covered by {share:g}"
        checks.append(scaled(name, error, 0.0, 1.0, 0.02, "", "with the model's own correction of the edge"))
    text = (
        "The flux is singular at the edge of the contact, so the error of a plain scheme falls with the cell "
        "size, not with its square. The coupled model starts with 8 cells per radius and corrects the "
        "covered area for that; the last checks are of that grid and that correction."
    )
    return Outcome(tuple(checks), (Drawing("constriction", _CAPTION, lambda: _draw(rows)),), text)


_CAPTION = "Error of the constriction resistance against cells per contact radius (a/b = 0.3)."


def _field_checks(grid: Grid, solution: ElectricSolution) -> list[Check]:
    """Potential of a half space at chosen points and the current inside half the radius."""
    one_side = 0.5 * solution.resistance_ohm
    upper = grid.z > 0.0
    z, phi = grid.z[upper], (solution.potential[upper] - one_side) / one_side
    found = []
    for r_a, z_a, guard in (
        (0.0, 1.0, 0.5),
        (0.0, 2.0, 0.29516724),
        (2.0, 0.0, 1.0 / 3.0),
        (1.0, 1.0, 0.4241412),
    ):
        r0, z0 = r_a * A, z_a * A
        gap = r0**2 + z0**2 - A**2
        s = math.sqrt(0.5 * (gap + math.sqrt(gap**2 + 4.0 * A**2 * z0**2)))
        exact = 2.0 / math.pi * math.atan(A / s)
        found.append(relative(f"formula phi({r_a:g} a, {z_a:g} a) against its guard", exact, guard, 1e-6))
        here = np.array([np.interp(r0, grid.r, row) for row in phi])
        value = float(np.interp(z0, z, here))
        # phi is measured from the contact here (0) to far away (1); the formula counts the other way.
        found.append(scaled(f"half space, phi({r_a:g} a, {z_a:g} a) / V", 1.0 - value, exact, 1.0, 0.01))
    row = int(np.flatnonzero(upper)[0])
    below, above = solution.potential[row - 1], solution.potential[row]
    half = 0.5 * (grid.dz[row] + grid.dz[row - 1]) * RHO
    current = grid.area_z * coverage(A, grid.r_faces) * (above - below) / half
    inside = float(np.interp(0.5 * A, grid.r_faces, np.concatenate([[0.0], np.cumsum(current)])))
    found.append(scaled("half space, share of current inside a/2", inside, 1.0 - math.sqrt(0.75), 1.0, 0.01))
    return found


def _draw(rows: list[tuple[int, float]]) -> Any:
    from validation.drawing import axes, mark_counts

    figure, ax = axes("cells per contact radius", "relative error of the resistance")
    n, error = zip(*rows, strict=True)
    ax.loglog(n, error, "o-", label="found")
    ax.loglog(n, [error[0] * n[0] / k for k in n], "--", label="first order")
    mark_counts(ax, n)
    ax.legend()
    return figure


def _sheet(spacing: float, a: float, thickness: float, width_m: float) -> float:
    """Half resistance of a real series setup: its own grid and grounds, current into the disc's rim."""
    given = bench().with_(
        {
            "arrangement.spacing": f"{spacing * 1e3} mm",
            "electrode.face_diameter": f"{2e3 * a} mm",
            "strip.width": f"{width_m * 1e3} mm",
            "strip.thickness": f"{thickness * 1e3} mm",
            "strip.shunt_fraction": 1.0,
        },
    )
    grid = stack.build_grid(given)
    sigma = np.full(grid.shape, 1.0 / RHO)
    # Tip and the disc under it conduct perfectly; the can does not touch.
    sigma[grid.z > 0.0] = np.where(grid.r < a, 1e6 / RHO, 1.0 / RHO)
    nr = grid.shape[1]
    electrical_contacts = [
        ElectricalContact(np.ones(nr) if i.name == "tip" else np.zeros(nr), np.full(nr, 1e-18))
        for i in grid.interfaces
    ]
    return ElectricField(grid).solve(sigma, electrical_contacts).resistance_ohm


def run_sheet() -> Outcome:
    s, a, t = 5e-3, 0.5e-3, 0.15e-3
    exact = RHO / (math.pi * t) * math.acosh(s / (2.0 * a))
    focus = math.sqrt(s**2 / 4.0 - a**2)
    checks = [relative("formula against its guard", exact, 0.00035025776, 1e-6, "ohm")]
    # The ring that half of the sheet sees, as a ground with nothing behind it.
    ring = s / 2.0 + focus
    r = rig.graded([0.0, a, ring], lambda x: 0.02e-3 + 0.1 * np.abs(x - a))
    metal = rig.matter(rho=RHO)
    z = np.linspace(0.0, t, 4)
    grounds = [Ground(row, len(r) - 2, 0.0) for row in range(3)]
    grid = rig.layered(r, [("strip", metal, z, ring), ("tip", metal, np.array([t, 2.0 * t]), a)], [], grounds)
    sigma = np.where(grid.r[None, :] < a, 1e6 / RHO, 1.0 / RHO) * np.ones(grid.shape)
    solution = ElectricField(grid).solve(sigma, [])
    checks.append(
        relative("disc and concentric ring, both halves", 2.0 * solution.resistance_ohm, exact, 0.02, "ohm")
    )
    wide = 2.0 * _sheet(s, a, t, 0.4)
    checks.append(relative("series setup with a strip 400 mm wide", wide, exact, 0.02, "ohm"))
    disc = RHO / (math.pi * t) * planar.disc(s, a, 0.2)
    checks.append(relative("planar factor of a disc of radius 200 mm", disc, exact, 0.02, "ohm"))
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="2-constriction",
        title="Disc constriction",
        claim="The electric operator and its partly covered interface give Holm's constriction resistance "
        "and the potential around it.",
        source="R. Holm, Electric Contacts, 4th ed., Springer 1967 (half space); equipotential disc in a "
        "tube by a Galerkin solution recomputed here, which agrees with R. D. Gibson's series (1976, "
        "coefficients from memory) to 1e-5 at a/b <= 0.3.",
        tolerance="1 % of the resistance and of the applied voltage: the edge singularity limits any scheme "
        "to first order there. 2 % on the model's own grid: the whole numerical error that a weld may have "
        "(theory: numerics). Formulas against guards: 1e-4 (truncated series).",
        run=run_constriction,
    ),
    Case(
        key="2-sheet",
        title="Sheet with two discs",
        claim="Ground radius, lumped remainder and planar factor give the resistance between two discs on a "
        "sheet.",
        source="Two cylinders by images: R = rho / (pi t) arccosh(s / 2a) (bipolar coordinates, textbook "
        "result).",
        tolerance="2 %, the whole numerical error that a weld may have: the planar factors are point-source "
        "forms, 0.4 % above the exact one at s = 10 a.",
        run=run_sheet,
    ),
)
