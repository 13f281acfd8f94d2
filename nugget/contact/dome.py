"""The shape of a rounded tip: first contact under a dome, and how deep the dome sinks.

The equations: manual, theory-interfaces.

A rounded tip is a sphere of the dome radius inside its face, perhaps with a flat that wear has
ground on it, and widens beyond the face as a cone into its shank.
"""

from __future__ import annotations

import math

FACES_PER_DOME_RADIUS = 2.0
"""Dome radius over face diameter where no radius is given: the dome then rises by a sixteenth of the
face diameter up to the edge of the face (assumption)."""
PLANE_MODULUS_PA = 90e9
"""Young's modulus over 1 - nu^2 of both sides in series [Pa]: 83e9 for copper on nickel, 110e9 for
nickel on steel, 57e9 for aluminium on steel, 150e9 for tungsten on nickel (moduli of 120, 205, 205,
70 and 400 GPa, Smithells Metals Reference Book, 7th ed. 1992, from memory). A radius goes with its
cube root, so one value for all is within a fifth."""


def hertz_radius(force_N: float, dome_radius_m: float, plane_modulus_Pa: float = PLANE_MODULUS_PA) -> float:
    """Radius [m] of the elastic contact of a sphere and a plane, ``(3 F R / (4 E))^(1/3)``.

    K. L. Johnson, Contact Mechanics, Cambridge 1985, eq. 4.22.
    """
    return math.cbrt(0.75 * force_N * dome_radius_m / plane_modulus_Pa)


def plastic_radius(force_N: float, hardness_Pa: float) -> float:
    """Radius [m] at which metal of even hardness carries the force, ``sqrt(F / (pi H))``."""
    return math.sqrt(force_N / (math.pi * hardness_Pa))


def first_radius(force_N: float, hardness_Pa: float, dome_radius_m: float, worn_flat_m: float = 0.0) -> float:
    """Contact radius before the current flows [m]: the largest of elastic, plastic and worn flat.

    Flat faces (an infinite dome radius) are never quite parallel: given one spot, they touch in one
    place first and have no elastic radius of their own.

    Parameters
    ----------
    force_N : float
    hardness_Pa : float
        Softer side, cold and slow.
    dome_radius_m : float
    worn_flat_m : float
        Diameter of the flat that wear has ground on the dome.
    """
    elastic = hertz_radius(force_N, dome_radius_m) if math.isfinite(dome_radius_m) else 0.0
    return max(elastic, plastic_radius(force_N, hardness_Pa), 0.5 * worn_flat_m)


def sinking(contact_radius_m: float, dome_radius_m: float, worn_flat_m: float = 0.0) -> float:
    """Depth [m] to which a dome has sunk where it touches out to `contact_radius_m`.

    The sphere's own height, ``(a^2 - b^2) / (2 R)`` with the radius `b` of a worn flat; metal that
    piles up at the rim, which would make it less, is left out.
    """
    beyond = contact_radius_m**2 - (0.5 * worn_flat_m) ** 2
    return max(0.0, beyond) / (2.0 * dome_radius_m)


def cone(
    face_radius_m: float, shank_radius_m: float, length_m: float, pieces: int
) -> list[tuple[float, float]]:
    """Height and radius [m] of the cylinders that stand for a cone from face to shank.

    Each piece spans the heights at which its radius is nearest; the shank takes the rest of `length_m`
    and comes last.
    """
    wider = shank_radius_m - face_radius_m
    if wider <= 1e-9 or pieces < 1:
        return [(length_m, face_radius_m)]
    heights = [0.0] + [length_m * (k + 0.5) / pieces for k in range(pieces)]
    radii = [face_radius_m + wider * k / pieces for k in range(pieces)]
    found = [(b - a, r) for a, b, r in zip(heights[:-1], heights[1:], radii, strict=True)]
    return [*found, (length_m - heights[-1], shank_radius_m)]
