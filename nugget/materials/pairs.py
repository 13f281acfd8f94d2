"""What becomes of two metals that melt against each other: joint, braze, brittle layer, or unknown."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

import numpy as np

from nugget.materials.curve import Confidence
from nugget.materials.material import Material
from nugget.materials.measures import to_si

Kind = Literal["soluble", "braze", "brittle", "unknown"]


@dataclass(frozen=True)
class Pair:
    """Two metals at a faying surface.

    Attributes
    ----------
    kind : {"soluble", "braze", "brittle", "unknown"}
        Soluble: the melts mix and freeze into sound metal. Braze: the melt of one wets the other.
        Brittle: compounds grow that break, so it is no joint. Unknown: no record of the pair.
    joint_temperature_K : float
        Temperature [K] that the interface must reach for melt to join the two, with melt on one
        side at least: the lowest at which the pair melts together. For an unknown pair the higher
        of both melting points, as both sides must melt; infinite when one of them never melts.
    source, confidence : str
        As for every property.
    families : tuple of str
        The families of metals that decided; ``"unknown"`` for a metal without a known one.
    note : str
        What to be aware of.
    """

    kind: Kind
    joint_temperature_K: float
    source: str
    confidence: Confidence
    families: tuple[str, str]
    note: str = ""


def family(material: Material) -> str:
    """Return the family of metals that `material` belongs to by its composition, or ``"unknown"``."""
    for record in _records()["family"]:
        if all(100.0 * material.composition.get(e, 0.0) >= least for e, least in record["at_least"].items()):
            return str(record["name"])
    return "unknown"


def pair(one: Material, other: Material) -> Pair:
    """Return what `one` and `other` make of each other where they melt; their order does not matter."""
    families = (family(one), family(other))
    melting = [m.melting_K or np.inf for m in (one, other)]
    for record in _records()["pair"]:
        if sorted(record["families"]) == sorted(families):
            lowest = min(melting)
            if "temperature" in record:
                lowest = min(lowest, float(to_si(1.0, record["temperature"], "temperature", "pairs.toml")))
            return Pair(
                record["kind"],
                lowest,
                record["source"],
                record["confidence"],
                families,
                record.get("note", ""),
            )
    return Pair(
        "unknown",
        max(melting),
        f"no record of {one.name} against {other.name}: both sides must melt",
        "unknown",
        families,
    )


@lru_cache(maxsize=1)
def _records() -> dict[str, Any]:
    return tomllib.loads((files("nugget.materials") / "pairs.toml").read_text("utf-8"))
