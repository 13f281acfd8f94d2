"""Charge and heat of one grid assembled from FiPy's terms.

Geometry (grid, interfaces, grounds) is the model's; face coefficients, Joule heat and losses are written
here, and FiPy discretises and solves. Theory: fields, interfaces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.crosscheck.properties import CellProperties
from nugget.errors import NuggetError
from nugget.grid.stack import Grid
from nugget.imports import quiet_fipy

BoolArray = npt.NDArray[np.bool_]
TWO_PI = 2.0 * np.pi
SWEEPS = {"LinearLUSolver": 4, "LinearPCGSolver": 2000, "LinearGMRESSolver": 2000}
"""FiPy's solvers that can take this problem, and the iterations each may use."""
TINY = 1e-9
"""Least covered share by which a current is divided; below it no current flows."""


@dataclass(frozen=True)
class Contact:
    """One interface as it is given; arrays have one entry per radial column.

    Attributes
    ----------
    fraction : ndarray
        Share of the column that is in contact.
    electrical, thermal : ndarray
        Resistance per area inside the contact [ohm m2], [m2 K/W].
    """

    fraction: FloatArray
    electrical: FloatArray
    thermal: FloatArray


@dataclass(frozen=True)
class Ampere:
    """The field of one ampere.

    Attributes
    ----------
    resistance_ohm : float
        Electrode top to ground.
    heat_W : ndarray, shape (nz, nr)
        Joule heat of each cell, interfaces not included [W/A2].
    interface_W_m2 : list of ndarray, shape (nr,)
        Heat of each interface per contact area [W/(m2 A2)].
    potential_V : ndarray, shape (nz, nr)
        Potential [V/A], not a number where nothing feeds a cell.
    """

    resistance_ohm: float
    heat_W: FloatArray
    interface_W_m2: list[FloatArray]
    potential_V: FloatArray


