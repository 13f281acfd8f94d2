"""What a measured print and a measured cold resistance say about the contacts, and what they do not.

Both are outcomes of a weld, not inputs: the inputs that would give them are solved for. They never
replace the contact that the model solves.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from nugget.outcome.weld import march_weld
from nugget.setup import Setup
from nugget.weld.model import WeldModel

FILMS_OHM_M2 = (1e-13, 1e-8)
"""Films that are tried: clean to badly oxidised metal span 1e-12 to 1e-10 (from memory of Holm, Electric
Contacts, 4th ed. 1967), with a margin on both sides."""
HARDNESS_FACTORS = (0.5, 0.7, 1.0, 1.4, 2.0)
FILM_HALVINGS = 18


@dataclass(frozen=True)
class Observed:
    """An input that an observation was solved for.

    Attributes
    ----------
    input : str
        What was solved for.
    value : float or None
        In SI; None where the observation is outside all that the input can bring about.
    low, high : float
        What the error of the measurement leaves open, within what was tried.
    note : str
        What the observation does not determine.
    """

    input: str
    value: float | None
    low: float
    high: float
    note: str


def cold_resistance_ohm(setup: Setup) -> float:
    """Resistance [ohm] between the tips before the current warms anything, at working force."""
    model = WeldModel(setup)
    T, _ = model.cells.temperature(model.initial())
    contacts = model.first_touch(T)
    _, _, sigma = model.cells.conductivities(T)
    return model.load_ohm(model.solve_electric(sigma, contacts).resistance_ohm)


def film_of_resistance(setup: Setup, measured_ohm: float, error: float = 0.05) -> Observed:
    """Film of both contacts that gives a cold resistance measured with four wires at working force.

    Parameters
    ----------
    setup : Setup
        With metallic contacts.
    measured_ohm : float
    error : float
        Relative error of the measurement.
    """

    def film(ohm: float) -> float:
        low, high = (math.log(one) for one in FILMS_OHM_M2)
        for _ in range(FILM_HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if _with_film(setup, math.exp(middle)) < ohm else (low, middle)
        return math.exp(0.5 * (low + high))

    least, most = (_with_film(setup, one) for one in FILMS_OHM_M2)
    note = (
        "the sum of both films only, at the first contact; a first contact that is wider or smaller than the"
        " dome and the hardness say looks the same, and films break down as the metal softens"
    )
    ends = [min(max(measured_ohm * (1.0 + e), least), most) for e in (-error, error)]
    value = film(measured_ohm) if least < measured_ohm < most else None
    return Observed("film of both contacts [ohm m2]", value, film(ends[0]), film(ends[1]), note)


def _with_film(setup: Setup, film_ohm_m2: float) -> float:
    return cold_resistance_ohm(
        setup.with_({"contact.tip.film": film_ohm_m2, "contact.faying.film": film_ohm_m2})
    )


def hardness_of_print(
    setup: Setup, print_m: float, error_m: float = 0.05e-3, march: Callable[[Setup], Any] = march_weld
) -> Observed:
    """Hardness factor whose weld leaves a print of a given diameter under the tip.

    Parameters
    ----------
    setup : Setup
    print_m : float
        Measured diameter of the tip's contact at lift [m].
    error_m : float
        Error of the measurement [m].
    march : callable
        Returns a weld with ``tip_contact_diameter_m``.
    """
    factors = np.log(np.array(HARDNESS_FACTORS))
    own = setup.contact.hardness_factor
    prints = np.array(
        [
            float(march(setup.with_({"contact.hardness_factor": own * f})).tip_contact_diameter_m)
            for f in HARDNESS_FACTORS
        ]
    )
    # Harder metal is hotter, so a print need not shrink with hardness: all factors that fit count.
    fine = np.linspace(factors[0], factors[-1], 401)
    miss = np.abs(np.interp(fine, factors, prints) - print_m)
    fit = own * np.exp(fine[miss <= error_m])
    note = (
        f"hardness x {HARDNESS_FACTORS[0]:g} to x {HARDNESS_FACTORS[-1]:g} moves the print from"
        f" {prints[0] * 1e3:.2f} to {prints[-1] * 1e3:.2f} mm only: a hot contact settles by itself"
    )
    if not fit.size:
        return Observed("hardness factor", None, own * HARDNESS_FACTORS[0], own * HARDNESS_FACTORS[-1], note)
    best = own * float(np.exp(fine[int(np.argmin(miss))]))
    return Observed("hardness factor", best, float(fit.min()), float(fit.max()), note)
