"""Planar current factors of the layers that carry current between two tips (manual, theory-planar).

The axisymmetric model grounds each layer at a radius ``r_g``. Real layers are narrow, so the
half resistance to the mid-plane is ``rho / (2 pi t) L`` with the planar factor `L` below (point
sources between parallel edges or in a disc, by images and conformal mapping); what the model does
not hold, ``L - ln(r_g / a)``, is lumped behind the ground.
"""

from __future__ import annotations

import math


def strip_along(spacing_m: float, face_m: float, width_m: float) -> float:
    """Planar factor of a strip whose tips lie along it: ln[sinh(pi s/w) / sinh(pi a/w)]."""
    return math.log(math.sinh(math.pi * spacing_m / width_m) / math.sinh(math.pi * face_m / width_m))


def strip_across(spacing_m: float, face_m: float, width_m: float) -> float:
    """Planar factor of a strip whose tips lie across it: ln[tan(pi s/2w) / sin(pi a/2w)]."""
    half = 0.5 * math.pi / width_m
    return math.log(math.tan(half * spacing_m) / math.sin(half * face_m))


def disc(spacing_m: float, face_m: float, radius_m: float) -> float:
    """Planar factor of a disc (can base, cap): ln(s/a) + ln[(R^2 + s^2/4) / (R^2 - s^2/4)]."""
    square, quarter = radius_m**2, 0.25 * spacing_m**2
    return math.log(spacing_m / face_m) + math.log((square + quarter) / (square - quarter))


def ground_radius(spacing_m: float, layer_radius_m: float) -> float:
    """Radius [m] at which a layer is grounded: min(s, 0.9 x its radius)."""
    return min(spacing_m, 0.9 * layer_radius_m)


def remainder(factor: float, ground_m: float, face_m: float, shunt_fraction: float = 1.0) -> float:
    """Planar factor left behind the ground; a slot adds ``L (1 / x - 1)``, x the shunt fraction.

    Infinite when `shunt_fraction` is 0: the layer then carries nothing to the twin.
    """
    if shunt_fraction <= 0.0:
        return math.inf
    return max(factor - math.log(ground_m / face_m), 0.0) + factor * (1.0 / shunt_fraction - 1.0)
