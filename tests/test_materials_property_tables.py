"""Property tables: temperature from enthalpy and the rest from temperature, cell by cell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import curve, matter

from nugget.constants import REFERENCE_K
from nugget.materials import library, property_tables
from nugget.materials.curve import Curve
from nugget.materials.material import Material
from nugget.materials.property_tables import COLDEST_K, CellTables, PropertyTables, enthalpy_J_m3

NAMES = ("nickel-200", "can-steel", "cucrzr", "polypropylene", "jelly-roll-nmc", "air")
MATERIALS = {name: library.get(name) for name in NAMES}
TABLES = PropertyTables.build(list(MATERIALS.values()))


def bound(material: Material, count: int = 1, stirring: float = 1.0) -> CellTables:
    return PropertyTables.build([material], stirring).cells(np.zeros(count, dtype=np.intp))


def hottest(material: Material) -> float:
    return material.boiling_K or 2500.0


@pytest.mark.parametrize("name", NAMES)
def test_enthalpy_is_zero_at_the_reference_and_rises(name: str) -> None:
    material = MATERIALS[name]
    T = np.linspace(COLDEST_K, hottest(material), 500)
    assert float(enthalpy_J_m3(material, REFERENCE_K)) == 0.0
    assert (np.diff(enthalpy_J_m3(material, T)) > 0.0).all()


@given(name=st.sampled_from(NAMES), share=st.floats(0.0, 1.0))
def test_the_table_is_the_inverse_of_enthalpy(name: str, share: float) -> None:
    material = MATERIALS[name]
    T = COLDEST_K + share * (hottest(material) - COLDEST_K)
    cells = TABLES.cells(np.array([NAMES.index(name)]))
    found, _ = cells.temperature(np.atleast_1d(enthalpy_J_m3(material, T)))
    assert found[0] == pytest.approx(T, abs=0.3)


def test_a_made_up_metal_by_hand() -> None:
    """8000 kg/m3 x 500 J/(kg K); 300 kJ/kg enter evenly from 1500 to 1600 K."""
    metal = matter()
    assert enthalpy_J_m3(metal, [398.15, 1500.0, 1550.0, 1600.0]) == pytest.approx(
        [4e8, 4e6 * 1201.85, 4e6 * 1251.85 + 1.2e9, 4e6 * 1301.85 + 2.4e9]
    )


@pytest.mark.parametrize(
    ("T", "expected"), [(1000.0, 4e6), (1550.0, 4e6 + 8000.0 * 3e5 / 100.0), (2000.0, 4e6)]
)
def test_heat_capacity_holds_the_latent_heat_while_melting(T: float, expected: float) -> None:
    _, capacity = bound(matter()).temperature(np.atleast_1d(enthalpy_J_m3(matter(), T)))
    assert capacity[0] == pytest.approx(expected, rel=2e-3)


@given(name=st.sampled_from(NAMES), share=st.floats(0.0, 0.999))
def test_heat_capacity_is_the_slope_of_the_table(name: str, share: float) -> None:
    """Newton steps rely on it, also across the nodes of the table."""
    index = np.array([NAMES.index(name)])
    cells = TABLES.cells(index)
    top = float(enthalpy_J_m3(MATERIALS[name], hottest(MATERIALS[name])))
    start, step = TABLES.enthalpy_start[index], TABLES.enthalpy_step[index]
    node = np.floor(share * (top - start) / step)
    T, capacity = cells.temperature(start + (node + 0.25) * step)
    later, same = cells.temperature(start + (node + 0.75) * step)
    assert capacity[0] == pytest.approx(same[0])
    assert capacity[0] * (later - T)[0] == pytest.approx(0.5 * step[0], rel=1e-6)


def test_temperature_stands_still_at_the_boiling_point_however_much_heat_enters() -> None:
    metal = matter(boiling_K=3000.0)
    boiling = float(enthalpy_J_m3(metal, 3000.0))
    T, capacity = bound(metal, 3).temperature(boiling + np.array([0.0, 2e9, 2e10]))
    assert pytest.approx(3000.0, abs=0.6) == T
    assert (capacity[1:] > 1e10).all()


def test_marks_of_melting_and_boiling() -> None:
    never = matter(solidus_K=None, liquidus_K=None)
    tables = PropertyTables.build([matter(boiling_K=3000.0), never])
    assert tables.solidus_J_m3[0] == pytest.approx(4e6 * 1201.85)
    assert tables.liquidus_J_m3[0] == pytest.approx(4e6 * 1301.85 + 2.4e9)
    assert tables.boiling_J_m3[0] == pytest.approx(4e6 * 2701.85 + 2.4e9)
    assert tables.melting_K[0] == 1550.0
    for mark in (tables.solidus_J_m3, tables.liquidus_J_m3, tables.boiling_J_m3, tables.melting_K):
        assert mark[1] == np.inf


@given(name=st.sampled_from(NAMES), T=st.floats(COLDEST_K, 2500.0))
def test_properties_are_those_of_the_material(name: str, T: float) -> None:
    material = MATERIALS[name]
    k_r, k_z, sigma, _ = TABLES.cells(np.array([NAMES.index(name)])).properties(np.array([T]))
    # Rows 2 K apart round off corners of the curves (a kink where a metal melts, most of all).
    near = np.linspace(T - 2.0, T + 2.0, 9)
    assert (
        material.conductivity_r(near).min() * 0.999 <= k_r[0] <= material.conductivity_r(near).max() * 1.001
    )
    assert (
        material.conductivity_z(near).min() * 0.999 <= k_z[0] <= material.conductivity_z(near).max() * 1.001
    )
    if material.resistivity is None:
        assert sigma[0] == 0.0
    else:
        rho = material.resistivity(near)
        assert rho.min() * 0.999 <= 1.0 / sigma[0] <= rho.max() * 1.001


def test_each_cell_gets_its_own_material() -> None:
    T = np.array([400.0, 400.0])
    k, _, sigma, _ = (
        PropertyTables.build([matter(k=20.0), matter(k=300.0, rho=None)])
        .cells(np.array([1, 0]))
        .properties(T)
    )
    assert k == pytest.approx([300.0, 20.0])
    assert sigma == pytest.approx([0.0, 1e7])


def test_stirring_quickens_the_melt_only() -> None:
    T = np.array([1000.0, 1550.0, 1700.0])
    k_r, k_z, sigma, _ = bound(matter(), 3, stirring=3.0).properties(T)
    assert k_r == pytest.approx([50.0, 100.0, 150.0])
    assert k_z == pytest.approx(k_r)
    assert sigma == pytest.approx(1e7)


def test_nothing_stirs_a_molten_polymer() -> None:
    """Stirred five times it handed on twice the heat to what lies behind it."""
    disc, T = library.get("polypropylene"), np.array([400.0, 440.0, 600.0])
    still, stirred = (bound(disc, 3, stirring=f).properties(T) for f in (1.0, 5.0))
    np.testing.assert_array_equal(still, stirred)


def test_values_are_held_past_the_last_row() -> None:
    metal = matter(k=[(300.0, 90.0), (900.0, 30.0)], rho=[(300.0, 1e-7), (1200.0, 4e-7)])
    k, _, sigma, _ = bound(metal, 2).properties(np.array([910.0, 5000.0]))
    assert k == pytest.approx(30.0)
    assert 1.0 / sigma[1] == pytest.approx(4e-7)


def test_the_table_ends_where_its_shortest_curve_ends() -> None:
    rows = [(300.0, 1.0), (900.0, 2.0)], [(300.0, 1e-7), (1200.0, 4e-7)], [(300.0, 500.0), (2000.0, 600.0)]
    metal = matter(k=rows[0], rho=rows[1], heat_capacity=curve(rows[2]))
    assert PropertyTables.build([metal]).table_end_K[0] == 900.0


def test_some_cells_are_looked_up_like_all() -> None:
    cells = TABLES.cells(np.arange(len(NAMES)))
    where = np.arange(len(NAMES)) % 2 == 0
    h = np.linspace(1e8, 2e9, len(NAMES))
    everywhere, part = cells.temperature(h), cells.some(where).temperature(h[where])
    for whole, few in zip(everywhere, part, strict=True):
        assert few == pytest.approx(whole[where])


def test_tables_are_kept_by_what_materials_hold_and_not_for_ever() -> None:
    metal = matter()
    first, again, stirred = (PropertyTables.build([replace(metal)], factor) for factor in (1.0, 1.0, 2.0))
    assert again.by_enthalpy is first.by_enthalpy
    assert stirred.by_enthalpy is first.by_enthalpy
    assert (stirred.by_temperature != first.by_temperature).any()
    warmer = PropertyTables.build([replace(metal, heat_of_fusion_J_kg=1e5)])
    assert warmer.liquidus_J_m3[0] < first.liquidus_J_m3[0]
    for k in range(property_tables.MOST_KEPT):
        PropertyTables.build([replace(metal, density_kg_m3=1000.0 + k)])
    assert property_tables._of_material.cache_info().currsize == property_tables.MOST_KEPT
    assert property_tables._kept.cache_info().currsize == property_tables.MOST_STACKS
    assert PropertyTables.build([metal]).by_enthalpy is not first.by_enthalpy


def test_what_cannot_be_pickled_is_tabulated_each_time() -> None:
    class Own(Curve):
        """A curve of a class that no other process could find."""

    curve_of = matter().heat_capacity
    own = replace(matter(), heat_capacity=Own(curve_of.temperature_K, curve_of.value, curve_of.citation))
    first, again = (PropertyTables.build([own], 3.0) for _ in range(2))
    assert first.by_enthalpy is not again.by_enthalpy
    assert (first.by_enthalpy == PropertyTables.build([matter()]).by_enthalpy).all()
