"""The heat equation: one implicit stage ``h - tau (div(k grad T) + q) = h_a`` (manual, theory-fields).

Enthalpy per volume `h` is the conserved unknown. A Newton step linearises T(h) with the heat
capacity dh/dT and updates `h` with the fluxes of the linear solution, so every iterate balances
energy to rounding, converged or not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.field.checkerboard import CheckerboardSolver
from nugget.field.faces import Faces
from nugget.field.linear import Factors, SolverKind
from nugget.grid.stack import Grid
from nugget.setup.layer_kinds import is_electrode

STALE = 0.5
"""A kept operator serves as long as no diagonal entry is off by this share: a Newton step then still
halves its error, which costs less than a factorisation."""


@dataclass(frozen=True)
class ThermalContact:
    """Thermal state of one interface.

    Attributes
    ----------
    contact_fraction : ndarray, shape (nr,)
        Share of each column's area that is in contact.
    resistance : ndarray, shape (nr,)
        Thermal resistance per area inside the contact [m2 K/W].
    gap_W_m2K : float
        Gas conductance outside the contact [W/(m2 K)].
    """

    contact_fraction: FloatArray
    resistance: FloatArray
    gap_W_m2K: float


@dataclass(frozen=True)
class Conduction:
    """Conductances [W/K] of one set of conductivities.

    Attributes
    ----------
    g_r, g_z : ndarray, shape (nz, nr - 1), (nz - 1, nr)
        Between neighbours.
    g_top, g_bottom : ndarray, shape (nr,)
        To the holders; None without a lower one.
    g_air : ndarray, shape (nz, nr)
        From each cell to the air; 1 where there is no cell, so that an operator has no empty row.
    """

    g_r: FloatArray
    g_z: FloatArray
    g_top: FloatArray
    g_bottom: FloatArray | None
    g_air: FloatArray

    @cached_property
    def coupling(self) -> FloatArray:
        """Sum of the conductances of each cell, shape (nz, nr)."""
        total = self.g_air.copy()
        total[:, 1:] += self.g_r
        total[:, :-1] += self.g_r
        total[1:] += self.g_z
        total[:-1] += self.g_z
        total[-1] += self.g_top
        if self.g_bottom is not None:
            total[0] += self.g_bottom
        return total


@dataclass(frozen=True)
class NewtonUpdate:
    """Result of one Newton step.

    Attributes
    ----------
    temperature_K : ndarray, shape (nz, nr)
        Of the linear solution, which carries the fluxes.
    enthalpy_J_m3 : ndarray, shape (nz, nr)
    holder_W, air_W : float
        Heat leaving to the holder and to the air.
    """

    temperature_K: FloatArray
    enthalpy_J_m3: FloatArray
    holder_W: float
    air_W: float


class HeatField:
    """Heat equation on one grid.

    Parameters
    ----------
    grid : Grid
    ambient_K, holder_K : float
        Temperature of the air and of the electrode holders.
    heat_transfer_W_m2K : float
        Heat transfer to the air.
    solver : callable
        Makes the linear solver.

    Attributes
    ----------
    kind_of_operator : type
        What `operator` makes.
    """

    kind_of_operator: ClassVar[type[HeatOperator]]

    def __init__(
        self,
        grid: Grid,
        ambient_K: float,
        holder_K: float,
        heat_transfer_W_m2K: float,
        solver: SolverKind = CheckerboardSolver,
    ) -> None:
        self.grid, self.ambient_K, self.holder_K = grid, ambient_K, holder_K
        self.active = grid.active
        self.volume = np.where(self.active, grid.volume, 0.0)
        everything = slice(None)
        self.faces = Faces.of(grid, self.active, everything, everything)
        self.solver = solver(*grid.shape)
        self.top = self.faces.plane * self.active[-1]
        self.bottom = self.faces.plane * self.active[0] if grid.bottom == "holder" else None
        self.g_air = heat_transfer_W_m2K * _exposed_area(grid)
        self.extra_z = np.zeros((grid.shape[0] - 1, 1))
        for band in grid.layer_rows:
            if band.conductance_below_W_m2K is not None and band.start > 0:
                self.extra_z[band.start - 1] = 1.0 / band.conductance_below_W_m2K

    def conduction(
        self, k_r: FloatArray, k_z: FloatArray, thermal_contacts: Sequence[ThermalContact]
    ) -> Conduction:
        """Conductances for conductivities [W/(m K)] of shape (nz, nr) and the interfaces' state."""
        faces = self.faces
        across, along = faces.half_r / k_r, faces.half_z / k_z
        g_r = faces.area_r / (across[:, 1:] + across[:, :-1])
        series = along[1:] + along[:-1]
        g_z = faces.area_z / (series + self.extra_z)
        for interface, contact in zip(self.grid.interfaces, thermal_contacts, strict=True):
            if not interface.mirrored:
                row, share = interface.below, contact.contact_fraction
                touching = share / (series[row] + contact.resistance)
                if contact.gap_W_m2K > 0.0:
                    touching = touching + (1.0 - share) / (series[row] + 1.0 / contact.gap_W_m2K)
                g_z[row] = faces.area_z[row] * touching
        bottom = None if self.bottom is None else self.bottom / along[0]
        return Conduction(g_r, g_z, self.top / along[-1], bottom, np.where(self.active, self.g_air, 1.0))

    def factor(self, conduction: Conduction, capacity: FloatArray, tau_s: float) -> HeatOperator:
        """Factor the stage operator ``V C / tau + K``.

        Raises
        ------
        ArithmeticError
            If it is not positive definite.
        """
        return self.operator(conduction, capacity, tau_s, None)

    def operator(
        self, conduction: Conduction, capacity: FloatArray, tau_s: float, kept: HeatOperator | None
    ) -> HeatOperator:
        """`kept` where it still serves, otherwise the stage operator factored anew.

        A Newton step with an operator whose diagonal is off by `STALE` loses that share of its
        convergence and nothing else; cool-down steps mostly reuse theirs.
        """
        diagonal = conduction.coupling + self.volume * capacity / tau_s
        if kept is not None and kept.serves(diagonal, tau_s):
            return kept
        factors = self.solver.factor(diagonal, conduction.g_r, conduction.g_z)
        return self.kind_of_operator(self, conduction, capacity, tau_s, diagonal, factors)

    def net(self, conduction: Conduction, temperature_K: FloatArray, heat_W: FloatArray) -> FloatArray:
        """Return the heat that each cell gains in a given field [W]."""
        T = temperature_K
        flow_r = conduction.g_r * (T[:, 1:] - T[:, :-1])
        flow_z = conduction.g_z * (T[1:] - T[:-1])
        net = heat_W - self.g_air * (T - self.ambient_K)
        net[:, :-1] += flow_r
        net[:, 1:] -= flow_r
        net[:-1] += flow_z
        net[1:] -= flow_z
        net[-1] -= conduction.g_top * (T[-1] - self.holder_K)
        if conduction.g_bottom is not None:
            net[0] -= conduction.g_bottom * (T[0] - self.holder_K)
        return net


