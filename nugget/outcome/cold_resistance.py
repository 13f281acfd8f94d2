"""The resistance from tip to tip before a pulse, as a four-wire meter reads it."""

from __future__ import annotations

from nugget.setup import Setup
from nugget.weld.model import WeldModel


def cold_resistance_ohm(setup: Setup) -> float:
    """Resistance [ohm] between the tips before the current warms anything, at working force."""
    model = WeldModel(setup)
    T, _ = model.cells.temperature(model.initial())
    contacts = model.first_touch(T)
    _, _, sigma = model.cells.conductivities(T)
    return model.load_ohm(model.solve_electric(sigma, contacts).resistance_ohm)
