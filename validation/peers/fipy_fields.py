"""Charge and heat assembled from FiPy's terms on the model's own grid.

Geometry (grid, interfaces, grounds) is the model's; properties, contacts and Joule heat are written
here. Losses to air are left out.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.contact.edge import resolved_radius
from nugget.contact.spot import coverage
from nugget.grid.stack import Grid, build_grid
from nugget.setup import Setup
from validation.peers.contact import Spot
from validation.peers.matter import Stuff

TWO_PI = 2.0 * np.pi
SWEEPS = {"LinearLUSolver": 4, "LinearPCGSolver": 2000, "LinearGMRESSolver": 2000}
"""FiPy's solvers that can take this problem, and the iterations each may use."""


class FipyFields:
    """Both equations of one setup, and what couples them at one instant."""

    def __init__(self, setup: Setup, solver: str = "LinearLUSolver") -> None:
        from validation.quiet import quiet_import

        with quiet_import():
            import fipy
        self.fipy, self.setup = fipy, setup
        self.grid: Grid = build_grid(setup)
        grid = self.grid
        self.stuff = Stuff(grid.materials, np.maximum(grid.material, 0), setup.stirring)
        self.mesh = fipy.CylindricalGrid2D(dx=grid.dr, dy=grid.dz)
        self.solver = getattr(fipy.solvers, solver)(tolerance=1e-13, iterations=SWEEPS[solver])
        conducts = np.array([m.resistivity is not None for m in grid.materials])
        self.carries = grid.active & conducts[grid.material]
        for ground in grid.grounds:
            self.carries[ground.row, ground.column + 1 :] = False
        self.mirrored = grid.bottom == "mirror"
        gap = float(setup.contact.gas.conductivity_z(setup.ambient_K)) / setup.contact.gap_m
        self.spots = [
            Spot(setup, i, grid.r[: i.columns], grid.area_z[: i.columns], gap) for i in grid.interfaces
        ]
        self.top = slice(grid.shape[1] * grid.shape[0], grid.shape[1] * (grid.shape[0] + 1))
        self.phi = self._variable(
            self.carries, 1.0, 0.0 if self.mirrored or grid.bottom == "holder" else None
        )
        holder = setup.electrode.holder_temperature_K
        self.T = self._variable(grid.active, holder, holder if grid.bottom == "holder" else None)
        self._equations()

    def _equations(self) -> None:
        """Both equations, once: their coefficients are variables that change."""
        fipy, mesh = self.fipy, self.mesh
        self.sigma, self.k = fipy.FaceVariable(mesh=mesh), fipy.FaceVariable(mesh=mesh)
        self.sink, self.capacity, self.source = (fipy.CellVariable(mesh=mesh) for _ in range(3))
        self.charge = fipy.DiffusionTerm(coeff=self.sigma) - fipy.ImplicitSourceTerm(coeff=self.sink)
        transient = fipy.TransientTerm(coeff=self.capacity)
        self.heat = transient == fipy.DiffusionTerm(coeff=self.k) + self.source

    def _variable(self, member: npt.NDArray[np.bool_], top: float, bottom: float | None) -> Any:
        """A cell variable held on top (and at the bottom) where cells are members."""
        variable = self.fipy.CellVariable(mesh=self.mesh, value=top, hasOld=True)
        nr = self.grid.shape[1]
        faces = np.zeros(self.mesh.numberOfFaces, dtype=bool)
        faces[self.top] = member[-1]
        variable.constrain(top, where=faces)
        if bottom is not None:
            lower = np.zeros_like(faces)
            lower[:nr] = member[0]
            variable.constrain(bottom, where=lower)
        return variable

    @staticmethod
    def _faces(flat: FloatArray, upright: FloatArray) -> FloatArray:
        return np.concatenate([flat.ravel(), upright.ravel()])

    def _coefficients(
        self, resist_r: FloatArray, resist_z: FloatArray, member: npt.NDArray[np.bool_]
    ) -> tuple[FloatArray, FloatArray]:
        """Face coefficients from resistivities of heat or current: series of two half cells."""
        grid = self.grid
        nz, nr = grid.shape
        flat, upright = np.zeros((nz + 1, nr)), np.zeros((nz, nr + 1))
        dz, dr = grid.dz[:, None], grid.dr[None, :]
        both = member[1:] & member[:-1]
        distance = 0.5 * (dz[1:] + dz[:-1])
        series = 0.5 * (dz[1:] * resist_z[1:] + dz[:-1] * resist_z[:-1])
        flat[1:-1] = np.where(both, distance / series, 0.0)
        flat[0], flat[-1] = member[0] / resist_z[0], member[-1] / resist_z[-1]
        side = member[:, 1:] & member[:, :-1]
        series = 0.5 * (dr[:, 1:] * resist_r[:, 1:] + dr[:, :-1] * resist_r[:, :-1])
        upright[:, 1:-1] = np.where(side, 0.5 * (dr[:, 1:] + dr[:, :-1]) / series, 0.0)
        return flat, upright

    def _covered(self, spot: Spot) -> FloatArray:
        i, grid = spot.interface, self.grid
        height = 0.5 * (grid.dz[i.above] + grid.dz[i.below])
        reach = resolved_radius(spot.radius_m, grid.r_faces, height)
        return coverage(reach, grid.r_faces) * (np.arange(grid.shape[1]) < i.columns)

    def _widen(self, values: FloatArray, fill: float) -> FloatArray:
        full = np.full(self.grid.shape[1], fill)
        full[: len(values)] = values
        return full

    def electric(self, T: FloatArray) -> tuple[float, FloatArray, list[FloatArray]]:
        """Resistance, Joule heat per cell and interface heat per contact area, for one ampere."""
        grid = self.grid
        rho = np.where(self.carries, self.stuff.rho(T), 1.0)
        flat, upright = self._coefficients(rho, rho, self.carries)
        for spot in self.spots:
            i, covered = spot.interface, self._covered(spot)
            r_c = self._widen(spot.electrical, 1.0)
            above, below = 0.5 * grid.dz[i.above] * rho[i.above], 0.5 * grid.dz[i.below] * rho[i.below]
            if i.mirrored:
                whole = above + 0.5 * r_c
                flat[0] = np.where(self.carries[0], 0.5 * grid.dz[0] * covered / whole, 0.0)
            else:
                distance = 0.5 * (grid.dz[i.above] + grid.dz[i.below])
                both = self.carries[i.above] & self.carries[i.below]
                flat[i.above] = np.where(both, distance * covered / (above + r_c + below), 0.0)
        if not self.mirrored and grid.bottom != "holder":
            flat[0] = 0.0
        sink = np.where(self.carries, 0.0, 1.0)
        drains = []
        for g in grid.grounds:
            ring = TWO_PI * grid.dz[g.row]
            own = 0.5 * grid.dr[g.column] / (ring * grid.r_faces[g.column + 1])
            ohm = rho[g.row, g.column] * (own + g.planar_factor / ring)
            sink[g.row, g.column] += 1.0 / ohm / grid.volume[g.row, g.column]
            drains.append((g, ohm, rho[g.row, g.column] * own))
        self.sigma.setValue(self._faces(flat, upright))
        self.sink.setValue(sink.ravel())
        self.charge.solve(var=self.phi, solver=self.solver)
        phi = np.asarray(self.phi.value).reshape(grid.shape)
        top = flat[-1] * grid.area_z / (0.5 * grid.dz[-1]) * (1.0 - phi[-1])
        amps = float(top.sum())
        heat = np.zeros(grid.shape)
        plane = grid.area_z
        heat[-1] += top**2 * rho[-1] * 0.5 * grid.dz[-1] / plane
        ring = TWO_PI * grid.r_faces[None, 1:-1] * grid.dz[:, None]
        i_r = upright[:, 1:-1] * ring / (0.5 * (grid.dr[1:] + grid.dr[:-1])) * np.diff(phi, axis=1)
        heat[:, 1:] += i_r**2 / ring * rho[:, 1:] * 0.5 * grid.dr[1:]
        heat[:, :-1] += i_r**2 / ring * rho[:, :-1] * 0.5 * grid.dr[:-1]
        distance = 0.5 * (grid.dz[1:] + grid.dz[:-1])[:, None]
        i_z = flat[1:-1] * plane / distance * np.diff(phi, axis=0)
        area = np.broadcast_to(plane, i_z.shape).copy()
        for spot in self.spots:
            if not spot.interface.mirrored:
                area[spot.interface.below] *= np.maximum(self._covered(spot), 1e-9)
        heat[1:] += i_z**2 / area * rho[1:] * 0.5 * grid.dz[1:, None]
        heat[:-1] += i_z**2 / area * rho[:-1] * 0.5 * grid.dz[:-1, None]
        contact_heat = []
        for spot in self.spots:
            i, r_c = spot.interface, self._widen(spot.electrical, 0.0)
            if i.mirrored:
                covered = np.maximum(self._covered(spot), 1e-9)
                j = flat[0] * phi[0] / (0.5 * grid.dz[0]) / covered
                heat[0] += j**2 * covered * plane * rho[0] * 0.5 * grid.dz[0]
            else:
                j = i_z[i.below] / area[i.below]
            contact_heat.append(r_c * j**2)
        if grid.bottom == "holder":
            low = flat[0] * plane / (0.5 * grid.dz[0]) * phi[0]
            heat[0] += low**2 * rho[0] * 0.5 * grid.dz[0] / plane
        for g, ohm, own in drains:
            heat[g.row, g.column] += (phi[g.row, g.column] / ohm) ** 2 * own
        return 1.0 / amps, heat / amps**2, [q / amps**2 for q in contact_heat]

    def _interfaces(self, T: FloatArray, heats: list[FloatArray]) -> list[FloatArray]:
        """Bring the contacts up to date; return the shares of their heat for the upper side."""
        grid, k = self.grid, self.stuff.k_z(T)
        shares = []
        for spot, heat in zip(self.spots, heats, strict=True):
            i = spot.interface
            n = slice(0, i.columns)
            pair = T[i.above, n], T[i.below, n]
            halves = 0.5 * grid.dz[i.above] / k[i.above, n], 0.5 * grid.dz[i.below] / k[i.below, n]
            sides = spot.sides(pair, halves, heat[n])
            hard, rho = np.zeros(i.columns) + np.inf, np.zeros(i.columns)
            for row, side in zip((i.above, i.below), sides, strict=True):
                whole = T.copy()
                whole[row, n] = side
                hard = np.minimum(hard, self.stuff.hardness(whole)[row, n])
                rho = rho + self.stuff.rho(whole)[row, n]
            spot.update(hard, sides, rho)
            share = (halves[1] + 0.5 * spot.thermal) / (halves[0] + spot.thermal + halves[1])
            shares.append(self._widen(share, 0.5))
        return shares

    def _thermal(self, T: FloatArray, closed: bool) -> FloatArray:
        grid = self.grid
        flat, upright = self._coefficients(1.0 / self.stuff.k_r(T), 1.0 / self.stuff.k_z(T), grid.active)
        for band in grid.layer_rows:
            if band.conductance_below_W_m2K is not None and band.start > 0:
                distance = 0.5 * (grid.dz[band.start] + grid.dz[band.start - 1])
                flat[band.start] = 1.0 / (1.0 / np.maximum(flat[band.start], 1e-30) + 1.0 / (
                    distance * band.conductance_below_W_m2K
                )) * (flat[band.start] > 0.0)  # fmt: skip
        k = self.stuff.k_z(T)
        for spot in self.spots:
            i = spot.interface
            if i.mirrored:
                continue
            covered, thermal = self._covered(spot), self._widen(spot.thermal, 1.0)
            if not closed and "tip" in i.name:
                flat[i.above] = 0.0
                continue
            halves = 0.5 * grid.dz[i.above] / k[i.above] + 0.5 * grid.dz[i.below] / k[i.below]
            per_area = covered / (halves + thermal)
            per_area += (1.0 - covered) / (halves + 1.0 / spot.gap_W_m2K)
            both = grid.active[i.above] & grid.active[i.below]
            distance = 0.5 * (grid.dz[i.above] + grid.dz[i.below])
            flat[i.above] = np.where(both, per_area * distance, 0.0)
        if grid.bottom != "holder":
            flat[0] = 0.0
        return self._faces(flat, upright)
