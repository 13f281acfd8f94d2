"""From the strip's dimensions in a setup file to what its outline lets past a slot."""

from __future__ import annotations

import math

from nugget.errors import InputError
from nugget.outline import Outline, Slot, planar, planar_factor
from nugget.setup.schema import SetupFile


def shunt_fraction(file: SetupFile) -> float:
    """Share of the plain strip's conductance that its outline leaves between the tips.

    Solved where slots or an end are stated; 1 for a plain strip, 0 for two strips.

    Raises
    ------
    InputError
        With a key of the setup file, when tips or slots do not lie on the strip.
    """
    strip, arrangement = file.strip, file.arrangement
    if strip.two_strips:
        return 0.0
    if strip.shunt_fraction is not None:
        return strip.shunt_fraction
    outline = outline_of(file)
    if outline is None or outline.is_plain:
        return 1.0
    face, spacing, width = (
        0.5 * file.electrode.face_diameter.si,
        arrangement.spacing.si,
        strip.width.si,
    )
    plain = planar.strip_along if outline.tips == "along" else planar.strip_across
    # Less metal never conducts better (Rayleigh), so what exceeds one is the solution's error.
    return min(1.0, plain(spacing, face, width) / planar_factor(outline, face))


def outline_of(file: SetupFile) -> Outline | None:
    """Outline of the strip under both tips; None where only one of them stands on it.

    Raises
    ------
    InputError
    """
    strip, kind = file.strip, file.arrangement.kind
    if not kind.startswith("series"):
        return None
    across = kind == "series across"
    slots = strip.slots or ()
    if slots and across and strip.end_distance is None:
        raise InputError("strip.end_distance", "nothing", "the distance of the tips from the strip's end")
    return Outline(
        "across" if across else "along",
        file.arrangement.spacing.si,
        strip.width.si,
        strip.end_distance.si if strip.end_distance is not None else math.inf,
        strip.length.si if strip.length is not None else math.inf,
        tuple(Slot(slot.start.si, slot.length.si, slot.width.si) for slot in slots),
    )
