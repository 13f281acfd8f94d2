"""The outline of a strip with both tips on it, in SI units.

The equations: manual, theory-planar.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nugget.errors import InputError


@dataclass(frozen=True)
class Slot:
    """A rectangular cut on the line half way between the tips, at right angles to their line.

    Attributes
    ----------
    start_m : float
        From the edge that the slot runs away from (`Outline` says which) to where it begins [m];
        0: it is open there.
    length_m, width_m : float
        Along and across the slot [m].
    """

    start_m: float
    length_m: float
    width_m: float


@dataclass(frozen=True)
class Outline:
    """A rectangular strip with slots under two tips.

    Attributes
    ----------
    tips : {"across", "along"}
        Whether the line through both tips lies across the strip or along it.
    spacing_m, width_m : float
        Tip centre to tip centre; across the strip [m].
    end_m : float
        From the nearest tip to the strip's end [m]; infinite: the end is far away.
    length_m : float
        Of the whole strip, from that end [m]; infinite: the other end is far away.
    slots : tuple of Slot
        Tips across: measured from the strip's end; so that one slot from it is a slit, and two that
        leave a bridge between them give the strip the shape of an H. Tips along: measured from one
        side of the strip.

    Raises
    ------
    InputError
        If a tip, or a slot, does not lie on the strip.
    """

    tips: Literal["across", "along"]
    spacing_m: float
    width_m: float
    end_m: float = math.inf
    length_m: float = math.inf
    slots: tuple[Slot, ...] = ()

    def __post_init__(self) -> None:
        if self.tips == "across" and not self.spacing_m < self.width_m:
            raise InputError("arrangement.spacing", _mm(self.spacing_m), "less than the strip's width")
        used = self.end_m + (self.spacing_m if self.tips == "along" else 0.0)
        if math.isfinite(self.length_m) and not (math.isfinite(self.end_m) and used < self.length_m):
            raise InputError(
                "strip.length", _mm(self.length_m), "both tips on the strip, with strip.end_distance"
            )
        for index, slot in enumerate(self.slots):
            self._check(slot, f"strip.slots.{index}")

    def _check(self, slot: Slot, where: str) -> None:
        if not 0.0 < slot.width_m < self.spacing_m:
            raise InputError(f"{where}.width", _mm(slot.width_m), "more than 0, less than the spacing")
        if self.tips == "across" and not math.isfinite(self.end_m):
            raise InputError(where, "a slot", "strip.end_distance too, which the slot is measured from")
        reach = self.width_m if self.tips == "along" else self.length_m
        if slot.start_m < 0.0 or slot.length_m <= 0.0 or slot.start_m + slot.length_m > reach * (1 + 1e-9):
            raise InputError(where, f"{_mm(slot.length_m)} from {_mm(slot.start_m)}", "a slot on the strip")

    @property
    def is_plain(self) -> bool:
        """Whether closed forms hold: no slot, both ends far away."""
        return not self.slots and math.isinf(self.end_m)

    @property
    def ends(self) -> bool:
        """Whether the strip's other end is stated."""
        return math.isfinite(self.length_m)

    @property
    def parts(self) -> bool:
        """Whether the slots cut the strip in two between the tips."""
        reach = self.width_m if self.tips == "along" else self.length_m
        covered = 0.0
        for slot in sorted(self.slots, key=lambda s: s.start_m):
            if slot.start_m > covered + 1e-12:
                return False
            covered = max(covered, slot.start_m + slot.length_m)
        return covered >= reach * (1.0 - 1e-9)


def _mm(length_m: float) -> str:
    return f"{1e3 * length_m:.4g} mm"
