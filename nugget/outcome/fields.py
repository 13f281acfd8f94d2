"""Fields in time: temperature, liquid fraction, potential and current density at chosen instants."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Protocol

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.errors import InputError
from nugget.field.electric import ElectricSolution
from nugget.outcome.melt import MeltReader
from nugget.units import to_si
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Fields:
    """What was kept of one weld; NaN in air, and of the electric fields in all that carries no current.

    Attributes
    ----------
    time_s : ndarray, shape (nt,)
    temperature_K, liquid_fraction : ndarray, shape (nt, nz, nr)
    potential_V : ndarray, shape (nt, nz, nr)
        Against the ground of the modelled circuit; 0 while the source is off.
    current_density_r_A_m2, current_density_z_A_m2 : ndarray, shape (nt, nz, nr)
        Outwards and upwards, at cell centres; a current downwards has a negative z component.
    """

    time_s: FloatArray
    temperature_K: FloatArray
    liquid_fraction: FloatArray
    potential_V: FloatArray
    current_density_r_A_m2: FloatArray
    current_density_z_A_m2: FloatArray


NAMES = tuple(field.name for field in fields(Fields) if field.name != "time_s")
ELECTRIC = NAMES[2:]
"""Fields that jump where the source is switched."""


class Keeper(Protocol):
    """Is shown every state and says in the end what it kept."""

    def add(self, state: WeldState) -> None: ...

    def kept(self) -> Fields: ...


def keeper(
    model: WeldModel,
    instants_s: Sequence[float | str] | None,
    every: int | None,
    longest_s: float,
    frames: int | None = None,
) -> Keeper | None:
    """Return what keeps the fields that were asked for; None when none were.

    Parameters
    ----------
    model : WeldModel
    instants_s : sequence of float or str, optional
        Instants since the start of the first pulse: [s], or text with a unit.
    every : int, optional
        Every so many steps, the first and the last state included.
    longest_s : float
        Where the run ends in any case [s].
    frames : int, optional
        So many states at most, evenly spread over the steps, however many those are.

    Raises
    ------
    InputError
    """
    if frames is not None:
        return _FewFrames(model, frames)
    if instants_s is None and every is None:
        return None
    if instants_s is not None and every is not None:
        raise InputError("every", every, "either keep or every, not both")
    if every is not None:
        if isinstance(every, bool) or not isinstance(every, int) or every < 1:
            raise InputError("every", every, "a count of steps from 1")
        return _EveryFew(model, every)
    instants = sorted({_instant(given, longest_s) for given in instants_s or ()})
    if not instants:
        raise InputError("keep", [], "at least one instant [s]")
    return _AtInstants(model, instants)


def _instant(given: float | str, longest_s: float) -> float:
    wanted = f"an instant from 0 to {longest_s:g} s, where the run ends"
    try:
        t = to_si(given, "time") if isinstance(given, str) else float(given)
    except (TypeError, ValueError) as error:
        raise InputError("keep", given, wanted) from error
    if not 0.0 <= t <= longest_s:
        raise InputError("keep", given, wanted)
    return t


class _EveryFew:
    """Keeps every `n`-th state, the first and the last."""

    def __init__(self, model: WeldModel, n: int) -> None:
        self.reader, self.n = FieldReader(model), n
        self._seen = 0
        self._kept: list[tuple[float, dict[str, FloatArray]]] = []
        self._last: WeldState | None = None

    def add(self, state: WeldState) -> None:
        self._last = state
        if self._seen % self.n == 0:
            self._kept.append((state.time_s, self.reader.read(state)))
        self._seen += 1

    def kept(self) -> Fields:
        if self._last is not None and self._last.time_s > self._kept[-1][0]:
            self._kept.append((self._last.time_s, self.reader.read(self._last)))
        return _stacked(self._kept)


class _FewFrames(_EveryFew):
    """Keeps every `n`-th state, and doubles `n` whenever twice as many as wanted are kept."""

    def __init__(self, model: WeldModel, frames: int) -> None:
        super().__init__(model, 1)
        self.frames = frames

    def add(self, state: WeldState) -> None:
        super().add(state)
        if len(self._kept) >= 2 * self.frames:
            self._kept, self.n = self._kept[::2], 2 * self.n


class _AtInstants:
    """Keeps the fields at given instants, linear between the steps around each."""

    def __init__(self, model: WeldModel, instants_s: Sequence[float]) -> None:
        self.reader, self._left = FieldReader(model), list(instants_s)
        self._kept: list[tuple[float, dict[str, FloatArray]]] = []
        self._before: WeldState | None = None

    def add(self, state: WeldState) -> None:
        before, self._before = self._before, state
        while self._left and self._left[0] <= state.time_s:
            t = self._left.pop(0)
            found = self.reader.read(state)
            if before is not None and t < state.time_s:
                found = self._between(before, state, found, t)
            self._kept.append((t, found))

    def _between(
        self, before: WeldState, after: WeldState, late: dict[str, FloatArray], t: float
    ) -> dict[str, FloatArray]:
        early = self.reader.read(before)
        share = (t - before.time_s) / (after.time_s - before.time_s)
        switched = (before.electric is None) != (after.electric is None)
        return {
            name: late[name]
            if switched and name in ELECTRIC  # what holds from the switching on
            else (1.0 - share) * early[name] + share * late[name]
            for name in NAMES
        }

    def kept(self) -> Fields:
        if self._left and self._before is not None:
            log.warning(
                "the run ended at %.4g s: %d instants after that were not kept",
                self._before.time_s,
                len(self._left),
            )
        if not self._kept and self._before is not None:
            self._kept.append((self._before.time_s, self.reader.read(self._before)))
        return _stacked(self._kept)


def _stacked(kept: Sequence[tuple[float, dict[str, FloatArray]]]) -> Fields:
    arrays = {name: np.array([found[name] for _, found in kept]) for name in NAMES}
    return Fields(time_s=np.array([t for t, _ in kept]), **arrays)


class FieldReader:
    """Reads the fields off the states of one model."""

    def __init__(self, model: WeldModel) -> None:
        self.model, self.grid, self.melt = model, model.grid, MeltReader(model)
        conducts = np.array([m.resistivity is not None for m in self.grid.materials])
        self.carries: npt.NDArray[np.bool_] = self.grid.active & conducts[self.grid.material]
        for ground in self.grid.grounds:
            self.carries[ground.row, ground.column + 1 :] = False

    def read(self, state: WeldState) -> dict[str, FloatArray]:
        """Return every field of one state by its name."""
        active, carries = self.grid.active, self.carries
        liquid = np.clip(self.melt.level(state.enthalpy), 0.0, 1.0)
        potential = along_r = along_z = np.zeros(self.grid.shape)
        if state.electric is not None:
            # Solved once more: the state's own solution is that of the iterate before, and the kept
            # fields should obey Ohm's law with each other.
            current_A = state.circuit.current_A
            _, _, sigma = self.model.cells.conductivities(state.temperature)
            solution = self.model.solve_electric(sigma, state.contacts)
            potential = current_A * solution.potential
            along_r, along_z = (current_A * j for j in self._densities(state, solution, sigma))
        found = (state.temperature, liquid, potential, along_r, along_z)
        where = (active, active, carries, carries, carries)
        return {
            name: np.where(there, values, np.nan)
            for name, values, there in zip(NAMES, found, where, strict=True)
        }

    def _densities(
        self, state: WeldState, solution: ElectricSolution, sigma: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Current density per ampere at the cell centres, outwards and upwards [1/m2].

        The mean of what passes the two faces of a cell. Through a contact it is the mean over the
        column: inside the covered share it is higher.
        """
        grid, phi = self.grid, solution.potential
        resistivity = np.where(self.carries, 1.0 / np.where(self.carries, sigma, 1.0), np.inf)
        across, along = 0.5 * grid.dr[None, :] * resistivity, 0.5 * grid.dz[:, None] * resistivity
        outward = np.zeros((grid.shape[0], grid.shape[1] + 1))
        outward[:, 1:-1] = (phi[:, :-1] - phi[:, 1:]) / (across[:, :-1] + across[:, 1:])
        upward = np.zeros((grid.shape[0] + 1, grid.shape[1]))
        series = along[:-1] + along[1:]
        share = np.ones_like(series)
        for interface, contact in zip(grid.interfaces, state.contacts, strict=True):
            if interface.mirrored:
                half = along[interface.above] + 0.5 * contact.electrical
                upward[interface.above] = -contact.contact_fraction * phi[interface.above] / half
            else:
                series[interface.below] += contact.electrical
                share[interface.below] = contact.contact_fraction
        upward[1:-1] = share * (phi[:-1] - phi[1:]) / series
        upward[-1] = (phi[-1] - solution.resistance_ohm) / along[-1]
        if grid.bottom == "holder":
            upward[0] = -phi[0] / along[0]
        self._close_grounds(outward, upward)
        return 0.5 * (outward[:, :-1] + outward[:, 1:]), 0.5 * (upward[:-1] + upward[1:])

    def _close_grounds(self, outward: FloatArray, upward: FloatArray) -> None:
        """What enters the cell of a ground leaves it outwards: current is conserved."""
        grid = self.grid
        for ground in grid.grounds:
            k, j = ground.row, ground.column
            net = (upward[k, j] - upward[k + 1, j]) * grid.area_z[j]
            ring = 2.0 * np.pi * grid.dz[k]
            outward[k, j + 1] = (outward[k, j] * grid.r_faces[j] * ring + net) / (grid.r_faces[j + 1] * ring)
