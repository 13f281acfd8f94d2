"""What the solver knows of a material: curves against temperature, each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.constants import ROOM_K
from nugget.errors import InputError
from nugget.materials.curve import Citation as Citation
from nugget.materials.curve import Confidence as Confidence
from nugget.materials.curve import Curve as Curve
from nugget.materials.curve import Stretch as Stretch
from nugget.materials.strength import Strength
from nugget.materials.temper import Temper, tempered


@dataclass(frozen=True, repr=False)
class Material:
    """One material.

    From the library by `from_library`, from a file by `from_file`, or made in Python: from catalogue
    values at room temperature by `from_catalogue`, or of constant properties by `constant`.

    Attributes
    ----------
    name : str
        Unique lower-case name used in setup files.
    title : str
        Display name.
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

    # The makers stand with the reader of material files, which makes this class: hence imported late.

    @classmethod
    def from_library(cls, name: str, paths: tuple[str | Path, ...] = ()) -> Material:
        """Return the material called `name`, as setup files name it.

        Parameters
        ----------
        name : str
        paths : tuple of str or Path
            Material files or folders besides those that are always looked at.

        Raises
        ------
        InputError
            When there is none or more than one, or when it is layered.

        Examples
        --------
        >>> from nugget import Material
        >>> Material.from_library("nickel-200").melting_K
        1713.65
        """
        from nugget.materials import library

        return library.get(name, paths)

    @classmethod
    def from_file(cls, path: str | Path) -> Material:
        """Return the material that a TOML file describes, with all its checks.

        Raises
        ------
        InputError
            One line that names the file and the key.
        """
        from nugget.materials import making

        return making.from_file(path)

    @classmethod
    def from_catalogue(
        cls,
        name: str,
        *,
        resistivity: Any = None,
        density: Any = None,
        melting: Any,
        composition: str | Mapping[str, float] | None = None,
        conductivity: Any = None,
        temperature_coefficient: float | str | None = None,
        hardness: Any = None,
        tensile_strength: Any = None,
        title: str = "",
        source: str = "",
    ) -> Material:
        """Return a metal from its values at room temperature; stated rules supply the rest.

        The rules (`nugget.materials.estimate`) carry the values up to the boiling point; what they
        supply is listed in `estimated`. Quantities are floats in SI units, text with a unit or pint
        quantities.

        Parameters
        ----------
        name : str
            Small letters, digits, ``-``, ``_`` and ``.``.
        resistivity, density : quantity
            [ohm m], [kg/m3]; the density may be left out with a composition.
        melting : quantity or (quantity, quantity)
            Solidus and liquidus [K], as a pair or as text; one temperature is spread over 10 K.
        composition : str or mapping, optional
            ``"Cu 94, Zn 6"`` in mass percent, or mass fractions by element.
        conductivity, hardness, tensile_strength : quantity, optional
            [W/(m K)], [Pa], [Pa].
        temperature_coefficient : float or str, optional
            Of the resistivity [1/K].
        title, source : str
            Display name; the work that the values were read in.

        Raises
        ------
        InputError

        Examples
        --------
        >>> from nugget import Material
        >>> bronze = Material.from_catalogue(
        ...     "tin-bronze", resistivity="13 uohm cm", density="8.8 g/cm3", melting="910 to 1040 degC",
        ...     composition="Cu 100",
        ... )
        >>> "heat_capacity" in bronze.estimated
        True
        """
        from nugget.materials import making

        return making.from_catalogue(
            name,
            resistivity=resistivity,
            density=density,
            melting=melting,
            composition=composition,
            conductivity=conductivity,
            temperature_coefficient=temperature_coefficient,
            hardness=hardness,
            tensile_strength=tensile_strength,
            title=title,
            source=source,
        )

    @classmethod
    def constant(
        cls,
        name: str,
        *,
        resistivity: Any,
        density: Any,
        melting: Any,
        conductivity: Any = None,
        heat_capacity: Any = None,
        heat_of_fusion: Any = None,
        hardness: Any = None,
        boiling: Any = None,
        tensile_strength: Any = None,
        composition: str | Mapping[str, float] | None = None,
        title: str = "",
        source: str = "",
    ) -> Material:
        """Return a metal whose given properties are the same at every temperature.

        For comparison with other models and with hand calculation: a real metal's resistivity
        rises several times up to its melting point, and its hardness falls away. For a metal of
        which little is known use `from_catalogue`, whose rules do follow temperature. What is not
        given here is supplied by those rules and listed in `estimated`.

        Parameters
        ----------
        name : str
        resistivity, density : quantity
            [ohm m], [kg/m3]: floats in SI units, text with a unit or pint quantities.
        melting : quantity or (quantity, quantity)
            Solidus and liquidus [K]; one temperature is spread over 10 K.
        conductivity, heat_capacity, heat_of_fusion, hardness, boiling, tensile_strength : quantity
            [W/(m K)], [J/(kg K)], [J/kg], [Pa], [K], [Pa]; each optional.
        composition : str or mapping, optional
            ``"Cu 94, Zn 6"`` in mass percent, or mass fractions by element, for the rules.
        title, source : str

        Raises
        ------
        InputError

        Examples
        --------
        >>> from nugget import Material
        >>> metal = Material.constant("plain", resistivity=1e-7, density=8900.0, melting=(1700.0, 1720.0))
        >>> float(metal.resistivity(1500.0))
        1e-07
        """
        from nugget.materials import making

        return making.constant(
            name,
            resistivity=resistivity,
            density=density,
            melting=melting,
            conductivity=conductivity,
            heat_capacity=heat_capacity,
            heat_of_fusion=heat_of_fusion,
            hardness=hardness,
            boiling=boiling,
            tensile_strength=tensile_strength,
            composition=composition,
            title=title,
            source=source,
        )

    def replace(self, **changes: Any) -> Material:
        """Return this material with other properties, checked like a material file.

        Parameters
        ----------
        **changes
            ``name``, ``title``, ``note``, ``source`` (of the new values) as text; ``melting`` as a pair or
            text; ``heat_of_fusion``, ``boiling``, ``tensile_strength`` as quantities; ``density``,
            ``heat_capacity``, ``conductivity`` (or ``conductivity_r`` and ``conductivity_z``),
            ``resistivity``, ``hardness`` as a `Curve`, as rows of (temperature [K], value) or as one
            value for all temperatures.

        Raises
        ------
        InputError

        Examples
        --------
        >>> from nugget import Material
        >>> soft = Material.from_library("nickel-200").replace(name="soft-nickel", hardness="60 HV")
        >>> round(float(soft.hardness(300.0)) / 1e6)
        588
        """
        from nugget.materials import making

        return making.replaced(self, changes)

    def __repr__(self) -> str:
        """Return a few lines: name, key figures at room temperature, what is estimated."""
        words = [f"<Material {self.name}: {self.title}>"]
        facts = [f"{self.density_kg_m3:.4g} kg/m3"]
        if self.resistivity is not None:
            facts.append(f"{float(self.resistivity(ROOM_K)) * 1e8:.3g} uohm cm")
        facts.append(f"{float(self.conductivity_r(ROOM_K)):.3g} W/(m K)")
        facts.append(f"{float(self.heat_capacity(ROOM_K)):.3g} J/(kg K)")
        words.append(f"  at 20 degC: {', '.join(facts)}")
        if self.solidus_K is not None and self.liquidus_K is not None:
            words.append(f"  melts from {self.solidus_K:.5g} to {self.liquidus_K:.5g} K")
        if self.estimated:
            words.append(f"  estimated: {', '.join(self.estimated)}")
        return "\n".join(words)
