"""Published sheet schedules as setups of this model."""

from __future__ import annotations

from dataclasses import dataclass, replace

from nugget.setup import preset, with_overrides
from nugget.setup.description import Setup
from validation.tables import rows

INCH_MM = 25.4
MATERIALS = {"low-carbon steel SAE 1010": "low-carbon-steel", "stainless 18-8": "stainless-304"}


@dataclass(frozen=True)
class ContactSet:
    """What may be fitted: film [ohm m2], spots per area [1/m2], spread of the faying contact [m]."""

    film_ohm_m2: float
    spots_per_m2: float
    spread_m: float


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
    law = {
        "law": "asperity",
        "film": f"{contact.film_ohm_m2:.6e} ohm m2",
        "spots": f"{contact.spots_per_m2:.6e} 1/m2",
    }
    width = max(15.0, 3.0 * face)
    given = with_overrides(
        preset("sheets"),
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
            "contact.spread": f"{contact.spread_m * 1e3} mm",
            "hold_time": "20 ms",
        },
    )
    return replace(given, numerics=replace(given.numerics, refinement=refinement))


FROM_PHYSICS = ContactSet(film_ohm_m2=1e-12, spots_per_m2=4e8, spread_m=0.0)
"""Before any fit: a tunnel film on clean metal, spots of a 1 um rough surface, no spread."""


def fitted() -> ContactSet:
    """The set that `validation.fit_schedules` chose: film fitted, the rest from physics."""
    tried = rows("contact_fit")
    best = min(tried, key=lambda row: float(row["median_error"]))
    return ContactSet(float(best["film_ohm_m2"]), FROM_PHYSICS.spots_per_m2, FROM_PHYSICS.spread_m)
