"""What every record of a weld carries: cautions, and the sources of its data."""

from __future__ import annotations

from nugget.setup import Setup, fact_sources
from nugget.setup.description import Description

CAUTIONS = (
    "A predicted weld is not a safe weld: try on a coupon, then an empty can, then a fully"
    " discharged, undamaged scrap cell.",
    "Live lithium cells can vent, burn or explode when pierced or overheated; weld outdoors or under"
    " extraction, with eye and hand protection, away from anything that burns, dry sand within reach.",
    "Hundreds of amperes and molten metal: insulate the leads, remove rings and watches, never work alone.",
    "Local codes, the cell maker's data sheet and qualified personnel come before this tool.",
)


def data_sources(setup: Description) -> list[dict[str, str]]:
    """Citations of the data that a run with `setup` uses: properties, limits, facts of cell and contact."""
    materials = {(m.name, m.temper): m for m in setup.materials()}.values()
    names = [material.name for material in materials]
    found: list[dict[str, str]] = []
    for material in materials:
        twice = f", {material.temper or 'as supplied'}" if names.count(material.name) > 1 else ""
        for name, citation in material.citations().items():
            found.append(
                {
                    "item": f"{material.name}{twice}: {name}",
                    "source": citation.work,
                    "confidence": citation.confidence,
                    "note": citation.note,
                }
            )
    for limit in setup.limits:
        cited = {"source": limit.source, "confidence": limit.confidence, "note": limit.severity}
        found.append({"item": f"limit: {limit.id}", **cited})
    if setup.kinetics is not None:
        found.append(_stated("kinetics", setup.kinetics.source))
    if isinstance(setup, Setup):  # only what came from a file knows which of its numbers are built in
        found += [_stated(path, source) for path, source in fact_sources(setup).items()]
    return found


def _stated(item: str, source: str) -> dict[str, str]:
    """A citation whose own words say how far it is to be trusted."""
    words = {
        "from memory": "memory",
        "assumption": "assumption",
        "no source": "unknown",
        "no published": "unknown",
    }
    confidence = next((mark for said, mark in words.items() if said in source), "found")
    return {"item": item, "source": source, "confidence": confidence, "note": ""}
