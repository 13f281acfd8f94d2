"""The weld at one instant."""

from __future__ import annotations

from dataclasses import dataclass, field

from nugget.arrays import FloatArray
from nugget.field.electric import ElectricSolution
from nugget.weld.active_source import CircuitState
from nugget.weld.energy_balance import EnergyBalance
from nugget.weld.interface_model import ContactState
from nugget.weld.model import WeldModel


@dataclass(frozen=True)
class WeldState:
    """The weld at one instant, after an accepted step.

    Attributes
    ----------
    time_s : float
    temperature, enthalpy : ndarray, shape (nz, nr)
        [K], [J/m3]
    contacts : tuple of ContactState
        One for each interface of the grid.
    electric : ElectricSolution or None
        Field of one ampere, None while the source is off.
    circuit : CircuitState
    load_ohm, emf_V : float
        Load seen by the source and voltage of the ideal source; 0 while off.
    energy : EnergyBalance
    tip_closed : bool
    step, rejected : int
        Number of accepted steps so far, and of those that were refused.
    peak_A : float
        Largest current so far.
    off_since_s : float or None
        When the source was switched off; None while it is on, and before it ever was.
    """

    time_s: float
    temperature: FloatArray
    enthalpy: FloatArray
    contacts: tuple[ContactState, ...]
    electric: ElectricSolution | None = None
    circuit: CircuitState = field(default_factory=CircuitState)
    load_ohm: float = 0.0
    emf_V: float = 0.0
    energy: EnergyBalance = field(default_factory=EnergyBalance)
    tip_closed: bool = True
    step: int = 0
    rejected: int = 0
    peak_A: float = 0.0
    off_since_s: float | None = None


def at_rest(model: WeldModel) -> WeldState:
    """The weld before anything happens: everything at ambient, the tip closed under its force."""
    enthalpy = model.initial()
    temperature, _ = model.cells.temperature(enthalpy)
    return WeldState(0.0, temperature, enthalpy, model.first_touch(temperature))
