"""Physical constants, and reference conditions that more than one module uses."""

from __future__ import annotations

LORENZ_V2_K2 = 2.44e-8
"""Lorenz number [V2/K2]. Sommerfeld value pi^2 k_B^2 / (3 e^2), CODATA constants."""

GAS_CONSTANT_J_MOL_K = 8.314462618
"""Molar gas constant [J/(mol K)], CODATA 2018."""

BOLTZMANN_J_K = 1.380649e-23
"""Boltzmann constant [J/K], CODATA 2018, exact."""

REFERENCE_K = 298.15
"""Temperature [K] at which enthalpy is zero and at which the mass per cell is fixed."""

ROOM_K = 293.15
"""Room temperature [K], for which catalogues give hardness and resistivity."""

ZERO_CELSIUS_K = 273.15
"""0 degrees Celsius in kelvin (definition, BIPM SI brochure)."""

VERSION = "0.1.0"
"""Version of this package, kept with every result; the same as in pyproject.toml."""
