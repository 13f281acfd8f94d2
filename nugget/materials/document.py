"""The shape of a material file (our own TOML, version 1): which keys there are and what they hold.

Only the shape is checked here; what the numbers must satisfy is in `nugget.materials.material_file`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from nugget.errors import steers

API = 1
"""Version of the file format that this nugget reads."""

Name = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9._-]*$")]


def _legible(text: str) -> str:
    """Refuse what could steer a terminal wherever a material is shown; lines of a note may end."""
    if any(steers(c) for c in text if c not in "\n\t"):
        raise ValueError("text without control characters")
    return text


Text = Annotated[str, Field(min_length=1, max_length=2000), AfterValidator(_legible)]
Line = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\n\t]*$"), AfterValidator(_legible)]

Mark = Literal["library", "found", "memory", "estimated", "unknown"]
Row = Annotated[list[float], Field(min_length=2, max_length=2)]


class Part(BaseModel):
    """What every table of the file allows: the keys named here and no others."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)


class Sourced(Part):
    """A number or table with its source."""

    source: Text
    confidence: Mark
    note: Annotated[str, Field(max_length=5000), AfterValidator(_legible)] = ""


class Table(Sourced):
    """Rows of ``[temperature, value]`` from one source, in that source's own units."""

    temperature: Text
    unit: Text
    rows: Annotated[list[Row], Field(min_length=1)]


class Scalar(Sourced):
    """One number."""

    value: float
    unit: Text


class MeltingRange(Sourced):
    """Solidus and liquidus."""

    solidus: float
    liquidus: float
    unit: Text


class StressTable(Table):
    """Flow stress measured at one rate of strain, such as ``"100 1/s"``, and at `strain`."""

    rate: Text
    strain: float


class Creep(Sourced):
    """Constants of power-law creep with breakdown; see `nugget.materials.strength.CreepLaw`."""

    factor: float
    exponent: float
    diffusivity: Text
    activation_energy: Text
    modulus: Text
    modulus_fall: float
    melting: Text
    burgers: Text
    breakdown: float


class HotWorking(Sourced):
    """Constants of a hyperbolic-sine law; see `nugget.materials.strength.SinhLaw`."""

    factor: Text
    exponent: float
    activation_energy: Text
    inverse_stress: Text


class RateExponent(Sourced):
    """Exponent of the rate in the cold hardness, and the rate at which the hardness table holds."""

    value: float
    table_rate: Text = "1e-3 1/s"


class TemperFile(Scalar):
    """Hardness of the material in one temper; `tensile` such as ``"620 MPa"``."""

    name: Name
    tensile: Text | None = None


class Composition(Sourced):
    """Mass percent by element."""

    mass_percent: dict[str, float]


class MaterialFile(Part):
    """One material. A table may come in several parts, one for each source, in order of temperature."""

    api: Literal[1]
    kind: Literal["material"] = "material"
    name: Name
    title: Line
    family: Literal["metal", "polymer", "gas", "composite", "liquid"]
    note: Annotated[str, Field(max_length=5000), AfterValidator(_legible)] = ""
    density: Annotated[list[Table], Field(min_length=1)]
    heat_capacity: Annotated[list[Table], Field(min_length=1)]
    conductivity: list[Table] = []
    conductivity_r: list[Table] = []
    conductivity_z: list[Table] = []
    resistivity: list[Table] = []
    hardness: list[Table] = []
    rate_exponent: RateExponent | None = None
    flow_stress: list[StressTable] = []
    flow_exponent: list[Table] = []
    creep: Creep | None = None
    hot_working: HotWorking | None = None
    temper: Name | None = None
    tempers: list[TemperFile] = []
    seebeck: list[Table] = []
    composition: Composition | None = None
    melting_range: MeltingRange | None = None
    heat_of_fusion: Scalar | None = None
    boiling: Scalar | None = None
    tensile_strength: Scalar | None = None


class LayerFile(Part):
    """One layer: a fixed `thickness` such as ``"2 um"``, or a `share` of what the fixed ones leave."""

    material: Name
    thickness: Text | None = None
    share: float | None = None


class LayeredFile(Sourced):
    """A layered product, top to bottom."""

    api: Literal[1]
    kind: Literal["layered"]
    name: Name
    title: Line
    layer: Annotated[list[LayerFile], Field(min_length=1)]
