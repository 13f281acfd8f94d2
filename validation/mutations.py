"""The model with one term switched off or wrong: what the suite must notice, and which case does."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact import edge_correction, laws
from nugget.field.electric import ElectricField, ElectricSolution
from nugget.grid import stack
from nugget.materials.material import Material
from nugget.materials.property_tables import PropertyTables
from nugget.materials.strength import Strength
from nugget.merit.limit import Limit
from nugget.outcome import recorder
from nugget.outcome.joint import FayingPair
from nugget.weld import model
from nugget.weld.active_source import ActiveSource, CircuitState
from nugget.weld.interface_model import ContactModel, kind_of_contact_model
from nugget.weld.model import WeldModel


@contextmanager
def swapped(owner: Any, name: str, other: Any) -> Iterator[None]:
    """`owner` with another attribute `name` for a while."""
    before = owner.__dict__[name]
    setattr(owner, name, other)
    try:
        yield
    finally:
        setattr(owner, name, before)


@contextmanager
def other_materials(change: Callable[[Material], Material]) -> Iterator[None]:
    """Every material is changed on its way into the model's tables."""
    build = PropertyTables.build

    def changed(materials: Any, *rest: Any) -> PropertyTables:
        return build([change(m) for m in materials], *rest)

    with swapped(PropertyTables, "build", staticmethod(changed)):
        yield


def same_hardness(material: Material) -> Material:
    """A metal that heat does not soften."""
    hardness = material.hardness
    if hardness is None:
        return material
    return replace(
        material, hardness=replace(hardness, value=np.full_like(hardness.value, hardness.value[0]))
    )


def same_at_every_rate(material: Material) -> Material:
    """A metal that is as strong in a pulse as under slow load."""
    return replace(material, strength=Strength())


def melt_that_carries_nothing() -> AbstractContextManager[None]:
    """Melt in a contact gives way."""
    kind = kind_of_contact_model()
    own = kind.hardness

    def without(self: ContactModel, surfaces_K: FloatArray) -> FloatArray:
        solid = (surfaces_K < self.solidus_K).all(axis=0)
        return own(self, surfaces_K)[:] * solid

    return swapped(kind, "hardness", without)


def at_slow_load(contact: ContactModel) -> None:
    """Melt carries the same at every rate."""
    contact.melt_gains = np.full_like(contact.melt_gains, contact.melt_gains[0])


def both_sides_must_melt() -> AbstractContextManager[None]:
    """Whatever the metals, only melt on both sides counts as a joint."""
    return swapped(FayingPair, "level", lambda self, colder_K, both, either: both)


def no_carried_heat() -> AbstractContextManager[None]:
    """The current carries no heat across the interfaces."""
    return swapped(ContactModel, "peltier_V", lambda self, *surfaces: 0.0)


def films_without_lattice() -> AbstractContextManager[None]:
    """A film passes heat by its electrons only."""
    own = laws.heat_through
    return swapped(laws, "heat_through", lambda contact, spots, film, lattice: own(contact, spots, film, 0.0))


def no_room_in_the_melt() -> AbstractContextManager[None]:
    """No melt through the strip has room for a hole."""
    return swapped(recorder, "hole_width", lambda molten_share, r_faces_m: 0.0)


@contextmanager
def still_melt() -> Iterator[None]:
    """Melt conducts as if it stood still."""
    build = PropertyTables.build
    with swapped(PropertyTables, "build", staticmethod(lambda materials, *rest: build(materials))):
        yield


@contextmanager
def other_contacts(change: Callable[[ContactModel], None]) -> Iterator[None]:
    """Every contact of the model is changed as it is made."""
    start = ContactModel.__init__

    def changed(self: ContactModel, *rest: Any) -> None:
        start(self, *rest)
        change(self)

    with swapped(ContactModel, "__init__", changed):
        yield


def frozen(contact: ContactModel) -> None:
    """It keeps its first radius."""
    contact.interface = replace(contact.interface, cap_m=contact.interface.first_m, moves=False)


def boundless(contact: ContactModel) -> None:
    """It may grow past the face."""
    contact.interface = replace(contact.interface, cap_m=10.0 * contact.interface.cap_m)


def without_gas(contact: ContactModel) -> None:
    """Nothing conducts beside the metal."""
    contact.gap_W_m2K = 0.0


