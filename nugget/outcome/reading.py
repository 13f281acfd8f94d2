"""What figures of merit are read from: one march, up to where it ended."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING

from nugget.arrays import FloatArray
from nugget.outcome.interior import followed_faces, layer_of, peak
from nugget.setup.description import Description
from nugget.weld.energy_balance import EnergyBalance

if TYPE_CHECKING:  # a setup is read with its limits checked, which must not load the solver
    from nugget.outcome.recorder import Recorder


@dataclass(frozen=True)
class Reading:
    """One march as figures see it.

    Attributes
    ----------
    setup : Description
    history : dict of str to ndarray, shape (steps + 1,)
        Columns against ``time_s``, as `nugget.outcome.recorder.Recorder` fills them.
    energy : EnergyBalance
        Integrals over the whole march.
    whole : float
        Whole weld over what is modelled, for the heat that leaves it: 2 for a pair and for a mirrored
        stack, 1 otherwise.
    tip_heat_J : float
        Heat that the modelled tips hold in the end.
    peak_reached : bool
        Whether the interior passed its peak before the run ended.
    end_time_s : float
    cells, steps, rejected_steps : int
    held_past_table : list of str
        Materials that became hotter than their data reach.
    """

    setup: Description
    history: dict[str, FloatArray]
    energy: EnergyBalance
    whole: float = 1.0
    tip_heat_J: float = 0.0
    peak_reached: bool = False
    end_time_s: float = 0.0
    cells: int = 0
    steps: int = 0
    rejected_steps: int = 0
    held_past_table: list[str] = field(default_factory=list)

    @classmethod
    def of(cls, recorder: Recorder, peak_reached: bool) -> Reading:
        """What a recorder has seen of its march."""
        setup, last, model = recorder.setup, recorder.last, recorder.model
        assert last is not None
        return cls(
            setup=setup,
            history=recorder.history(),
            energy=last.energy,
            whole=model.load_ohm(1.0) if setup.arrangement != "indirect" else 1.0,
            tip_heat_J=recorder.tip_heat_J(),
            peak_reached=peak_reached,
            end_time_s=last.time_s,
            cells=int(model.grid.active.sum()),
            steps=last.step,
            rejected_steps=last.rejected,
            held_past_table=recorder.held_past_table(),
        )

    @property
    def time_s(self) -> FloatArray:
        return self.history["time_s"]

    @cached_property
    def layer_peaks(self) -> dict[str, dict[str, float]]:
        """Peak and its time for every face that is followed, by the name of its column."""
        found, faces, rise_K = {}, followed_faces(), self.setup.numerics.tolerance_K
        for column in self.history:
            if layer_of(column) in faces:
                when_s, height_K = peak(self.time_s, self.history[column], rise_K)
                found[column.removesuffix("_K")] = {"peak_K": height_K, "time_s": when_s}
        return found
