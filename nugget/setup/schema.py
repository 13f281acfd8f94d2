"""The sections of a setup file, each with its keys, dimensions and ranges."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import AfterValidator, BeforeValidator, Field
from pydantic_core import PydanticKnownError

from nugget.setup.layer_kinds import interior_names
from nugget.setup.limits import Fixed, LimitSection, judged
from nugget.setup.quantity import (
    Activation,
    Area,
    Conductance,
    ContactResistance,
    Difference,
    Force,
    Gap,
    Inductance,
    LeadLength,
    LongSpan,
    Offset,
    Rate,
    Reach,
    Resistance,
    RoomWarmth,
    Span,
    SpanOrZero,
    Spots,
    Thickness,
    Warmth,
    Width,
)
from nugget.setup.sources import Count, Options, Section, SourceSection, legible
from nugget.setup.switch_schema import SwitchSection

Fraction = Annotated[float, Field(ge=0, le=1, strict=True)]
Share = Annotated[float, Field(gt=0, le=1, strict=True)]
Factor = Annotated[float, Field(gt=0, le=1000, strict=True)]
Name = Annotated[str, Field(min_length=1, max_length=2000, strict=True), AfterValidator(legible)]
Title = Annotated[Name, Field(max_length=200)]
Size = Annotated[str, BeforeValidator(lambda given: str(given) if isinstance(given, int) else given)]


def _known_role(role: str) -> str:
    if role not in interior_names():
        raise PydanticKnownError("literal_error", {"expected": " or ".join(interior_names())})
    return role


class InteriorLayer(Section):
    """One layer below the wall; an annular part has an `inner_radius`, and `hole` fills it."""

    role: Annotated[str, AfterValidator(_known_role)]
    material: Name
    thickness: Thickness
    radius: Width
    inner_radius: Width | None = None
    hole: Name = "air"
    conductance_below: Conductance | None = None


class Cell(Section):
    """What the strip is welded to; `size` and `end` are absent for a coupon."""

    kind: Literal["cell", "empty can", "coupon"]
    size: Size | None = None
    end: Literal["negative", "positive"] | None = None
    wall_material: Name
    wall: Thickness
    radius: Width
    conductance_below: Conductance | None = None
    interior: tuple[InteriorLayer, ...]


class StripLayer(Section):
    material: Name
    thickness: Thickness
    temper: Name | None = None


class StripSlot(Section):
    """A cut between the tips; where it starts is told by `nugget.outline.Outline`."""

    start: Reach
    length: Width
    width: Thickness


class Strip(Section):
    """One material, its temper and thickness, or `layers`; its outline, or what its slot lets past."""

    material: Name | None = None
    temper: Name | None = None
    thickness: Thickness | None = None
    layers: Annotated[tuple[StripLayer, ...], Field(min_length=1)] | None = None
    width: Width
    end_distance: Width | None = None
    length: Width | None = None
    slots: tuple[StripSlot, ...] | None = None
    two_strips: bool | None = None
    shunt_fraction: Fraction | None = None


class ElectrodeSection(Section):
    material: Name
    tip_shape: Literal["rounded", "flat"]
    face_diameter: Thickness
    tip_length: Thickness
    shank_diameter: Thickness
    shank_length: Width
    force: Force
    holder_temperature: RoomWarmth
    dome_radius: Width | None = None
    worn_flat: Thickness | None = None


class Arrangement(Section):
    kind: Literal["series along", "series across", "indirect", "opposed"]
    spacing: Width
    return_resistance: Resistance
    polarity: Literal["mean", "positive", "negative"] = "mean"


class TableRow(Section):
    temperature: Warmth
    resistance: ContactResistance


class Interface(Section):
    """One contact; each law has keys of its own."""

    law: Name
    options: Options | None = None
    film: ContactResistance | None = None
    film_heat_conductance: Conductance | None = None
    contact_spot_density: Spots | None = None
    table: Annotated[tuple[TableRow, ...], Field(min_length=1)] | None = None


class ContactSection(Section):
    gas: Name
    stand_off: Gap
    faying_radius_allowance: Offset
    radius_factor: Factor
    hardness_factor: Factor
    melt_strength_factor: Factor
    tip: Interface
    faying: Interface


class Leads(Section):
    """Length and cross-section of copper, or the resistance itself."""

    length: LeadLength | None = None
    cross_section: Area | None = None
    resistance: Resistance | None = None
    inductance: Inductance


class PulseSection(Section):
    """Duration, or whole half cycles of a transformer or a sine current."""

    duration: Span | None = None
    half_cycles: Count | None = None
    output_fraction: Share = 1.0
    upslope: SpanOrZero = Field(default="0 ms", validate_default=True)
    downslope: SpanOrZero = Field(default="0 ms", validate_default=True)
    cool_time: SpanOrZero = Field(default="0 ms", validate_default=True)


class DamageLimit(Section):
    """A limit, or a kinetics, that a plugin brings."""

    plugin: Name
    options: Options = ()


class KineticsSection(Section):
    title: Name
    frequency_factor: Rate
    activation_energy: Activation
    source: Name


class JointSection(Section):
    rule: Literal["auto", "button", "sheet"]
    minimum_diameter: Thickness | None = None
    bond_fraction: Share


class Ambient(Section):
    temperature: RoomWarmth
    heat_transfer_coefficient: Conductance


class NumericsSection(Section):
    refinement: Annotated[float, Field(ge=0.25, le=8, strict=True)]
    tolerance: Difference
    max_time: LongSpan
    melt_conductivity_factor: Factor | None = None


Certainty = Annotated[float, Field(ge=0.5, lt=1, strict=True)]


def _flat(given: object) -> object:
    """Return spreads by field path, whether the paths came as one key or as tables in each other."""
    if not isinstance(given, Mapping):
        return given
    found: dict[str, object] = {}
    for key, item in given.items():
        if isinstance(item, Mapping):
            below = _flat(item)
            found |= {f"{key}.{name}": one for name, one in dict(below).items()}  # type: ignore[call-overload]
        else:
            found[str(key)] = item
    return found


class FittedSection(Section):
    """What a fit to trials left open: standard deviations of logarithms, and their correlations."""

    fields: tuple[Name, ...]
    deviations: tuple[Annotated[float, Field(gt=0, le=5, strict=True)], ...]
    correlations: tuple[tuple[Annotated[float, Field(ge=-1, le=1)], ...], ...]


class UncertaintySection(Section):
    """How sure a verdict has to be, and how well inputs are known."""

    joint: Certainty
    harm: Certainty
    damage: Certainty
    hardware: Certainty
    spread: Annotated[dict[Name, Name], BeforeValidator(_flat), AfterValidator(Fixed)]
    fitted: FittedSection | None = None


class SetupFile(Section):
    """A whole setup file, every default filled in."""

    title: Title
    hold_time: SpanOrZero
    materials: tuple[Name, ...] = ()
    damage_limits: tuple[DamageLimit, ...] = ()
    cell: Cell
    strip: Strip
    electrode: ElectrodeSection
    arrangement: Arrangement
    contact: ContactSection
    source: SourceSection
    leads: Leads
    switch: SwitchSection
    pulse: Annotated[tuple[PulseSection, ...], Field(min_length=1, max_length=100)]
    limits: Annotated[dict[Name, LimitSection], BeforeValidator(judged), AfterValidator(Fixed)]
    kinetics: KineticsSection
    joint: JointSection
    uncertainty: UncertaintySection
    ambient: Ambient
    numerics: NumericsSection
