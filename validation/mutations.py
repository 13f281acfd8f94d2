"""The model with one term switched off: what the suite must notice."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import replace
from typing import Any
from unittest import mock

import numpy as np

from nugget.field.electric import ElectricField, ElectricSolution
from nugget.grid import stack
from nugget.materials.tables import PropertyTables
from nugget.weld.interface_model import ContactModel
from nugget.weld.model import WeldModel


@contextmanager
def no_latent_heat() -> Iterator[None]:
    """Every heat of fusion is zero."""
    build = PropertyTables.build

    def bare(materials: Any, *rest: Any) -> PropertyTables:
        return build([replace(m, heat_of_fusion_J_kg=0.0) for m in materials], *rest)

    with mock.patch.object(PropertyTables, "build", bare):
        yield


@contextmanager
def no_interface_heat() -> Iterator[None]:
    """The heat r_c j^2 of the interfaces is left out of the cells."""
    heat = WeldModel.heat_W

    def without(self: WeldModel, solution: ElectricSolution, *rest: Any) -> Any:
        silent = tuple(np.zeros_like(q) for q in solution.interface_heat)
        return heat(self, replace(solution, interface_heat=silent), *rest)

    with mock.patch.object(WeldModel, "heat_W", without):
        yield


@contextmanager
def no_shunt() -> Iterator[None]:
    """The strip carries nothing between the tips."""
    build = stack.build_grid

    def slotted(setup: Any) -> stack.Grid:
        grid = build(setup)
        strip = grid.rows("strip")
        kept = tuple(g for g in grid.grounds if not strip.start <= g.row < strip.stop)
        return replace(grid, grounds=kept)

    with mock.patch.object(stack, "build_grid", slotted), mock.patch("nugget.weld.model.build_grid", slotted):
        yield


@contextmanager
def no_contact_growth() -> Iterator[None]:
    """Contacts keep their first radius."""
    start = ContactModel.__init__

    def frozen(self: ContactModel, *rest: Any) -> None:
        start(self, *rest)
        self.interface = replace(self.interface, cap_m=self.interface.first_m, moves=False)

    with mock.patch.object(ContactModel, "__init__", frozen):
        yield


@contextmanager
def no_heat_in_tip() -> Iterator[None]:
    """Tip and shank carry current without heating."""
    solve = ElectricField.solve

    def cold(self: ElectricField, *rest: Any) -> ElectricSolution:
        solution = solve(self, *rest)
        heat = solution.heat.copy()
        for band in self.grid.layer_rows:
            if band.role.endswith(("tip", "shank")):
                heat[band.start : band.end] = 0.0
        return replace(solution, heat=heat)

    with mock.patch.object(ElectricField, "solve", cold):
        yield


MUTATIONS: dict[str, Callable[[], AbstractContextManager[None]]] = {
    "latent heat": no_latent_heat,
    "interface heat": no_interface_heat,
    "shunt": no_shunt,
    "contact growth": no_contact_growth,
    "Joule heat in the tip": no_heat_in_tip,
}