class FipyFields:
    """Both equations on one grid, built once: their coefficients are FiPy variables that change.

    Parameters
    ----------
    grid : Grid
    properties : CellProperties
    holder_K : float
        Temperature of the electrode holders.
    gap_W_m2K : float
        Gas conductance of an interface outside its contact.
    solver : str
        One of FiPy's solvers, see `SWEEPS`.
    """

    def __init__(
        self,
        grid: Grid,
        properties: CellProperties,
        holder_K: float,
        gap_W_m2K: float,
        solver: str = "LinearLUSolver",
    ) -> None:
        self.fipy = import_fipy()
        self.grid, self.properties, self.gap_W_m2K = grid, properties, gap_W_m2K
        self.mesh = self.fipy.CylindricalGrid2D(dx=grid.dr, dy=grid.dz)
        self.solver = getattr(self.fipy.solvers, solver)(tolerance=1e-13, iterations=SWEEPS[solver])
        self.carries = _carriers(grid)
        self.mirrored, self.held = grid.bottom == "mirror", grid.bottom == "holder"
        self.phi = self._variable(self.carries, 1.0, 0.0 if self.mirrored or self.held else None)
        self.T = self._variable(grid.active, holder_K, holder_K if self.held else None)
        self._equations()

    def _equations(self) -> None:
        fipy, mesh = self.fipy, self.mesh
        self.sigma, self.k = fipy.FaceVariable(mesh=mesh), fipy.FaceVariable(mesh=mesh)
        self.sink, self.capacity, self.source, self.loss = (fipy.CellVariable(mesh=mesh) for _ in range(4))
        self.charge = fipy.DiffusionTerm(coeff=self.sigma) - fipy.ImplicitSourceTerm(coeff=self.sink)
        transient = fipy.TransientTerm(coeff=self.capacity)
        losing = fipy.ImplicitSourceTerm(coeff=self.loss)
        self.heat = transient == fipy.DiffusionTerm(coeff=self.k) + self.source - losing

    def _variable(self, member: BoolArray, top: float, bottom: float | None) -> Any:
        """A cell variable held on top (and at the bottom) where cells are members."""
        variable = self.fipy.CellVariable(mesh=self.mesh, value=top, hasOld=True)
        nz, nr = self.grid.shape
        faces = np.zeros(self.mesh.numberOfFaces, dtype=bool)
        faces[nr * nz : nr * (nz + 1)] = member[-1]
        variable.constrain(top, where=faces)
        if bottom is not None:
            lower = np.zeros_like(faces)
            lower[:nr] = member[0]
            variable.constrain(bottom, where=lower)
        return variable

    def _coefficients(
        self, resist_r: FloatArray, resist_z: FloatArray, member: BoolArray
    ) -> tuple[FloatArray, FloatArray]:
        """Coefficients of flat and upright faces from resistivities: series of two half cells."""
        nz, nr = self.grid.shape
        flat, upright = np.zeros((nz + 1, nr)), np.zeros((nz, nr + 1))
        dz, dr = self.grid.dz[:, None], self.grid.dr[None, :]
        both = member[1:] & member[:-1]
        series = 0.5 * (dz[1:] * resist_z[1:] + dz[:-1] * resist_z[:-1])
        flat[1:-1] = np.where(both, 0.5 * (dz[1:] + dz[:-1]) / series, 0.0)
        flat[0], flat[-1] = member[0] / resist_z[0], member[-1] / resist_z[-1]
        side = member[:, 1:] & member[:, :-1]
        series = 0.5 * (dr[:, 1:] * resist_r[:, 1:] + dr[:, :-1] * resist_r[:, :-1])
        upright[:, 1:-1] = np.where(side, 0.5 * (dr[:, 1:] + dr[:, :-1]) / series, 0.0)
        return flat, upright

    def electric(self, T: FloatArray, contacts: Sequence[Contact]) -> Ampere:
        """Solve for the field of one ampere at cell temperatures [K]."""
        grid = self.grid
        rho = np.where(self.carries, self.properties.rho(T), 1.0)
        flat, upright = self._coefficients(rho, rho, self.carries)
        self._cross_interfaces(flat, rho, contacts)
        drains = np.zeros(grid.shape)
        for g in grid.grounds:
            ring = TWO_PI * grid.dz[g.row]
            within = 0.5 * grid.dr[g.column] / (ring * grid.r_faces[g.column + 1])
            drains[g.row, g.column] = 1.0 / (rho[g.row, g.column] * (within + g.planar_factor / ring))
        fed = self._fed(flat, upright, drains)
        # Cells that nothing feeds are cut off and held at zero, or the matrix would be singular.
        flat[1:-1] *= fed[1:] & fed[:-1]
        upright[:, 1:-1] *= fed[:, 1:] & fed[:, :-1]
        self.sigma.setValue(_joined(flat, upright))
        self.sink.setValue(np.where(fed, drains / grid.volume, 1.0).ravel())
        self.charge.solve(var=self.phi, solver=self.solver)
        phi = np.asarray(self.phi.value, dtype=np.float64).reshape(grid.shape)
        ampere = self._ampere(phi, rho, flat, upright, contacts, drains)
        return replace(ampere, potential_V=np.where(fed, ampere.potential_V, np.nan))

    def _cross_interfaces(self, flat: FloatArray, rho: FloatArray, contacts: Sequence[Contact]) -> None:
        """Put the covered share and the resistance of each interface into its faces."""
        dz = self.grid.dz
        for i, contact in zip(self.grid.interfaces, contacts, strict=True):
            above, below = 0.5 * dz[i.above] * rho[i.above], 0.5 * dz[i.below] * rho[i.below]
            if i.mirrored:
                whole = above + 0.5 * contact.electrical
                flat[0] = np.where(self.carries[0], 0.5 * dz[0] * contact.fraction / whole, 0.0)
            else:
                distance = 0.5 * (dz[i.above] + dz[i.below])
                both = self.carries[i.above] & self.carries[i.below]
                whole = above + contact.electrical + below
                flat[i.above] = np.where(both, distance * contact.fraction / whole, 0.0)
        if not self.mirrored and not self.held:
            flat[0] = 0.0

    def _fed(self, flat: FloatArray, upright: FloatArray, drains: FloatArray) -> BoolArray:
        """Cells that are joined to the electrode's top, to a held bottom or to a ground."""
        # Half a second of import, which a program that only welds need not wait for.
        from scipy.sparse import coo_array
        from scipy.sparse.csgraph import connected_components

        nz, nr = self.grid.shape
        number = np.arange(nz * nr).reshape(nz, nr)
        up, out = flat[1:-1] > 0.0, upright[:, 1:-1] > 0.0
        one = np.concatenate([number[:-1][up], number[:, :-1][out]])
        other = np.concatenate([number[1:][up], number[:, 1:][out]])
        joined = coo_array((np.ones(len(one)), (one, other)), shape=(nz * nr, nz * nr))
        _, label = connected_components(joined, directed=False)
        label = label.reshape(nz, nr)
        roots = np.concatenate([label[-1][flat[-1] > 0.0], label[0][flat[0] > 0.0], label[drains > 0.0]])
        return np.asarray(np.isin(label, roots) & self.carries)

    def _ampere(
        self,
        phi: FloatArray,
        rho: FloatArray,
        flat: FloatArray,
        upright: FloatArray,
        contacts: Sequence[Contact],
        drains: FloatArray,
    ) -> Ampere:
        """Resistance and heats of the potential `phi` under one volt, scaled to one ampere."""
        grid, plane = self.grid, self.grid.area_z
        half = 0.5 * grid.dz[:, None]
        top = flat[-1] * plane / half[-1] * (1.0 - phi[-1])
        heat = np.zeros(grid.shape)
        heat[-1] += top**2 * rho[-1] * half[-1] / plane
        ring = TWO_PI * grid.r_faces[None, 1:-1] * grid.dz[:, None]
        i_r = upright[:, 1:-1] * ring / (0.5 * (grid.dr[1:] + grid.dr[:-1])) * np.diff(phi, axis=1)
        heat[:, 1:] += i_r**2 / ring * rho[:, 1:] * 0.5 * grid.dr[1:]
        heat[:, :-1] += i_r**2 / ring * rho[:, :-1] * 0.5 * grid.dr[:-1]
        i_z = flat[1:-1] * plane / (half[1:] + half[:-1]) * np.diff(phi, axis=0)
        area = np.broadcast_to(plane, i_z.shape).copy()
        for i, contact in zip(grid.interfaces, contacts, strict=True):
            if not i.mirrored:
                area[i.below] *= np.maximum(contact.fraction, TINY)
        heat[1:] += i_z**2 / area * rho[1:] * half[1:]
        heat[:-1] += i_z**2 / area * rho[:-1] * half[:-1]
        interface = []
        for i, contact in zip(grid.interfaces, contacts, strict=True):
            if i.mirrored:
                share = np.maximum(contact.fraction, TINY)
                j = flat[0] * phi[0] / half[0] / share
                heat[0] += j**2 * share * plane * rho[0] * half[0]
            else:
                j = i_z[i.below] / area[i.below]
            interface.append(contact.electrical * j**2)
        if self.held:
            heat[0] += (flat[0] * phi[0] / half[0]) ** 2 * plane * rho[0] * half[0]
        for g in grid.grounds:
            within = 0.5 * grid.dr[g.column] / (TWO_PI * grid.dz[g.row] * grid.r_faces[g.column + 1])
            amps = phi[g.row, g.column] * drains[g.row, g.column]
            heat[g.row, g.column] += amps**2 * rho[g.row, g.column] * within
        amps = float(top.sum())
        return Ampere(1.0 / amps, heat / amps**2, [q / amps**2 for q in interface], phi / amps)

    def heat_W(
        self, ampere: Ampere, current_A: float, T: FloatArray, contacts: Sequence[Contact]
    ) -> FloatArray:
        """Heat of each cell [W]: its own, and its share of what the interfaces make.

        Half of an interface's heat enters each surface; what the contact then passes from one to the
        other follows from the half cells' resistances to heat.
        """
        grid, k = self.grid, self.properties.k_z(T)
        power = current_A**2 * ampere.heat_W
        for i, contact, per_area in zip(grid.interfaces, contacts, ampere.interface_W_m2, strict=True):
            whole = current_A**2 * per_area * contact.fraction * grid.area_z
            if i.mirrored:
                power[i.above] += 0.5 * whole
                continue
            above, below = 0.5 * grid.dz[i.above] / k[i.above], 0.5 * grid.dz[i.below] / k[i.below]
            share = (below + 0.5 * contact.thermal) / (above + contact.thermal + below)
            power[i.above] += whole * share
            power[i.below] += whole * (1.0 - share)
        return power

    def conduction(self, T: FloatArray, contacts: Sequence[Contact], tip_closed: bool) -> FloatArray:
        """Coefficients of all faces for heat; a lifted tip conducts nothing."""
        grid, dz = self.grid, self.grid.dz
        k = self.properties.k_z(T)
        flat, upright = self._coefficients(1.0 / self.properties.k_r(T), 1.0 / k, grid.active)
        for layer in grid.layer_rows:
            row = layer.start
            if layer.conductance_below_W_m2K is not None and row > 0:
                distance = 0.5 * (dz[row] + dz[row - 1])
                touching = flat[row] > 0.0
                series = 1.0 / np.where(touching, flat[row], 1.0)
                series = series + 1.0 / (distance * layer.conductance_below_W_m2K)
                flat[row] = np.where(touching, 1.0 / series, 0.0)
        for i, contact in zip(grid.interfaces, contacts, strict=True):
            if i.mirrored:
                continue
            if not tip_closed and "tip" in i.name:
                flat[i.above] = 0.0
                continue
            halves = 0.5 * dz[i.above] / k[i.above] + 0.5 * dz[i.below] / k[i.below]
            per_area = contact.fraction / (halves + contact.thermal)
            per_area += (1.0 - contact.fraction) / (halves + 1.0 / self.gap_W_m2K)
            both = grid.active[i.above] & grid.active[i.below]
            flat[i.above] = np.where(both, per_area * 0.5 * (dz[i.above] + dz[i.below]), 0.0)
        if not self.held:
            flat[0] = 0.0
        return _joined(flat, upright)

    def warm(
        self, T: FloatArray, faces: FloatArray, capacity: FloatArray, source_W_m3: FloatArray, dt_s: float
    ) -> FloatArray:
        """Solve ``C (T' - T) / dt = div(k grad T') + source - loss T'`` and return T' [K].

        `faces` are the coefficients that `conduction` gives; ``loss`` [W/(m3 K)] is the variable of that
        name, zero unless set.
        """
        self.T.setValue(T.ravel())
        self.T.updateOld()
        self.capacity.setValue(capacity.ravel())
        self.k.setValue(faces)
        self.source.setValue(source_W_m3.ravel())
        self.heat.solve(var=self.T, dt=dt_s, solver=self.solver)
        return np.asarray(self.T.value, dtype=np.float64).reshape(self.grid.shape)


