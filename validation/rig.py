"""Purpose-built materials, grids and marches: exact problems on the model's own operators."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, ClassVar

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.laws import ContactConditions, ContactLaw
from nugget.field.electric import ElectricSolution
from nugget.field.heat import Conduction, HeatField, NewtonUpdate
from nugget.grid.layout import LayerRows
from nugget.grid.stack import Grid, Ground, Interface
from nugget.materials.material import Citation, Curve, Material
from nugget.setup.description import Circuit, Description, Pulse
from nugget.supply.kinds import Source
from nugget.weld.active_source import ActiveSource, CircuitState
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.phases import Phase
from nugget.weld.stage import StageProblem, StageResult, StageSolver
from nugget.weld.state import WeldState, at_rest
from nugget.weld.stepper import Stepper
from validation.bench import bench

Property = float | Sequence[tuple[float, float]]

MADE_UP = Citation("made up for an exact problem", "estimated")


def curve(given: Property) -> Curve:
    """A constant, or rows of (temperature [K], value)."""
    rows = [(300.0, given)] if isinstance(given, int | float) else list(given)
    T, value = (np.array(column, dtype=np.float64) for column in zip(*rows, strict=True))
    return Curve(T, value, MADE_UP)


def matter(
    name: str = "made up",
    k: Property = 50.0,
    rho: Property | None = 1e-7,
    c: Property = 500.0,
    density: float = 8000.0,
    melting: tuple[float, float] | None = None,
    fusion: float = 0.0,
    hardness: Property = 1e9,
) -> Material:
    """A material of given curves; `melting` is solidus and liquidus [K], `fusion` in J/kg."""
    conductivity = curve(k)
    return Material(
        name=name,
        title=name,
        family="metal",
        density_kg_m3=density,
        heat_capacity=curve(c),
        conductivity_r=conductivity,
        conductivity_z=conductivity,
        resistivity=None if rho is None else curve(rho),
        solidus_K=melting[0] if melting else None,
        liquidus_K=melting[1] if melting else None,
        heat_of_fusion_J_kg=fusion,
        boiling_K=None,
        hardness=curve(hardness),
        origin="validation",
    )


def layered(
    r_faces: FloatArray,
    layers: Sequence[tuple[str, Material, FloatArray, float]],
    interfaces: Sequence[Interface] = (),
    grounds: Sequence[Ground] = (),
    bottom: str = "insulated",
) -> Grid:
    """A grid of layers (role, material, z faces, outer radius), bottom to top."""
    z = np.concatenate([layers[0][2][:1], *(faces[1:] for _, _, faces, _ in layers)])
    materials: list[Material] = []
    index = np.full((len(z) - 1, len(r_faces) - 1), -1, dtype=np.intp)
    layer_rows, start = [], 0
    for role, material, faces, radius in layers:
        if material not in materials:
            materials.append(material)
        end = start + len(faces) - 1
        index[start:end, r_faces[1:] <= radius * (1.0 + 1e-9)] = materials.index(material)
        layer_rows.append(LayerRows(material.title, role, start, end, radius, material))
        start = end
    return Grid(
        r_faces=np.asarray(r_faces, dtype=np.float64),
        z_faces=z,
        material=index,
        materials=tuple(materials),
        layer_rows=tuple(layer_rows),
        interfaces=tuple(interfaces),
        grounds=tuple(grounds),
        bottom=bottom,
    )


@dataclass(frozen=True)
class Perfect:
    """A contact of fixed radius and one resistance per area [ohm m2], none by default."""

    grows: ClassVar[bool] = False
    ohm_m2: float = 1e-20

    def resistance(self, contact: ContactConditions) -> FloatArray:
        return np.full_like(contact.above_K, self.ohm_m2)


def contact(
    row_below: int, columns: int, radius_m: float, name: str = "faying", law: ContactLaw | None = None
) -> Interface:
    """An interface of fixed radius above `row_below`."""
    law = law if law is not None else Perfect()
    return Interface(name, row_below + 1, row_below, columns, radius_m, radius_m, False, law)


@lru_cache(maxsize=1)
def _default() -> Description:
    return bench().si


def setup(
    source: Source | None = None, series_ohm: float = 0.0, series_H: float = 0.0, **changes: Any
) -> Description:
    """The default weld as an opposed one without losses to air, with `changes` on top."""
    base = replace(_default(), arrangement="opposed", heat_transfer_W_m2K=0.0, ambient_K=300.0, hold_s=0.0)
    base = replace(base, electrode=replace(base.electrode, holder_temperature_K=300.0))
    if source is not None:
        base = replace(base, circuit=Circuit(source, series_ohm, series_H))
    return replace(base, **changes)


def held(given: Description, temperature_K: float) -> Description:
    """The same with the electrode holder at another temperature."""
    return replace(given, electrode=replace(given.electrode, holder_temperature_K=temperature_K))


def model_on(grid: Grid, given: Description) -> WeldModel:
    """The coupled model on a grid of our own instead of the one built from the setup."""
    return WeldModel(given, grid)


class HeatedModel(WeldModel):
    """The coupled model with a prescribed heat source [W] per cell instead of Joule heat."""

    def __init__(self, setup: Description, grid: Grid, source_W: FloatArray) -> None:
        super().__init__(setup, grid)
        self.source_W = source_W

    def solve_electric(self, conductivity: FloatArray, contacts: Any) -> ElectricSolution:
        none = tuple(np.zeros(self.grid.shape[1]) for _ in self.grid.interfaces)
        return ElectricSolution(1.0, np.zeros(self.grid.shape), none, 0.0, np.zeros(self.grid.shape))

    def heat_W(self, solution: ElectricSolution, current_A: float, contacts: Any) -> FloatArray:
        return self.source_W


def heated(grid: Grid, given: Description, source_W: FloatArray) -> HeatedModel:
    """A model on `grid` that is heated by `source_W` while the pulse lasts."""
    return HeatedModel(given, grid, source_W)


def fixed_steps(
    stages: StageSolver, begin: WeldState, sizes_s: Sequence[float] | FloatArray, pulse: Pulse | None
) -> Iterator[WeldState]:
    """Steps of given sizes: the start and the state after each, all in one pulse (or none)."""
    stepper = Stepper(stages, Phase(0.0, float(np.sum(sizes_s)), pulse, 0.0, True))
    state = stepper.enter(begin)
    carry = stepper.start(state)
    yield state
    for dt in sizes_s:
        step = stepper.step(state, float(dt), carry)
        state, carry = step.state, step.carry
        yield state


def growing(first_s: float, end_s: float, ratio: float = 1.05) -> FloatArray:
    """Step sizes that grow by `ratio` from `first_s` and end at `end_s`."""
    sizes, total = [], 0.0
    step = first_s
    while total < end_s * (1.0 - 1e-12):
        sizes.append(min(step, end_s - total))
        total += sizes[-1]
        step *= ratio
    return np.array(sizes)


def every(march: March, until_s: float) -> Iterator[WeldState]:
    """Moments of a march up to a time."""
    for state in march:
        yield state
        if state.time_s >= until_s * (1.0 - 1e-12):
            return


def steady(
    model: WeldModel, source: ActiveSource | None, first_s: float = 1e-5, rounds: int = 26
) -> StageResult:
    """Steady state: implicit Euler stages of the model with ever longer steps; returns the last stage."""
    solver, state, tau = StageSolver(model), at_rest(model), first_s
    for _ in range(rounds):
        found = solver.solve(StageProblem.implicit_euler(state, tau, source))
        circuit = CircuitState(found.current_A)
        changed = {"temperature": found.temperature, "enthalpy": found.enthalpy, "contacts": found.contacts}
        state = replace(state, electric=found.electric, circuit=circuit, **changed)
        tau *= 4.0
    return found


def linear_step(
    heat: HeatField,
    conduction: Conduction,
    capacity: FloatArray,
    tau_s: float,
    temperature_K: FloatArray,
    power_W: FloatArray,
) -> NewtonUpdate:
    """One implicit step of the heat operator with constant properties from a given field."""
    h = capacity * temperature_K
    return heat.factor(conduction, capacity, tau_s).newton(conduction, h, (h, temperature_K), power_W)


def graded(marks: Sequence[float], fine: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Faces through `marks` with the wanted spacing (the model's own grader)."""
    from nugget.grading import graded_faces

    return graded_faces(marks, fine)