def no_interface_heat() -> AbstractContextManager[None]:
    """The heat r_c j^2 of the interfaces is left out of the cells."""
    heat = WeldModel.heat_W

    def without(self: WeldModel, solution: ElectricSolution, *rest: Any) -> Any:
        silent = tuple(np.zeros_like(q) for q in solution.interface_heat)
        return heat(self, replace(solution, interface_heat=silent), *rest)

    return swapped(WeldModel, "heat_W", without)


@contextmanager
def no_shunt() -> Iterator[None]:
    """The strip carries nothing between the tips."""
    build = stack.build_grid

    def slotted(setup: Any) -> stack.Grid:
        grid = build(setup)
        strip = grid.rows("strip")
        kept = tuple(g for g in grid.grounds if not strip.start <= g.row < strip.stop)
        return replace(grid, grounds=kept)

    with swapped(stack, "build_grid", slotted), swapped(model, "build_grid", slotted):
        yield


def no_heat_in_tip() -> AbstractContextManager[None]:
    """Tip and shank carry current without heating."""
    solve = ElectricField.solve

    def cold(self: ElectricField, *rest: Any) -> ElectricSolution:
        solution = solve(self, *rest)
        heat = solution.heat.copy()
        for band in self.grid.layer_rows:
            if band.role.endswith(("tip", "shank")):
                heat[band.start : band.end] = 0.0
        return replace(solution, heat=heat)

    return swapped(ElectricField, "solve", cold)


def half_the_series_resistance() -> AbstractContextManager[None]:
    """The circuit's own resistance counts half."""
    current = ActiveSource.current

    def strong(
        self: ActiveSource, time_s: float, tau_s: float, start: CircuitState, load_ohm: float
    ) -> float:
        return current(self, time_s, tau_s, start, load_ohm - 0.5 * self.circuit.series_ohm)

    return swapped(ActiveSource, "current", strong)


def plain_edge() -> AbstractContextManager[None]:
    """Contacts cover their own radius on the grid and nothing more."""
    none = np.zeros_like(edge_correction.smooth_rows()).tolist()
    return swapped(edge_correction, "table_rows", lambda: none)


def no_limits() -> AbstractContextManager[None]:
    """No limit ever breaks."""
    return swapped(Limit, "breaks", lambda self, value: False)


@dataclass(frozen=True)
class Mutation:
    """A wrong model, and the case that has to notice."""

    switch: Callable[[], AbstractContextManager[None]]
    caught_by: str


MUTATIONS: dict[str, Mutation] = {
    "latent heat": Mutation(
        partial(other_materials, lambda m: replace(m, heat_of_fusion_J_kg=0.0)), "4-cross-check-boiling"
    ),
    "interface heat": Mutation(no_interface_heat, "2-slabs"),
    "shunt": Mutation(no_shunt, "2-sheet"),
    "contact growth": Mutation(partial(other_contacts, frozen), "2-force"),
    "Joule heat in the tip": Mutation(no_heat_in_tip, "4-cross-check-boiling"),
    "half of the series resistance": Mutation(half_the_series_resistance, "2-capacitor"),
    "softening by heat": Mutation(partial(other_materials, same_hardness), "2-force"),
    "the cap of the contact": Mutation(partial(other_contacts, boundless), "2-force"),
    "conductance of the gap": Mutation(partial(other_contacts, without_gas), "2-slabs"),
    "anisotropy": Mutation(
        partial(other_materials, lambda m: replace(m, conductivity_r=m.conductivity_z)), "4-cross-check"
    ),
    "boiling": Mutation(
        partial(other_materials, lambda m: replace(m, boiling_K=None)), "4-cross-check-boiling"
    ),
    "the edge of the contact": Mutation(plain_edge, "2-constriction"),
    "the rate of strain": Mutation(partial(other_materials, same_at_every_rate), "2-creep"),
    "melt that carries": Mutation(melt_that_carries_nothing, "2-enclosed-melt"),
    "the rate in the melt": Mutation(partial(other_contacts, at_slow_load), "2-enclosed-melt"),
    "the rule of the pair": Mutation(both_sides_must_melt, "2-pair"),
    "heat that the current carries": Mutation(no_carried_heat, "2-peltier"),
    "stirring": Mutation(still_melt, "2-stirring"),
    "the lattice of a film": Mutation(films_without_lattice, "2-film"),
    "the hole in the strip": Mutation(no_room_in_the_melt, "2-hole"),
    "limits": Mutation(no_limits, "3-limits"),
}
