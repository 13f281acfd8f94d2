"""One weld, fully resolved: frozen, in SI units, with its materials looked up.

`nugget.setup` reads a setup file into this; the solver reads nothing else.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

from nugget.contact.laws import ContactLaw
from nugget.materials.material import Material
from nugget.merit.limit import Limit as Limit  # plugins import it from here
from nugget.supply.kinds import Source


@dataclass(frozen=True)
class Layer:
    """One layer of the stack.

    Attributes
    ----------
    role : str
        ``strip`` (also a plating on it), ``can`` (any layer of the conducting wall, or the
        lower sheet of a coupon), or an interior layer: ``gap``, ``disc``, ``roll``.
    material : Material
    thickness_m, radius_m : float
        Thickness and outer radius [m].
    conductance_below_W_m2K : float or None
        Thermal conductance to the next layer down [W/(m2 K)]; None is perfect contact.
    """

    role: Literal["strip", "can", "gap", "disc", "roll", "tip", "shank", "lower tip", "lower shank"]
    material: Material
    thickness_m: float
    radius_m: float
    conductance_below_W_m2K: float | None = None


@dataclass(frozen=True)
class Electrode:
    """Electrode tip, from its face to the holder.

    A flat tip is a cylinder of the face diameter up to its shank. A rounded one is a dome inside its
    face and a cone from there to the shank.

    Attributes
    ----------
    material : Material
    form : {"rounded", "flat"}
    face_diameter_m, tip_length_m, shank_diameter_m, shank_length_m : float
    holder_temperature_K : float
        Temperature at which the top of the shank is held [K].
    dome_radius_m : float
        Radius of curvature of a rounded tip [m]; infinite for a flat one.
    worn_flat_m : float
        Diameter of the flat that wear has ground on the dome [m]; 0: none.
    """

    material: Material
    form: Literal["rounded", "flat"]
    face_diameter_m: float
    tip_length_m: float
    shank_diameter_m: float
    shank_length_m: float
    holder_temperature_K: float
    dome_radius_m: float = math.inf
    worn_flat_m: float = 0.0


@dataclass(frozen=True)
class Contact:
    """What the interfaces are given.

    Attributes
    ----------
    tip, faying : ContactLaw
        Laws at the electrode face and at the faying surface (strip to can).
    radius_factor : float
        Multiplies every contact radius and its cap; the sensitivity runs use 0.8 and 1.25.
    hardness_factor : float
        Multiplies the hardness of every material.
    spread_m : float
        How far the faying contact may exceed the tip face, in radius [m].
    gap_m : float
        Stand-off outside the contact [m], bridged by gas conduction.
    gas : Material
    """

    tip: ContactLaw
    faying: ContactLaw
    gas: Material
    radius_factor: float = 1.0
    hardness_factor: float = 1.0
    spread_m: float = 0.0
    gap_m: float = 5e-6


@dataclass(frozen=True)
class Circuit:
    """Source, leads and switch.

    Attributes
    ----------
    source : Source
    lead_ohm, lead_H : float
        Resistance and inductance of both leads together [ohm], [H].
    switch_device_ohm : float
        On-resistance of one device [ohm]; 0 with no switch.
    switch_devices : int
        How many devices share the current.
    lead_length_m, lead_area_m2 : float
        Both leads together [m], cross-section [m2]; 0 when only a resistance was given.
    """

    source: Source
    lead_ohm: float
    lead_H: float
    switch_device_ohm: float = 0.0
    switch_devices: int = 1
    lead_length_m: float = 0.0
    lead_area_m2: float = 0.0

    @property
    def series_ohm(self) -> float:
        """Everything in series with the load [ohm]."""
        return self.source.resistance_ohm + self.lead_ohm + self.switch_device_ohm / self.switch_devices

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
    level : float
        Fraction of the source's voltage or current (1: as the source is).
    upslope_s, downslope_s : float
        Linear ramps at the ends of the pulse [s].
    gap_s : float
        Off time before the next pulse [s].
    """

    duration_s: float
    level: float = 1.0
    upslope_s: float = 0.0
    downslope_s: float = 0.0
    gap_s: float = 0.0

    def envelope(self, time_s: float) -> float:
        """Fraction of the source at `time_s` [s] after this pulse began."""
        rise = min(1.0, time_s / self.upslope_s) if self.upslope_s > 0 else 1.0
        left = self.duration_s - time_s
        fall = min(1.0, max(0.0, left) / self.downslope_s) if self.downslope_s > 0 else 1.0
        return self.level * min(rise, fall)


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
    target_diameter_m : float
        The resulting target [m].
    bond_fraction : float
        Share of the lower melting point [K/K] from which a solid-state bond is counted.
    """

    rule: Literal["button", "sheet", "diameter"]
    target_diameter_m: float
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
    longest_s : float
        The run ends here even when no peak was passed [s].
    """

    refinement: float = 1.0
    tolerance_K: float = 1.5
    longest_s: float = 60.0


@dataclass(frozen=True)
class Setup:
    """One weld.

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
        1: no slot; 0: the strip carries nothing between the tips.
    electrode : Electrode
        The upper tip; the lower one of an opposed weld is the same.
    spacing_m : float
        Tip centre to tip centre [m]; unused when opposed.
    force_N : float
        Per tip.
    return_ohm : float
        Resistance of the return tip and its contact, indirect only [ohm].
    contact : Contact
    ambient_K, film_W_m2K : float
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
    resolved : dict
        The setup as it would be written in a file, every default filled in, units included.
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
    film_W_m2K: float
    stirring: float
    circuit: Circuit
    train: tuple[Pulse, ...]
    hold_s: float
    limits: tuple[Limit, ...]
    kinetics: Kinetics | None
    joint: Joint
    numerics: Numerics = field(default_factory=Numerics)
    resolved: dict[str, Any] = field(default_factory=dict)

    @property
    def face_radius_m(self) -> float:
        """Radius of the tip face, scaled by the contact radius factor [m]."""
        return 0.5 * self.electrode.face_diameter_m * self.contact.radius_factor

    @property
    def train_s(self) -> float:
        """Start of the first pulse to the end of the last [s]."""
        spans = [p.duration_s + p.gap_s for p in self.train]
        return sum(spans) - self.train[-1].gap_s
