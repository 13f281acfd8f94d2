"""What the solver knows of a material: curves against temperature, each with its source."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray

Confidence = Literal["library", "found", "memory", "estimated", "unknown"]
"""How a value was obtained: printed by a general-purpose library, read in a public text,
recalled from the named work, derived by a stated rule, or unknown."""


@dataclass(frozen=True)
class Citation:
    """Where a number comes from.

    Attributes
    ----------
    work : str
        Author, title, edition, table or page; ``"unknown"`` when unknown.
    confidence : str
        One of `Confidence`.
    note : str
        How it was checked, or what limits it.
    """

    work: str
    confidence: Confidence
    note: str = ""


@dataclass(frozen=True)
class Stretch:
    """The part of a curve that one source supplied: up to `last_K`, from where the one before ends.

    Attributes
    ----------
    first_K, last_K : float
        Temperatures [K]; linear interpolation from the last row of the part before is included.
    citation : Citation
    """

    first_K: float
    last_K: float
    citation: Citation


@dataclass(frozen=True)
class Curve:
    """A property against temperature: linear between rows, held past both ends.

    Attributes
    ----------
    temperature_K : ndarray, shape (n,)
        Strictly increasing temperatures [K].
    value : ndarray, shape (n,)
        The property in SI units.
    citation : Citation
        All works together, with the weakest confidence of them.
    stretches : tuple of Stretch
        Which source supplied what, in order of temperature.
    """

    temperature_K: FloatArray
    value: FloatArray
    citation: Citation
    stretches: tuple[Stretch, ...] = ()

    def __call__(self, temperature_K: npt.ArrayLike) -> FloatArray:
        """Return the property at `temperature_K` [K], any shape, in SI units."""
        wanted = np.asarray(temperature_K, dtype=np.float64)
        return np.asarray(np.interp(wanted, self.temperature_K, self.value), dtype=np.float64)


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
        Indentation hardness [Pa]; zero from the solidus up is applied by the solver.
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

    @property
    def melting_K(self) -> float | None:
        """Temperature [K] at which half of the material is liquid."""
        if self.solidus_K is None or self.liquidus_K is None:
            return None
        return 0.5 * (self.solidus_K + self.liquidus_K)

    def citations(self) -> dict[str, Citation]:
        """Return the citation of every property this material holds, by property name."""
        curves = {
            "heat_capacity": self.heat_capacity,
            "conductivity": self.conductivity_r,
            "conductivity_z": self.conductivity_z,
            "resistivity": self.resistivity,
            "hardness": self.hardness,
        }
        if self.conductivity_z is self.conductivity_r:
            del curves["conductivity_z"]
        found = {name: curve.citation for name, curve in curves.items() if curve is not None}
        return found | self.scalar_citations
