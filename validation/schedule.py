"""Published sheet schedules as setups of this model."""

from __future__ import annotations

import math
import statistics
from dataclasses import dataclass

from nugget.setup import Setup, preset
from validation.readers import rows

INCH_MM = 25.4
ROW_TOLERANCE = 0.25
"""Error of the diameter allowed for any row: published schedules differ by about as much at like settings."""
MATERIALS = {"low-carbon steel SAE 1010": "low-carbon-steel", "stainless 18-8": "stainless-304"}


@dataclass(frozen=True)
class ContactSet:
    """One set for both interfaces and all rows.

    Attributes
    ----------
    law : {"asperity", "metallic"}
        Many spots over the whole face, or one spot that grows until it carries the force.
    film_ohm_m2 : float
        The one number that is fitted.
    """

    law: str
    film_ohm_m2: float

    @property
    def name(self) -> str:
        kind = "many spots" if self.law == "asperity" else "one spot"
        return f"{kind}, film {self.film_ohm_m2:.3g} ohm m2"


@dataclass(frozen=True)
class Row:
    """One row of the table, units as printed."""

    material: str
    use: str
    thickness_in: float
    face_in: float
    force_lbf: float
    cycles: int
    amps: float
    fused_in: float
    source: str

    @property
    def name(self) -> str:
        short = "steel" if self.material.startswith("low") else "18-8"
        return f"{short} {self.thickness_in:g} in"

    @property
    def thickness_mm(self) -> float:
        return self.thickness_in * INCH_MM

    @property
    def fused_m(self) -> float:
        return self.fused_in * INCH_MM * 1e-3


def schedule() -> list[Row]:
    """Every row of ``data/schedules.csv``."""
    return [
        Row(
            r["material"],
            r["use"],
            float(r["thickness_in"]),
            float(r["face_diameter_in"]),
            float(r["force_lbf"]),
            int(r["weld_time_cycles_60Hz"]),
            float(r["current_A_rms"]),
            float(r["fused_zone_diameter_in"]),
            r["source"],
        )
        for r in rows("schedules")
    ]


def setup_of(row: Row, contact: ContactSet, refinement: float = 1.0) -> Setup:
    """Two sheets between flat class 2 tips under 60 Hz sine current of the stated rms value.

    Sheet width, tip and shank sizes are assumptions: wide sheets (three faces, at least 15 mm),
    a tip as long as its face is wide, a shank of twice the face.
    """
    face = row.face_in * INCH_MM
    law = {"law": contact.law, "film": f"{contact.film_ohm_m2:.6e} ohm m2"}
    if contact.law == "asperity":
        law["contact_spot_density"] = f"{SPOTS_PER_M2:.6e} 1/m2"
    width = max(15.0, 3.0 * face)
    return preset("sheets").with_(
        {
            "title": row.name,
            "cell.wall_material": MATERIALS[row.material],
            "cell.wall": f"{row.thickness_in} in",
            "cell.radius": f"{0.5 * width} mm",
            "strip.material": MATERIALS[row.material],
            "strip.thickness": f"{row.thickness_in} in",
            "strip.width": f"{width} mm",
            "electrode.face_diameter": f"{row.face_in} in",
            "electrode.tip_length": f"{face} mm",
            "electrode.shank_diameter": f"{2.0 * face} mm",
            "electrode.force": f"{row.force_lbf} lbf",
            "source.current_rms": f"{row.amps} A",
            "pulse": [{"half_cycles": 2 * row.cycles}],
            "contact.tip": law,
            "contact.faying": law,
            "hold_time": "20 ms",
            "numerics.refinement": refinement,
        },
    )


SPOTS_PER_M2 = 4e8
"""Many spots: those of a 1 um rough surface, 50 um apart; hardly matters beside a film."""
MANY_SPOTS = ContactSet("asperity", 1e-12)
"""Before any fit, what flat faces are given (theory: contact): a tunnel film on clean metal."""
ONE_SPOT = ContactSet("metallic", 1e-12)
"""Before any fit, the law of the battery welds: flat faces are never quite parallel or flat, and
touch first in one place."""
MANY_SPOTS_FITTED = ContactSet("asperity", 8.5e-11)
"""A film for many spots at which most sheets melt within their printed time."""


@dataclass(frozen=True)
class Trial:
    """One set that was tried, with the error of each row marked fit (relative, not a number: stopped)."""

    contact: ContactSet
    errors: dict[str, float]

    @property
    def median(self) -> float:
        """Median of the absolute errors; infinite when a march stopped."""
        return statistics.median(abs(e) if math.isfinite(e) else math.inf for e in self.errors.values())

    @property
    def rms(self) -> float:
        """Root mean square of the errors; not a number when a march stopped."""
        return math.sqrt(statistics.mean(e * e for e in self.errors.values()))

    @property
    def keeps_rows(self) -> bool:
        """Whether every row lies within `ROW_TOLERANCE`."""
        return all(abs(e) <= ROW_TOLERANCE for e in self.errors.values())


def tried() -> list[Trial]:
    """Every set of ``data/contact_fit.csv``."""
    names = [row.name for row in schedule() if row.use == "fit"]
    return [
        Trial(
            ContactSet(r["law"], float(r["film_ohm_m2"])),
            {name: float(r[name]) for name in names},
        )
        for r in rows("contact_fit")
    ]


def fitted() -> ContactSet:
    """Smallest median among the sets that keep every row within `ROW_TOLERANCE`; of equals the least rms."""
    return min((t for t in tried() if t.keeps_rows), key=lambda t: (t.median, t.rms)).contact


def fitted_by_rms() -> ContactSet:
    """The set with the smallest root mean square error, for comparison."""
    return min((t for t in tried() if math.isfinite(t.rms)), key=lambda t: t.rms).contact