@dataclass(frozen=True)
class HeatOperator:
    """The stage operator ``V C / tau + K`` of one state, factored."""

    field: HeatField
    conduction: Conduction
    capacity: FloatArray
    tau_s: float
    diagonal: FloatArray
    factors: Factors

    def serves(self, diagonal: FloatArray, tau_s: float) -> bool:
        """Whether it will do for an operator with this diagonal."""
        return tau_s == self.tau_s and bool(np.all(np.abs(diagonal - self.diagonal) < STALE * diagonal))

    def newton(
        self,
        conduction: Conduction,
        start: FloatArray,
        guess: tuple[FloatArray, FloatArray],
        heat_W: FloatArray,
    ) -> NewtonUpdate:
        """One Newton step.

        The operator may be older than `conduction`: the step then converges less fast, but its
        fluxes, ``K T - K_factored dT``, still balance what it puts into the enthalpy.

        Parameters
        ----------
        start : ndarray
            ``h_a``, what the stage starts from [J/m3].
        guess : tuple of ndarray
            Enthalpy [J/m3] and temperature [K] of the iterate that is improved.
        heat_W : ndarray
            Heat put into each cell [W].
        """
        (h, T), field, old = guess, self.field, self.conduction
        miss = field.volume * (start - h) / self.tau_s + field.net(conduction, T, heat_W)
        change = self.factors.solve(miss)
        holder = float((conduction.g_top * (T[-1] - field.holder_K) + old.g_top * change[-1]).sum())
        if conduction.g_bottom is not None and old.g_bottom is not None:
            outflow = conduction.g_bottom * (T[0] - field.holder_K) + old.g_bottom * change[0]
            holder += float(outflow.sum())
        air = float((field.g_air * (T + change - field.ambient_K)).sum())
        return NewtonUpdate(T + change, h + self.capacity * change, holder, air)

    def damped(self, change_J_m3: FloatArray) -> FloatArray:
        """What the operator leaves of an enthalpy change: ``V C / tau`` over it.

        Fast parts, which the implicit stages damp anyway, go; slow ones stay [J/m3].
        """
        left = self.factors.solve(self.field.volume * change_J_m3 / self.tau_s)
        return np.asarray(self.capacity * left, dtype=np.float64)


HeatField.kind_of_operator = HeatOperator


def _exposed_area(grid: Grid) -> FloatArray:
    """Area of each cell's free surfaces [m2]: towards the air; rims and holes count as insulated.

    A rim is the outer face of the outermost active cell of a row that belongs to a sheet or to
    the interior; the sides of tip and shank are free.
    """
    active, plane = grid.active, grid.area_z[None, :]
    area = np.zeros(grid.shape)
    air = ~(active | _holes(grid))
    area[:-1] += plane * (active[:-1] & air[1:])
    area[1:] += plane * (active[1:] & air[:-1])
    side = 2.0 * np.pi * grid.r_faces[1:][None, :] * grid.dz[:, None]
    tip_rows = np.zeros((grid.shape[0], 1), dtype=bool)
    for band in grid.layer_rows:
        tip_rows[band.start : band.end] |= is_electrode(band.role)
    outer = np.zeros(grid.shape, dtype=bool)
    outer[:, :-1] = active[:, :-1] & ~active[:, 1:]
    outer[:, -1] = active[:, -1]
    area += side * (outer & tip_rows)
    if grid.bottom == "free":
        area[0] += grid.area_z * active[0]
    return area


def _holes(grid: Grid) -> npt.NDArray[np.bool_]:
    """Cells in the holes of annular parts."""
    holes = np.zeros(grid.shape, dtype=bool)
    for band in grid.layer_rows:
        holes[band.start : band.end] = grid.r < band.inner_radius_m
    return holes
