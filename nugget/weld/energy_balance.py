"""Running integrals of one march, kept with the same quadrature as the march itself.

The equations: manual, theory-numerics.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Powers:
    """What flows at one instant.

    Attributes
    ----------
    load_W : float
        Power into the modelled load (the half, when mirrored).
    holder_W, air_W, outside_W : float
        Heat to holder and air, and heat in the sheet behind the grounds.
    drawn_W : float
        Power of the ideal source.
    action_A2, charge_A : float
        Current squared, and current.
    returned_W : float
        Power in the whole load that the source sees.
    thermoelectric_W : float
        Heat that the current carries to the modelled interfaces, or away from them.
    """

    load_W: float = 0.0
    holder_W: float = 0.0
    air_W: float = 0.0
    outside_W: float = 0.0
    drawn_W: float = 0.0
    action_A2: float = 0.0
    charge_A: float = 0.0
    returned_W: float = 0.0
    thermoelectric_W: float = 0.0


@dataclass(frozen=True)
class EnergyBalance:
    """Integrals over time so far: those of `Powers`, and what belongs to no rate.

    Attributes
    ----------
    load_J, holder_J, air_J, outside_J, drawn_J, returned_J, thermoelectric_J : float
    action_A2s, charge_C : float
    clamp_J : float
        Inductive energy that went to the clamp at turn-off.
    worst_J : float
        Largest energy imbalance met so far.
    """

    load_J: float = 0.0
    holder_J: float = 0.0
    air_J: float = 0.0
    outside_J: float = 0.0
    drawn_J: float = 0.0
    action_A2s: float = 0.0
    charge_C: float = 0.0
    returned_J: float = 0.0
    thermoelectric_J: float = 0.0
    clamp_J: float = 0.0
    worst_J: float = 0.0

    def add(self, weights_s: Sequence[float], powers: Sequence[Powers], stored_J: float) -> EnergyBalance:
        """Add one step; `stored_J` is the gain of all enthalpy since the start."""

        def gain(of: str) -> float:
            return sum(w * float(getattr(p, of)) for w, p in zip(weights_s, powers, strict=True))

        after = replace(
            self,
            load_J=self.load_J + gain("load_W"),
            holder_J=self.holder_J + gain("holder_W"),
            air_J=self.air_J + gain("air_W"),
            outside_J=self.outside_J + gain("outside_W"),
            drawn_J=self.drawn_J + gain("drawn_W"),
            action_A2s=self.action_A2s + gain("action_A2"),
            charge_C=self.charge_C + gain("charge_A"),
            returned_J=self.returned_J + gain("returned_W"),
            thermoelectric_J=self.thermoelectric_J + gain("thermoelectric_W"),
        )
        put_in = after.load_J + after.thermoelectric_J
        missing = put_in - stored_J - after.holder_J - after.air_J - after.outside_J
        return replace(after, worst_J=max(self.worst_J, abs(missing)))

    def clamp(self, energy_J: float) -> EnergyBalance:
        """Book inductive energy that the clamp took."""
        return replace(self, clamp_J=self.clamp_J + energy_J)