def import_fipy() -> ModuleType:
    """Return the module ``fipy``; importing it takes about a second.

    Raises
    ------
    NuggetError
        If FiPy cannot be imported.
    """
    try:
        with quiet_fipy():
            import fipy
    except ImportError as failure:
        raise NuggetError(f"the cross-check needs FiPy, which cannot be imported: {failure}") from failure
    module: ModuleType = fipy
    return module


def exposed_area(grid: Grid) -> FloatArray:
    """Area of each cell that faces the air [m2].

    Counted face by face: one side active, the other not. Rims of sheets and of the interior, and the holes
    of rings, count as insulated; the sides of tip and shank are free, the bottom only where the grid says so.
    """
    nz, nr = grid.shape
    around = np.zeros((nz + 2, nr + 2), dtype=bool)
    around[1:-1, 1:-1] = grid.active
    around[-1] = True  # the holder
    around[0] = grid.bottom != "free"
    for layer in grid.layer_rows:  # still air in the hole of a ring takes nothing
        hole = grid.r_faces[1:] < layer.inner_radius_m * (1.0 + 1e-9)
        around[1 + layer.start : 1 + layer.end, 1:-1] |= hole
    round_sides = np.zeros((nz, 1), dtype=bool)
    for layer in grid.layer_rows:
        round_sides[layer.start : layer.end] |= layer.role.endswith(("tip", "shank"))
    flat = (~around[2:, 1:-1]).astype(float) + ~around[:-2, 1:-1]
    outwards = ~around[1:-1, 2:] & round_sides
    side = TWO_PI * grid.r_faces[None, 1:] * grid.dz[:, None]
    return np.asarray(grid.active * (flat * grid.area_z + outwards * side), dtype=np.float64)


def _carriers(grid: Grid) -> BoolArray:
    """Cells that carry current: conductors, up to the ground of their row."""
    conducts = np.array([m.resistivity is not None for m in grid.materials])
    carries = np.asarray(grid.active & conducts[grid.material])
    for ground in grid.grounds:
        carries[ground.row, ground.column + 1 :] = False
    return carries


def _joined(flat: FloatArray, upright: FloatArray) -> FloatArray:
    """All faces in FiPy's order."""
    return np.concatenate([flat.ravel(), upright.ravel()])
