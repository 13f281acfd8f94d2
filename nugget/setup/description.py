"""One weld as the solver reads it: frozen, in SI units, with its materials looked up.

Each part refuses what cannot be whenever it is made, so that also a part that was put together
in Python or changed by `dataclasses.replace` is one that could stand in a setup file.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from nugget.contact.laws import ContactLaw
from nugget.errors import InputError
from nugget.materials.byvalue import same
from nugget.materials.material import Material
from nugget.merit.limit import Limit as Limit  # plugins import it from here
from nugget.setup.layer_kinds import judged_as
from nugget.setup.quantity import FORCE, OFFSET, SPAN_OR_ZERO, THICKNESS, WIDTH, Spec
from nugget.setup.ranges import above_zero, not_below_zero, within
from nugget.supply.kinds import Source
from nugget.supply.switches import Switch

SHORTEST_PULSE_S, LONGEST_PULSE_S = 1e-5, 10.0
"""Between these a setup file takes the duration of a pulse [s]; `Pulse` itself goes down to zero."""

RADIUS = Spec("length", 0.0001, 1000, "mm")


@dataclass(frozen=True)
class Layer:
    """One layer of the stack.

    Attributes
    ----------
    role : str
        One of `nugget.setup.layer_kinds.KINDS`: ``strip`` (also a plating on it), ``can`` (any
        layer of the conducting wall, or the lower sheet of a coupon), or an interior layer.
    material : Material
    thickness_m, radius_m : float
        Thickness and outer radius [m].
    conductance_below_W_m2K : float or None
        Thermal conductance to the next layer down [W/(m2 K)]; None is perfect contact.
    inner_radius_m : float
        Radius of the hole in an annular part; 0 without one.
    hole : Material or None
        What fills the hole; None: nothing does, and no heat crosses it.
    """

    role: str
    material: Material
    thickness_m: float
    radius_m: float
    conductance_below_W_m2K: float | None = None
    inner_radius_m: float = 0.0
    hole: Material | None = None

    def __post_init__(self) -> None:
        within(self, thickness_m=THICKNESS, radius_m=RADIUS)
        not_below_zero(self, "conductance_below_W_m2K")

    @property
    def hole_role(self) -> str:
        """Role by which what fills the hole is judged; empty without a filled hole."""
        if self.hole is None or self.inner_radius_m == 0.0:
            return ""
        return judged_as("", self.hole.family, self.hole.solidus_K is not None)


@dataclass(frozen=True)
class Electrode:
    """Electrode tip, from its face to the holder.

    A flat tip is a cylinder of the face diameter up to its shank. A rounded one is a dome inside its
    face and a cone from there to the shank.

    Attributes
    ----------
    material : Material
    tip_shape : {"rounded", "flat"}
    face_diameter_m, tip_length_m, shank_diameter_m, shank_length_m : float
    holder_temperature_K : float
        Temperature at which the top of the shank is held [K].
    dome_radius_m : float
        Radius of curvature of a rounded tip [m]; infinite for a flat one.
    worn_flat_m : float
        Diameter of the flat that wear has ground on the dome [m]; 0: none.
    """

    material: Material
    tip_shape: Literal["rounded", "flat"]
    face_diameter_m: float
    tip_length_m: float
    shank_diameter_m: float
    shank_length_m: float
    holder_temperature_K: float
    dome_radius_m: float = math.inf
    worn_flat_m: float = 0.0

    def __post_init__(self) -> None:
        within(self, face_diameter_m=THICKNESS, tip_length_m=THICKNESS)
        within(self, shank_diameter_m=THICKNESS, shank_length_m=WIDTH)
        above_zero(self, "holder_temperature_K")
        not_below_zero(self, "worn_flat_m")
        if not self.dome_radius_m > 0.0:
            raise InputError("electrode dome_radius_m", self.dome_radius_m, "a radius above zero")


@dataclass(frozen=True)
class Contact:
    """What the interfaces are given.

    Attributes
    ----------
    tip, faying : ContactLaw
        Laws at the electrode face and at the faying surface (strip to can).
    radius_factor : float
        Contact radius of even metal over its own: stands for hardness over its square, while a hot
        contact still settles by itself. The judged runs use 0.8 and 1.25, hardness x 1.56 and x 0.64.
    hardness_factor : float
        Multiplies the hardness of every material.
    melt_strength_factor : float
        Factor on what enclosed melt carries (`nugget.contact.enclosed_melt`).
    faying_radius_allowance_m : float
        How far the faying contact may exceed the tip face, in radius [m].
    stand_off_m : float
        Stand-off outside the contact [m], bridged by gas conduction.
    gas : Material
    """

    tip: ContactLaw
    faying: ContactLaw
    gas: Material
    radius_factor: float = 1.0
    hardness_factor: float = 1.0
    melt_strength_factor: float = 1.0
    faying_radius_allowance_m: float = 0.0
    stand_off_m: float = 5e-6

    def __post_init__(self) -> None:
        above_zero(self, "radius_factor", "hardness_factor", "melt_strength_factor", "stand_off_m")
        within(self, faying_radius_allowance_m=OFFSET)

    @property
    def hardness(self) -> float:
        """Factor on the hardness of every material, both factors together."""
        return self.hardness_factor / self.radius_factor**2


@dataclass(frozen=True)
class Circuit:
    """Source, leads and switch.

    Attributes
    ----------
    source : Source
    lead_ohm, lead_H : float
        Resistance and inductance of both leads together [ohm], [H].
    switch : Switch
        What makes and breaks the current; by default nothing that resists.
    lead_length_m, lead_area_m2 : float
        Both leads together [m], cross-section [m2]; 0 when only a resistance was given.
    """

    source: Source
    lead_ohm: float
    lead_H: float
    switch: Switch = field(default_factory=Switch)
    lead_length_m: float = 0.0
    lead_area_m2: float = 0.0

    def __post_init__(self) -> None:
        not_below_zero(self, "lead_ohm", "lead_H", "lead_length_m", "lead_area_m2")
        not_below_zero(self.switch, "device_ohm", "bounce_s", "opening_s", "scatter_s")
        above_zero(self.switch, "devices")

    @property
    def series_ohm(self) -> float:
        """Everything in series with the load [ohm]."""
        return self.source.resistance_ohm + self.lead_ohm + self.switch.resistance_ohm

    @property
    def series_H(self) -> float:
        """Everything inductive in series with the load [H]."""
        return self.source.inductance_H + self.lead_H


@dataclass(frozen=True)
class Pulse:
    """One pulse of a train.

    Attributes
    ----------
    duration_s : float
        Switched on for this long, slopes included [s].
    output_fraction : float
        Fraction of the source's voltage or current (1: as the source is).
    upslope_s, downslope_s : float
        Linear ramps at the ends of the pulse [s].
    cool_time_s : float
        Off time before the next pulse [s].
    """

    duration_s: float
    output_fraction: float = 1.0
    upslope_s: float = 0.0
    downslope_s: float = 0.0
    cool_time_s: float = 0.0

    def __post_init__(self) -> None:
        above_zero(self, "duration_s", "output_fraction")
        not_below_zero(self, "upslope_s", "downslope_s", "cool_time_s")
        within(self, cool_time_s=SPAN_OR_ZERO)
        if self.duration_s > LONGEST_PULSE_S or self.output_fraction > 1.0:
            raise InputError(
                "pulse",
                f"{self.duration_s!r} s at output fraction {self.output_fraction!r}",
                "at most 10 s at output fraction 1",
            )

    def envelope(self, time_s: float) -> float:
        """Fraction of the source at `time_s` [s] after this pulse began."""
        rise = min(1.0, time_s / self.upslope_s) if self.upslope_s > 0 else 1.0
        left = self.duration_s - time_s
        fall = min(1.0, max(0.0, left) / self.downslope_s) if self.downslope_s > 0 else 1.0
        return self.output_fraction * min(rise, fall)


@dataclass(frozen=True)
class Kinetics:
    """First-order decomposition whose Arrhenius dose is reported as an extrapolation.

    ``dose = integral of A exp(-Ea / (R T)) dt`` at the roll's top face.
    """

    title: str
    frequency_1_s: float
    activation_J_mol: float
    source: str


@dataclass(frozen=True)
class Joint:
    """What counts as a joint.

    Attributes
    ----------
    rule : {"button", "sheet", "diameter"}
        4 t (button pull-out in thin strip), 4 sqrt(t / mm) mm, or the user's own.
    minimum_diameter_m : float
        The resulting target [m].
    bond_fraction : float
        Share of the lower melting point [K/K] from which a solid-state bond is counted.
    """

    rule: Literal["button", "sheet", "diameter"]
    minimum_diameter_m: float
    bond_fraction: float


@dataclass(frozen=True)
class Numerics:
    """Grid and march settings.

    Attributes
    ----------
    refinement : float
        Divides every grid spacing; 1 is the standard grid, 2 the fine one.
    tolerance_K : float
        Target of the local error per step [K].
    max_time_s : float
        The run ends here even when no peak was passed [s].
    """

    refinement: float = 1.0
    tolerance_K: float = 1.5
    max_time_s: float = 60.0

    def __post_init__(self) -> None:
        above_zero(self, "refinement", "tolerance_K", "max_time_s")


SLOTTED = 0.9
"""Shunt fraction below which there is a slot; the strip's end beside the tips takes a few per cent."""


