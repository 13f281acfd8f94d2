"""Search for the contact radius at which field and force agree.

The equations: manual, theory-contact.
"""

from __future__ import annotations

SETTLED_RADIUS = 1.5e-3
"""Share of the radius within which it counts as found: as much as diameters scatter by because a
stage stops before its temperatures stand quite still."""
SLOPE_FROM = 1e-6
"""Smallest change of a radius, as a share of it, that tells how the answer follows it. At 1e-3 a
steep slope made strides too short to be corrected by, and marches of plated strip stopped."""
FIRST_RESPONSE = -1.0
"""How the answer is taken to follow the radius before anything is known: a wider spot is cooler and
harder, and asks for as much less."""
STEEPEST = -30.0
"""Steeper answers are jumps, which the bracket closes on; a stride by their slope would stand still."""
NEAREST_END = 0.05
"""A trial stays this share of the bracket away from its ends, or a straight line through a jump would
creep along one of them."""


class ContactRadiusSolver:
    """Bracketed secant search for the contact radius that the force balance returns unchanged.

    Plain repetition oscillates: a wider spot is cooler and harder, and asks for a smaller one.
    Where the answer jumps the bracket closes on the jump.

    Parameters
    ----------
    radius_m, floor_m : float
        First radius; none below `floor_m` is tried.
    response : float
        First guess of d(answer)/d(radius), such as an earlier search found.
    """

    def __init__(self, radius_m: float, floor_m: float, response: float = FIRST_RESPONSE) -> None:
        self.radius_m = max(radius_m, floor_m)
        self.floor_m = floor_m
        self.response = response
        self._last: tuple[float, float] | None = None
        self._low: tuple[float, float] | None = None
        self._high: tuple[float, float] | None = None
        self._side = 0

    def settled(self, answer_m: float, share: float = SETTLED_RADIUS) -> bool:
        """Whether `radius_m` is within a share of itself of the answer, or the bracket around it is."""
        close = share * self.radius_m
        if abs(answer_m - self.radius_m) < close:
            return True
        return self._low is not None and self._high is not None and self._high[0] - self._low[0] < close

    def next(self, answer_m: float) -> float:
        """Return the next radius to try after `radius_m` was answered by `answer_m`."""
        radius, miss = self.radius_m, answer_m - self.radius_m
        if self._last is not None and abs(radius - self._last[0]) > SLOPE_FROM * radius:
            response = (answer_m - self._last[1]) / (radius - self._last[0])
            self.response = min(max(response, STEEPEST), 0.0)
        self._last = radius, answer_m
        self._close_in(radius, miss)
        if self._low is None or self._high is None:
            trial = radius + miss / (1.0 - self.response)
        else:
            (low, rise), (high, fall) = self._low, self._high
            share = rise / (rise - fall)
            trial = low + min(max(share, NEAREST_END), 1.0 - NEAREST_END) * (high - low)
        self.radius_m = max(self.floor_m, trial)
        return self.radius_m

    def _close_in(self, radius: float, miss: float) -> None:
        """Move one end of the bracket.

        An end that stays put twice counts half (Illinois rule), or the search would creep towards
        a jump. The field moves meanwhile, and may overtake the bracket.
        """
        if miss > 0.0:
            stays, self._low = self._side == 1, (radius, miss)
            if self._high is not None:
                self._high = None if self._high[0] <= radius else _halved(self._high, stays)
        else:
            stays, self._high = self._side == -1, (radius, miss)
            if self._low is not None:
                self._low = None if self._low[0] >= radius else _halved(self._low, stays)
        self._side = 1 if miss > 0.0 else -1


def _halved(end: tuple[float, float], when: bool) -> tuple[float, float]:
    return (end[0], 0.5 * end[1]) if when else end
