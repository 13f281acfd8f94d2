"""Case 1, contact voltages: resistivity and conductivity of a metal together, up to its melting point."""

from __future__ import annotations

import numpy as np

from nugget.materials.library import get
from nugget.materials.material import Material
from validation.case import Case, Check, Outcome, informative, relative
from validation.readers import rows

AMBIENT_K, POINTS = 293.15, 4001
TOLERANCE = 0.20


def voltage_V(metal: Material, temperature_K: float) -> float:
    """Across a contact between two bodies of one metal whose hottest point has this temperature.

    Kohlrausch's relation with properties that vary: U^2 = 8 int k rho dT, from ambient up.
    """
    T = np.linspace(AMBIENT_K, temperature_K, POINTS)
    assert metal.resistivity is not None
    return float(np.sqrt(8.0 * np.trapezoid(metal.conductivity_z(T) * metal.resistivity(T), T)))


def run_voltages() -> Outcome:
    checks: list[Check] = []
    for row in rows("contact_voltages"):
        metal = get(row["metal"])
        assert metal.solidus_K is not None
        melts = voltage_V(metal, metal.solidus_K)
        note = row["confidence"]
        checks.append(relative(f"{metal.name} melts", melts, float(row["melting_V"]), TOLERANCE, "V", note))
        softens = voltage_V(metal, float(row["softening_temperature_K"]))
        checks.append(informative(f"{metal.name} softens", softens, float(row["softening_V"]), "V", note))
    return Outcome(tuple(checks))


CASES = (
    Case(
        key="1-contact-voltages",
        title="Melting voltages of contacts",
        claim="The voltage at which a contact between two bodies of one metal melts follows from its "
        "conductivity and resistivity: heat leaves by the way the current comes in.",
        source="R. Holm, Electric Contacts, 4th ed., Springer 1967: melting voltages; relation by F. "
        "Kohlrausch, Ann. Phys. 306 (1900) 132.",
        tolerance="20 %: what two values for nickel differ by, 0.53 V by a constant Lorenz number and 0.65 V "
        "as listed. Softening is for information: the temperature at which a metal softens is no sharp one.",
        run=run_voltages,
    ),
)
