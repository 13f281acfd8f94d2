"""Tempers of strip: how hard cold rolling has left it, from annealed to spring."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from nugget.constants import ROOM_K
from nugget.materials.curve import Citation, Curve, Stretch
from nugget.materials.strength import COLD_END

if TYPE_CHECKING:
    from nugget.materials.material import Material

LOST = 0.6
"""Share of the melting point from which slow-loaded metal has lost its temper (assumption: cold-worked
metal recrystallises between 0.4 and 0.6 of it)."""


@dataclass(frozen=True)
class Temper:
    """One temper.

    Attributes
    ----------
    name : str
    hardness_Pa : float
        Indentation hardness at room temperature.
    tensile_strength_Pa : float or None
        None: in proportion to the hardness.
    citation : Citation
    """

    name: str
    hardness_Pa: float
    tensile_strength_Pa: float | None
    citation: Citation


def tempered(material: Material, temper: Temper) -> dict[str, Any]:
    """Return the fields of `material` that `temper` changes.

    The factor on hardness at room temperature holds up to 0.4 of the melting point and fades to 1 at
    0.6. Within milliseconds cold work does not anneal; what hot metal carries is a law of its own.
    """
    slow = material.hardness
    assert slow is not None
    if temper.name == material.temper:
        return {}
    factor = temper.hardness_Pa / float(slow(ROOM_K))
    melting = material.melting_K or np.inf
    bends = [T for T in np.linspace(COLD_END, LOST, 5) * melting if np.isfinite(T)]
    T = np.unique([*slow.temperature_K, *bends])
    kept = np.clip((LOST - T / melting) / (LOST - COLD_END), 0.0, 1.0)
    hardness = Curve(
        T,
        slow(T) * factor**kept,
        temper.citation,
        (Stretch(float(T[0]), LOST * melting, temper.citation), *_above(slow, LOST * melting)),
    )
    tensile = material.tensile_strength_Pa
    return {
        "hardness": hardness,
        "temper": temper.name,
        "tensile_strength_Pa": temper.tensile_strength_Pa or (tensile and tensile * factor),
        "scalar_citations": material.scalar_citations | {"tensile_strength": temper.citation},
    }


def _above(curve: Curve, temperature_K: float) -> tuple[Stretch, ...]:
    """The stretches of `curve` that reach above `temperature_K`."""
    return tuple(
        replace(stretch, first_K=max(stretch.first_K, temperature_K))
        for stretch in curve.stretches
        if stretch.last_K > temperature_K
    )
