"""The coupled weld with bilinear finite elements (scikit-fem) on its own mesh.

Each side of a contact is a body of its own; contacts couple the traces of two bodies through
their resistance, integrated exactly up to the contact radius. Enthalpy is lumped at the nodes.
Losses to air are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.crosscheck.properties import CellProperties, EnthalpyCurve
from nugget.grid.stack import build_grid
from nugget.setup import Setup
from validation.peers import fem_mesh
from validation.peers.contact import Balance, Spot
from validation.peers.fipy_weld import Past, State
from validation.peers.stepping import Backward, current_A, load_ohm

IntArray = npt.NDArray[np.intp]
Trace = tuple[IntArray, IntArray | None, FloatArray, list[CellProperties]]
SETTLED_RADIUS = 5e-4


class Nodes:
    """Enthalpy of nodes that hold several materials: one table for each mixture."""

    def __init__(self, volumes: FloatArray, matters: list[EnthalpyCurve]) -> None:
        self.volume = volumes.sum(axis=1)
        shares = np.round(volumes / self.volume[:, None], 9)
        kinds, self.kind = np.unique(shares, axis=0, return_inverse=True)
        self.kind = np.asarray(self.kind).ravel()
        shortest = min(len(m.T) for m in matters)
        self.T = matters[0].T[:shortest]
        self.h = [sum(w * m.h[:shortest] for w, m in zip(kind, matters, strict=True)) for kind in kinds]

    def _each(self, x: FloatArray, read: Any) -> FloatArray:
        found = np.zeros_like(x)
        for n, table in enumerate(self.h):
            here = self.kind == n
            found[here] = read(x[here], table)
        return found

    def enthalpy(self, T: FloatArray) -> FloatArray:
        return self._each(T, lambda x, h: np.interp(x, self.T, h))

    def temperature(self, h: FloatArray) -> FloatArray:
        return self._each(h, lambda x, table: np.interp(x, table, self.T))

    def capacity(self, T: FloatArray) -> FloatArray:
        step = self.T[1] - self.T[0]
        at = np.clip(((T - self.T[0]) / step).astype(int), 0, len(self.T) - 2)
        found = np.zeros_like(T)
        for n, table in enumerate(self.h):
            here = self.kind == n
            found[here] = np.diff(table)[at[here]] / step
        return found


class FemWeld:
    """March one setup with scikit-fem; `fineness` divides every spacing of its mesh."""

    def __init__(self, setup: Setup, fineness: float = 1.0, settled_K: float = 0.5) -> None:
        import skfem

        self.fem, self.setup, self.settled_K = skfem, setup, settled_K
        grid = build_grid(setup)
        self.mirrored = grid.bottom == "mirror"
        parts = fem_mesh.slabs_of(setup, grid)
        r = fem_mesh.radial(setup, [s for part in parts for s in part], fineness)
        strip = sum(layer.thickness_m for layer in setup.strip)
        self.bodies = [fem_mesh.body(part, r, (0.0, strip), fineness) for part in parts]
        self.bases = [skfem.Basis(b.mesh, skfem.ElementQuad1(), intorder=3) for b in self.bodies]
        counts = [b.mesh.p.shape[1] for b in self.bodies]
        self.start = np.concatenate([[0], np.cumsum(counts)]).astype(np.intp)
        self.size = int(self.start[-1])
        self.materials = list({id(s.material): s.material for part in parts for s in part}.values())
        self.stuff, self.sigma_on = [], []
        for b, basis in zip(self.bodies, self.bases, strict=True):
            which = np.array([[s.material is m for m in self.materials].index(True) for s in b.slabs])
            wide = np.repeat(which[b.element_slab][:, None], basis.X.shape[1], axis=1)
            self.stuff.append(CellProperties(self.materials, wide, setup.stirring))
            middle = b.mesh.p[0, b.mesh.t].mean(axis=0)
            reach = np.array([s.ground[0] if s.ground else np.inf for s in b.slabs])[b.element_slab]
            conducts = np.array([s.material.resistivity is not None for s in b.slabs])[b.element_slab]
            self.sigma_on.append(conducts & (middle < reach))
        self._forms()
        self.nodes = self._lumped()
        self.spots, self.traces = self._contacts(grid)
        self.grounds = self._ground_edges()
        self.top = self.bodies[-1].top + self.start[-2]
        self.live = self._live()

    def _forms(self) -> None:
        fem = self.fem

        @fem.BilinearForm
        def stiffness(u: Any, v: Any, w: Any) -> Any:
            solution = w.kr * u.grad[0] * v.grad[0] + w.kz * u.grad[1] * v.grad[1]
            return 2.0 * np.pi * w.x[0] * solution

        @fem.LinearForm
        def joule(v: Any, w: Any) -> Any:
            return 2.0 * np.pi * w.x[0] * w.q * v

        @fem.LinearForm
        def volume(v: Any, w: Any) -> Any:
            return 2.0 * np.pi * w.x[0] * w.inside * v

        self.stiffness, self.joule, self.volume = stiffness, joule, volume

    def _lumped(self) -> Nodes:
        volumes = np.zeros((self.size, len(self.materials)))
        for n, basis in enumerate(self.bases):
            for m in range(len(self.materials)):
                inside = self.stuff[n].where[m].astype(float)
                if inside.any():
                    part = slice(self.start[n], self.start[n + 1])
                    volumes[part, m] = self.volume.assemble(basis, inside=inside)
        return Nodes(volumes, [EnthalpyCurve(m) for m in self.materials])

    def _contacts(self, grid: Any) -> tuple[list[Spot], list[Trace]]:
        """Spots, and for each the nodes above and below, their radii and the two materials."""
        setup = self.setup
        gap = float(setup.contact.gas.conductivity_z(setup.ambient_K)) / setup.contact.stand_off_m
        spots, traces = [], []
        for i in grid.interfaces:
            upper = len(self.bodies) - (1 if i.name == "tip" else 2)
            above = self.bodies[upper].bottom + self.start[upper]
            pair = [self.bodies[upper].slabs[0].material] * 2
            below: IntArray | None = None
            if not i.mirrored:
                below = self.bodies[upper - 1].top + self.start[upper - 1]
                pair[1] = self.bodies[upper - 1].slabs[-1].material
            n = len(above) if below is None else min(len(above), len(below))
            r = self.bodies[upper].mesh.p[0, self.bodies[upper].bottom[:n]]
            areas = np.pi * np.diff(r**2)
            spots.append(Spot(setup, i, 0.5 * (r[1:] + r[:-1]), areas, gap))
            sides = [CellProperties([m], np.zeros(n - 1, dtype=np.intp), 1.0) for m in pair]
            traces.append((above[:n], None if below is None else below[:n], r, sides))
        return spots, traces

    def _ground_edges(self) -> list[tuple[IntArray, FloatArray, float, Any]]:
        """Element edges at each ground radius: node pairs, their lengths, planar factor, material."""
        found = []
        for n, b in enumerate(self.bodies):
            for slab in b.slabs:
                if slab.ground is None:
                    continue
                p = b.mesh.p
                on = np.abs(p[0] - slab.ground[0]) < 1e-10
                on &= (p[1] > slab.low - 1e-10) & (p[1] < slab.high + 1e-10)
                line = np.flatnonzero(on)
                line = line[np.argsort(p[1, line])]
                pairs = np.stack([line[:-1], line[1:]]) + self.start[n]
                stuff = CellProperties([slab.material], np.zeros(pairs.shape[1], dtype=np.intp), 1.0)
                found.append((pairs, np.diff(p[1, line]), slab.ground[1], stuff))
        return found

    def _live(self) -> IntArray:
        """Nodes of the electric problem."""
        on = np.zeros(self.size, dtype=bool)
        for n, (b, member) in enumerate(zip(self.bodies, self.sigma_on, strict=True)):
            on[b.mesh.t[:, member].ravel() + self.start[n]] = True
        return np.flatnonzero(on)

    def _local(self, T: FloatArray) -> list[Any]:
        return [
            np.asarray(basis.interpolate(T[self.start[n] : self.start[n + 1]]))
            for n, basis in enumerate(self.bases)
        ]

    def _assemble(self, k_r: list[FloatArray], k_z: list[FloatArray]) -> Any:
        from scipy.sparse import block_diag

        blocks = [
            self.stiffness.assemble(basis, kr=r, kz=z)
            for basis, r, z in zip(self.bases, k_r, k_z, strict=True)
        ]
        return block_diag(blocks, format="csr")

    def _ring(
        self, r: FloatArray, inside: FloatArray, outside: FloatArray, radius: float
    ) -> list[FloatArray]:
        """Element matrices of the integral of g u v 2 pi r dr; g is `inside` up to `radius`, then "
        "`outside`."""
        x, w = np.polynomial.legendre.leggauss(4)
        total = [np.zeros(len(r) - 1) for _ in range(3)]
        low, high = r[:-1], r[1:]
        cut = np.clip(radius, low, high)
        for a, b, g in ((low, cut, inside), (cut, high, outside)):
            for point, weight in zip(x, w, strict=True):
                at = 0.5 * (a + b) + 0.5 * (b - a) * point
                share = (at - low) / (high - low)
                mass = g * weight * 0.5 * (b - a) * 2.0 * np.pi * at
                for n, shape in enumerate(((1 - share) ** 2, share * (1 - share), share**2)):
                    total[n] += mass * shape
        return total

    def _couple(self, above: IntArray, below: IntArray | None, ring: list[FloatArray]) -> Any:
        """Sparse matrix of a coupling between two traces (or of one to zero)."""
        from scipy.sparse import coo_matrix

        rows, columns, values = [], [], []
        sides = [(above, above, 1.0)]
        if below is not None:
            sides += [(below, below, 1.0), (above, below, -1.0), (below, above, -1.0)]
        for first, second, sign in sides:
            for a, b, part in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
                rows.append(first[a : len(first) - 1 + a])
                columns.append(second[b : len(second) - 1 + b])
                values.append(sign * ring[part])
        matrix = coo_matrix(
            (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), (self.size, self.size)
        )
        return matrix.tocsr()

    def electric(self, T: FloatArray) -> tuple[float, FloatArray]:
        """Resistance and nodal Joule heat (interfaces included) for one ampere."""
        from scipy.sparse import coo_matrix

        local = self._local(T)
        sigma = [
            np.where(on[:, None], 1.0 / stuff.rho(t), 0.0)
            for on, stuff, t in zip(self.sigma_on, self.stuff, local, strict=True)
        ]
        matrix = self._assemble(sigma, sigma)
        for spot, (above, below, r, _) in zip(self.spots, self.traces, strict=True):
            g = (1.0 if below is not None else 2.0) / spot.electrical
            ring = self._ring(r, g, np.zeros_like(g), spot.radius_m)
            matrix = matrix + self._couple(above, below, ring)
        for pairs, length, factor, stuff in self.grounds:
            g = 2.0 * np.pi / (stuff.rho(T[pairs].mean(axis=0)) * factor) * length / 6.0
            i = np.concatenate([pairs[0], pairs[1], pairs[0], pairs[1]])
            j = np.concatenate([pairs[0], pairs[1], pairs[1], pairs[0]])
            matrix = (
                matrix
                + coo_matrix((np.concatenate([2 * g, 2 * g, g, g]), (i, j)), (self.size, self.size)).tocsr()
            )
        phi = np.zeros(self.size)
        phi[self.top] = 1.0
        free = np.setdiff1d(self.live, self.top)
        rhs = -(matrix[free] @ phi)
        phi[free] = _solve(matrix[free][:, free], rhs)
        amps = float(phi @ (matrix @ phi))
        heat = np.zeros(self.size)
        for n, (basis, s) in enumerate(zip(self.bases, sigma, strict=True)):
            grad = basis.interpolate(phi[self.start[n] : self.start[n + 1]]).grad
            part = slice(self.start[n], self.start[n + 1])
            heat[part] += self.joule.assemble(basis, q=s * (grad[0] ** 2 + grad[1] ** 2))
        for spot, (above, below, r, _) in zip(self.spots, self.traces, strict=True):
            g = (1.0 if below is not None else 2.0) / spot.electrical
            ring = self._ring(r, g, np.zeros_like(g), spot.radius_m)
            jump = phi[above] - (phi[below] if below is not None else 0.0)
            # The heat of each element, half to each side; the mirror's own half stays there.
            power = ring[0] * jump[:-1] ** 2 + 2 * ring[1] * jump[:-1] * jump[1:] + ring[2] * jump[1:] ** 2
            # Nodes of a ring hold unequal parts of its area: on the axis a third and two thirds.
            inner = (2.0 * r[:-1] + r[1:]) / (3.0 * (r[:-1] + r[1:]))
            for side in (above, below) if below is not None else (above,):
                half = (0.5 if below is not None else 1.0) * power
                np.add.at(heat, side[:-1], inner * half)
                np.add.at(heat, side[1:], (1.0 - inner) * half)
        return 1.0 / amps, heat / amps**2

    def _interfaces(self, T: FloatArray) -> None:
        for spot, (above, below, _, sides) in zip(self.spots, self.traces, strict=True):
            pair = [
                0.5 * (T[side][1:] + T[side][:-1]) for side in (above, below if below is not None else above)
            ]
            spot.update((pair[0], pair[1]), sides[0].rho(pair[0]) + sides[1].rho(pair[1]))

    def _conduction(self, T: FloatArray) -> Any:
        local = self._local(T)
        k_r = [stuff.k_r(t) for stuff, t in zip(self.stuff, local, strict=True)]
        k_z = [stuff.k_z(t) for stuff, t in zip(self.stuff, local, strict=True)]
        matrix = self._assemble(k_r, k_z)
        for spot, (above, below, r, _) in zip(self.spots, self.traces, strict=True):
            if below is not None:
                gap = np.full(len(r) - 1, spot.gap_W_m2K)
                matrix = matrix + self._couple(
                    above, below, self._ring(r, 1.0 / spot.thermal, gap, spot.radius_m)
                )
        return matrix

    def march(self, phases: list[tuple[FloatArray, bool]]) -> Iterator[State]:
        """Step through phases of (step sizes [s], source on); yield every state."""
        T = np.full(self.size, self.setup.ambient_K)
        h = self.nodes.enthalpy(T)
        past = Past(0.0, (h, h), (0.0, 0.0))
        for _ in range(3):
            self._interfaces(T)
        for spot in self.spots:
            spot.rest()
        balance = Balance(self.spots)
        before = tuple(s.radius_m for s in self.spots)
        for steps, on in phases:
            last: float | None = None
            for dt in steps:
                step = Backward.of(float(dt), last)
                now = tuple(s.radius_m for s in self.spots)
                if last is not None:
                    for spot, a, b in zip(self.spots, now, before, strict=True):
                        spot.radius_m = min(a + (a - b) * float(dt) / last, spot.interface.cap_m)
                for spot in self.spots:
                    spot.begin(step, on)
                before, guess = now, h
                for _ in range(30):
                    guess, T, amps, load = self._relax(step, past, guess, T, on)
                    if balance.settle() < SETTLED_RADIUS:
                        break
                else:
                    raise ArithmeticError(f"the contact does not settle at {past.time_s + dt:g} s")
                h = guess
                past = Past(past.time_s + float(dt), (h, past.h[0]), (amps, past.amps[0]))
                last = float(dt)
                balance.next_step()
                yield State(past.time_s, T, amps, load, tuple(s.radius_m for s in self.spots))
            past = Past(past.time_s, past.h, (0.0, 0.0))

    def _relax(
        self, step: Backward, past: Past, guess: FloatArray, T: FloatArray, on: bool
    ) -> tuple[FloatArray, FloatArray, float, float]:
        from scipy.sparse import diags

        amps, load, volume = 0.0, 0.0, self.nodes.volume
        free = np.setdiff1d(np.arange(self.size), self.top)
        holder = self.setup.electrode.holder_temperature_K
        for n in range(40):
            power = np.zeros(self.size)
            self._interfaces(T)
            if on:
                ohm, heat = self.electric(T)
                load = load_ohm(self.setup, ohm, self.mirrored)
                amps = current_A(self.setup, past.time_s + step.dt, step, past.amps, load)
                power = amps**2 * heat
            stiff = self._conduction(T)
            capacity = volume * self.nodes.capacity(T)
            stored = volume * (step.a * guess + step.b * past.h[0] + step.c * past.h[1]) / step.dt
            miss = power - stored - stiff @ T
            matrix = (stiff + diags(step.a * capacity / step.dt)).tocsr()
            change = np.zeros(self.size)
            change[self.top] = holder - T[self.top]
            miss = miss - matrix @ change
            change[free] = _solve(matrix[free][:, free], miss[free])
            # At the kinks of melting plain Newton steps may swing for ever.
            guess = guess + (1.0 if n < 8 else 0.5) * capacity / volume * change
            fresh = self.nodes.temperature(guess)
            off = float(np.abs(fresh - T).max())
            T = fresh
            # Kinks of the curves may leave a little that swings.
            if off < self.settled_K * (1.0 if n < 15 else 5.0):
                return guess, T, amps, load
        raise ArithmeticError(f"the temperature does not settle at {past.time_s + step.dt:g} s: {off:g} K")

    def at(self, T: FloatArray, places: list[tuple[float, float]]) -> FloatArray:
        """Temperatures at places (r, z)."""
        found = np.zeros(len(places))
        for n, (b, basis) in enumerate(zip(self.bodies, self.bases, strict=True)):
            low, high = b.slabs[0].low, b.slabs[-1].high
            mine = [k for k, (_, z) in enumerate(places) if low < z < high]
            if mine:
                points = np.array([places[k] for k in mine]).T
                found[mine] = basis.probes(points) @ T[self.start[n] : self.start[n + 1]]
        return found


def _solve(matrix: Any, side: FloatArray) -> FloatArray:
    """Solve a symmetric, definite system: no pivoting, and an order of its own that fills less."""
    from scipy.sparse.linalg import splu

    factors = splu(
        matrix.tocsc(), permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
    )
    return np.asarray(factors.solve(side))
