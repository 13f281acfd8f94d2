"""The strip as a flat sheet of its real outline: what lies between two tips, solved once per setup."""

from nugget.outline.shape import Outline, Slot
from nugget.outline.solve import planar_factor

__all__ = ["Outline", "Slot", "planar_factor"]
