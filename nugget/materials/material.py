"""What the solver knows of a material: curves against temperature, each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.materials.curve import Citation as Citation
from nugget.materials.curve import Confidence as Confidence
from nugget.materials.curve import Curve as Curve
from nugget.materials.curve import Stretch as Stretch
from nugget.materials.strength import Strength
from nugget.materials.temper import Temper, tempered


@dataclass(frozen=True)
class Material:
    """One material.

    Attributes
    ----------
    name : str
        Unique lower-case name used in setup files.
    title : str
        Name for people.
    family : str
        ``metal``, ``polymer``, ``gas``, ``composite`` or ``liquid``.
    density_kg_m3 : float
        At 298.15 K; the mass per cell is fixed there.
    heat_capacity : Curve
        Sensible specific heat [J/(kg K)], solid and liquid; the heat of fusion is apart.
    conductivity_r, conductivity_z : Curve
        Thermal conductivity [W/(m K)] along r and z (the same object when isotropic).
    resistivity : Curve or None
        Electrical resistivity [ohm m]; None for an insulator.
    solidus_K, liquidus_K : float or None
        Melting range [K]; both None when the material is never followed into melting.
    heat_of_fusion_J_kg : float
        Spread evenly over solidus to liquidus.
    boiling_K : float or None
    hardness : Curve or None
        Indentation hardness of the solid under slow load [Pa].
    tensile_strength_Pa : float or None
        At room temperature, for the pull-out estimate.
    scalar_citations : dict of str to Citation
        Keys ``density``, ``melting_range``, ``heat_of_fusion``, ``boiling``, ``tensile_strength``.
    estimated : tuple of str
        Properties that a rule supplied rather than a measurement.
    origin : str
        Which door it came through: ``built-in``, a file path, or a distribution name.
    density : Curve or None
        Density against temperature [kg/m3], for reports; the solver uses `density_kg_m3`.
    note : str
        What the reader of a report should know.
    strength : Strength
        How hardness depends on the rate of strain; see `hardness_at`.
    seebeck : Curve or None
        Absolute Seebeck coefficient [V/K].
    composition : mapping of str to float
        Mass fraction of each element; empty when unknown.
    temper : str or None
        Temper that the hardness and the tensile strength hold for, when the file names one.
    tempers : tuple of Temper
        Tempers that `with_temper` offers.
    """

    name: str
    title: str
    family: str
    density_kg_m3: float
    heat_capacity: Curve
    conductivity_r: Curve
    conductivity_z: Curve
    resistivity: Curve | None
    solidus_K: float | None
    liquidus_K: float | None
    heat_of_fusion_J_kg: float
    boiling_K: float | None
    hardness: Curve | None
    tensile_strength_Pa: float | None = None
    scalar_citations: dict[str, Citation] = field(default_factory=dict)
    estimated: tuple[str, ...] = ()
    origin: str = "built-in"
    density: Curve | None = None
    note: str = ""
    strength: Strength = field(default_factory=Strength)
    seebeck: Curve | None = None
    composition: Mapping[str, float] = field(default_factory=dict)
    temper: str | None = None
    tempers: tuple[Temper, ...] = ()

    @property
    def melting_K(self) -> float | None:
        """Temperature [K] at which half of the material is liquid."""
        if self.solidus_K is None or self.liquidus_K is None:
            return None
        return 0.5 * (self.solidus_K + self.liquidus_K)

    def hardness_at(self, temperature_K: npt.ArrayLike, rate_1_s: npt.ArrayLike) -> FloatArray:
        """Return indentation hardness [Pa] at `temperature_K` [K] and rate of strain `rate_1_s` [1/s].

        From the solidus up it stays at its value there: melt that solid encloses carries the
        pressure of that solid. Shapes broadcast; never falling with the rate; zero for a material
        without hardness.
        """
        solid = np.minimum(np.asarray(temperature_K, dtype=np.float64), self.solidus_K or np.inf)
        if self.hardness is None:
            return np.zeros(np.broadcast_shapes(solid.shape, np.shape(rate_1_s)))
        return self.strength.hardness_Pa(self.hardness, self.melting_K, solid, rate_1_s)

    def with_temper(self, name: str) -> Material:
        """Return this material in the temper called `name`, such as ``half-hard``.

        Hardness and tensile strength change; hot metal has lost its temper.

        Raises
        ------
        InputError
            When the material has no temper of that name.
        """
        known = {temper.name: temper for temper in self.tempers}
        if name not in known or self.hardness is None:
            offered = f"one of {', '.join(known)}" if known else f"none, as {self.name} offers no tempers"
            raise InputError("temper", name, offered)
        return replace(self, **tempered(self, known[name]))

    def citations(self) -> dict[str, Citation]:
        """Return the citation of every property this material holds, by property name."""
        curves = {
            "heat_capacity": self.heat_capacity,
            "conductivity": self.conductivity_r,
            "conductivity_z": self.conductivity_z,
            "resistivity": self.resistivity,
            "hardness": self.hardness,
            "seebeck": self.seebeck,
        }
        if self.conductivity_z is self.conductivity_r:
            del curves["conductivity_z"]
        found = {name: curve.citation for name, curve in curves.items() if curve is not None}
        return found | self.scalar_citations