@dataclass(frozen=True)
class Description:
    """One weld; `nugget.setup.Setup` is the one that also knows how it is written.

    Attributes
    ----------
    title : str
    arrangement : {"series along", "series across", "indirect", "opposed"}
        Series: both tips on the strip, along or across it. Indirect: the return tip straight
        on the can. Opposed: tips above and below.
    strip, base : tuple of Layer
        Top to bottom. `base` starts with the can wall (or the lower sheet) and goes inwards.
    strip_width_m : float
    shunt_fraction : float
        1: plain strip; 0: the strip carries nothing between the tips.
    electrode : Electrode
        The upper tip; the lower one of an opposed weld is the same.
    spacing_m : float
        Tip centre to tip centre [m]; unused when opposed.
    force_N : float
        Per tip.
    polarity : {1, -1, 0}
        Sign of the modelled tip; 0: the mean of both.
    return_ohm : float
        Resistance of the return tip and its contact, indirect only [ohm].
    contact : Contact
    ambient_K, heat_transfer_W_m2K : float
        Air temperature [K] and film coefficient of free surfaces [W/(m2 K)].
    stirring : float
        Factor on the conductivity of melt (1: none).
    circuit : Circuit
    train : tuple of Pulse
    hold_s : float
        The tip stays this long after the last pulse [s].
    limits : tuple of Limit
    kinetics : Kinetics or None
    joint : Joint
    numerics : Numerics
    sealed : bool
        Whether the wall is a cap whose rim sits in a gasket: the positive end of a cell.
    """

    title: str
    arrangement: Literal["series along", "series across", "indirect", "opposed"]
    strip: tuple[Layer, ...]
    base: tuple[Layer, ...]
    strip_width_m: float
    shunt_fraction: float
    electrode: Electrode
    spacing_m: float
    force_N: float
    return_ohm: float
    contact: Contact
    ambient_K: float
    heat_transfer_W_m2K: float
    stirring: float
    circuit: Circuit
    train: tuple[Pulse, ...]
    hold_s: float
    limits: tuple[Limit, ...]
    kinetics: Kinetics | None
    joint: Joint
    numerics: Numerics = field(default_factory=Numerics)
    polarity: int = 0
    sealed: bool = False

    def __post_init__(self) -> None:
        within(self, strip_width_m=WIDTH, force_N=FORCE, hold_s=SPAN_OR_ZERO)
        above_zero(self, "spacing_m", "stirring", "ambient_K")
        not_below_zero(self, "shunt_fraction", "return_ohm", "heat_transfer_W_m2K")
        if not (self.strip and self.base and self.train):
            raise InputError("setup", "no strip, no base or no pulse", "at least one of each")
        _told_apart(self.materials())

    @property
    def si(self) -> Description:
        """The SI description alone: this one."""
        return self

    def materials(self) -> tuple[Material, ...]:
        """Every material of the weld, each once: strip, base and what fills holes in it, tip, gas."""
        found = [layer.material for layer in (*self.strip, *self.base)]
        found += [layer.hole for layer in self.base if layer.hole is not None]
        found += [self.electrode.material, self.contact.gas]
        return tuple({id(material): material for material in found}.values())

    @property
    def pulse_spread_s(self) -> float:
        """Standard deviation of how long each pulse lasts, as its switch keeps time [s]."""
        return self.circuit.switch.spread_s

    @property
    def slotted(self) -> bool:
        """Whether a slot between the tips, and not just an end near them, cuts the strip."""
        return self.shunt_fraction < SLOTTED

    @property
    def spots(self) -> int:
        """How many spots one discharge makes on the wall."""
        return 2 if self.arrangement.startswith("series") else 1

    @property
    def face_radius_m(self) -> float:
        """Radius of the tip face [m]."""
        return 0.5 * self.electrode.face_diameter_m

    @property
    def train_s(self) -> float:
        """Start of the first pulse to the end of the last [s]."""
        spans = [p.duration_s + p.cool_time_s for p in self.train]
        return sum(spans) - self.train[-1].cool_time_s


def _told_apart(materials: Iterable[Material]) -> None:
    """Raise InputError when two materials of one name and temper hold different data.

    Reports go by name and temper.
    """
    known: dict[tuple[str, str | None], Material] = {}
    for material in materials:
        if not same(known.setdefault((material.name, material.temper), material), material):
            raise InputError(
                f"material {material.name}", "two of that name with different data", "a name for each"
            )
