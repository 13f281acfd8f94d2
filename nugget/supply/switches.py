"""Switches: what makes and breaks the current, its resistance and how well it keeps time.

The equations: manual, theory-circuit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

SwitchKind = Literal["transistors", "relay", "none"]


@dataclass(frozen=True)
class Switch:
    """A switch in series with the weld.

    Attributes
    ----------
    kind : {"transistors", "relay", "none"}
        ``relay`` also for a contactor. ``none``: the source switches by itself, or on the primary
        side of a transformer.
    device_ohm : float
        On-resistance of one transistor, or of the closed contacts of a relay [ohm].
    devices : int
        How many transistors share the current.
    bounce_s : float
        For so long the contacts of a relay bounce as they close [s].
    opening_s, scatter_s : float
        Time that they take to part once the coil is off, and its standard deviation [s].
    """

    kind: SwitchKind = "none"
    device_ohm: float = 0.0
    devices: int = 1
    bounce_s: float = 0.0
    opening_s: float = 0.0
    scatter_s: float = 0.0

    @property
    def resistance_ohm(self) -> float:
        """Resistance of the whole switch [ohm]."""
        return self.device_ohm / self.devices

    @property
    def shortest_s(self) -> float:
        """Shortest pulse that it can make [s]: contacts that have come to rest, and then part."""
        return self.bounce_s + self.opening_s

    @property
    def spread_s(self) -> float:
        """Standard deviation of the time for which it is closed [s].

        The opening scatters, and the bounce takes any part of itself off the pulse: an even
        distribution of that width has a standard deviation of its twelfth's root.
        """
        return math.hypot(self.scatter_s, self.bounce_s / math.sqrt(12.0))
