"""Layered products, such as plated strip: named materials, top to bottom, with a thickness rule."""

from __future__ import annotations

import math
from dataclasses import dataclass

from nugget.errors import InputError
from nugget.materials.material import Citation


@dataclass(frozen=True)
class LayerRule:
    """One layer: a fixed thickness [m], or a share of what the fixed layers leave."""

    material: str
    thickness_m: float | None
    share: float | None


@dataclass(frozen=True)
class Layered:
    """A layered product.

    Attributes
    ----------
    name, title : str
    layers : tuple of LayerRule
        Top to bottom.
    citation : Citation
        Where the layer thicknesses come from.
    origin : str
        Which door it came through, as for a material.
    """

    name: str
    title: str
    layers: tuple[LayerRule, ...]
    citation: Citation
    origin: str

    def split(self, thickness_m: float) -> tuple[tuple[str, float], ...]:
        """Return material and thickness [m] of each layer, top to bottom, for a total [m]."""
        fixed = math.fsum(rule.thickness_m or 0.0 for rule in self.layers)
        rest = thickness_m - fixed
        if rest <= 0.0:
            raise InputError(
                self.name, f"{thickness_m * 1e3:g} mm", f"more than its {fixed * 1e6:g} um of plating"
            )
        return tuple(
            (rule.material, rule.thickness_m if rule.thickness_m is not None else rest * (rule.share or 0.0))
            for rule in self.layers
        )
