"""Case 1, independent libraries: heat capacity and enthalpy; grid geometry."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from nugget.arrays import FloatArray
from nugget.grid.stack import build_grid
from nugget.imports import quiet_fipy
from nugget.materials import library
from nugget.materials.material import Material
from nugget.materials.property_tables import enthalpy_J_m3
from validation.bench import bench
from validation.case import Case, Check, Outcome, informative, scaled

# Built-in metal: molar mass [kg/mol], registry number, solid phases by temperature, liquid.
METALS: dict[str, tuple[float, str, tuple[str, ...], str]] = {
    "nickel": (58.6934e-3, "7440-02-0", ("Ni(cr)",), "Ni(L)"),
    "iron": (55.845e-3, "7439-89-6", ("Fe(a)", "Fe(c)", "Fe(d)"), "Fe(L)"),
    "copper": (63.546e-3, "7440-50-8", ("Cu(cr)",), "Cu(L)"),
    "aluminium": (26.981538e-3, "7429-90-5", ("AL(cr)",), "AL(L)"),
    "molybdenum": (95.95e-3, "7439-98-7", ("Mo(cr)",), "Mo(L)"),
    "zinc": (65.38e-3, "7440-66-6", ("Zn(cr)",), "Zn(L)"),
    "tungsten": (183.84e-3, "7440-33-7", (), ""),
}


# Their heat is judged by enthalpy: first-order transitions of iron, spread over 10 K to each side.
FIRST_ORDER_K = {"iron": (1184.0, 1665.0)}
# Near a magnetic transition only the NASA polynomials are judged: sources smear the peak differently.
MAGNETIC_K = {"nickel": 631.0, "iron": 1042.0}


def _apart(T: FloatArray, points: tuple[float, ...], distance_K: float) -> npt.NDArray[np.bool_]:
    """Which temperatures keep a distance from all points."""
    keep = np.ones(len(T), dtype=bool)
    for at in points:
        keep &= np.abs(T - at) > distance_K
    return keep


def _worst(label: str, material: Material, T: FloatArray, reference: FloatArray, limit: float) -> Check:
    value = material.heat_capacity(T)
    error = np.abs(value / reference - 1.0)
    at = int(error.argmax())
    note = f"worst of {len(T)} temperatures, at {T[at]:.4g} K"
    return scaled(
        label, float(value[at]), float(reference[at]), float(reference[at]), limit, "J/(kg K)", note
    )


def _enthalpy(material: Material, T: FloatArray) -> FloatArray:
    return enthalpy_J_m3(material, T) / material.density_kg_m3


def run_cantera() -> Outcome:
    import cantera

    species = {s.name: s for s in cantera.Species.list_from_file("nasa_condensed.yaml")}
    checks: list[Check] = []
    for name, (molar, _, solids, liquid) in METALS.items():
        if not solids:
            continue
        material = library.get(name)
        assert material.solidus_K is not None
        assert material.liquidus_K is not None
        T = np.arange(298.15, material.solidus_K, 5.0)
        thermo = [species[phase].thermo for phase in solids]

        def of(T: float, what: str, thermo: list = thermo, molar: float = molar) -> float:  # type: ignore[type-arg]
            phase = next((p for p in thermo if p.max_temp >= T), thermo[-1])
            return float(getattr(phase, what)(T)) / 1e3 / molar

        cp = np.array([of(float(x), "cp") for x in T])
        far = _apart(T, FIRST_ORDER_K.get(name, ()), 12.0)
        checks.append(_worst(f"{name}: heat capacity of the solid", material, T[far], cp[far], 0.03))
        base = of(298.15, "h")
        h = np.array([of(float(x), "h") for x in T[1:]]) - base
        mine = _enthalpy(material, T[1:])
        # The share of the enthalpy reached; near 298 K it starts from nothing.
        error = np.abs(mine - h) / np.maximum(h, 0.05 * h[-1])
        at = int(error.argmax())
        note = f"worst, at {T[at + 1]:.4g} K; below 5 % of the whole as a share of that 5 %"
        label = f"{name}: enthalpy from 298 K"
        checks.append(
            scaled(
                label,
                float(mine[at]),
                float(h[at]),
                max(float(h[at]), 0.05 * float(h[-1])),
                0.02,
                "J/kg",
                note,
            )
        )
        melt = species[liquid].thermo
        top = min(melt.max_temp, material.boiling_K or 6000.0, 1.3 * material.liquidus_K)
        hot = np.arange(material.liquidus_K + 1.0, top, 25.0)
        reference = np.array([melt.cp(float(x)) for x in hot]) / 1e3 / molar
        checks.append(_worst(f"{name}: heat capacity of the melt", material, hot, reference, 0.03))
        whole = float(melt.h(float(hot[0]))) / 1e3 / molar - base
        label = f"{name}: enthalpy from 298 K into the melt"
        value = float(_enthalpy(material, hot[:1])[0])
        checks.append(scaled(label, value, whole, whole, 0.02, "J/kg", "heat of fusion included"))
    return Outcome(tuple(checks))


def run_chemicals() -> Outcome:
    from chemicals import heat_capacity as book

    book._load_Cp_data()
    checks: list[Check] = []
    for name, (molar, number, _, _) in METALS.items():
        material = library.get(name)
        assert material.solidus_K is not None
        near = tuple(at for at in (MAGNETIC_K.get(name),) if at is not None)
        if number in book.Cp_dict_JANAF_solid:
            T, cp = (np.array(column) for column in book.Cp_dict_JANAF_solid[number])
            known = (T >= 298.0) & (material.solidus_K >= T) & ~_doubled(T) & _apart(T, near, 50.0)
            known &= _apart(T, FIRST_ORDER_K.get(name, ()), 12.0)
            label = f"{name}: heat capacity, JANAF table"
            checks.append(_worst(label, material, T[known], cp[known] / molar, 0.03))
        if number in book.WebBook_Shomate_solids:
            shomate = book.WebBook_Shomate_solids[number]
            T = np.arange(300.0, material.solidus_K, 10.0)
            T = T[_apart(T, near, 50.0) & _apart(T, FIRST_ORDER_K.get(name, ()), 12.0)]
            pieces = getattr(shomate, "models", [shomate])
            T = T[[any(p.Tmin <= x <= p.Tmax for p in pieces) for x in T]]
            reference = np.array([_shomate(pieces, float(x)) for x in T]) / molar
            if number in book.Cp_dict_JANAF_solid:
                # The equations were fitted to the JANAF table; where they miss it, it is right.
                table = np.interp(T, *book.Cp_dict_JANAF_solid[number]) / molar
                true = np.abs(reference / table - 1.0) <= 0.03
                missed = int((~true).sum())
                T, reference = T[true], reference[true]
                label = f"{name}: temperatures at which Shomate misses JANAF by over 3 %"
                checks.append(informative(label, missed, 0.0, "", f"of {len(true)}; left out"))
            checks.append(_worst(f"{name}: heat capacity, Shomate equations", material, T, reference, 0.03))
    return Outcome(tuple(checks))


def _shomate(pieces: list, T: float) -> float:  # type: ignore[type-arg]
    piece = next(p for p in pieces if p.Tmin <= T <= p.Tmax)
    return float(piece.calculate(T))


def _doubled(T: FloatArray) -> npt.NDArray[np.bool_]:
    """Rows of a temperature that the table gives twice (a transition)."""
    return np.array([int((x == T).sum()) > 1 for x in T])


def run_geometry() -> Outcome:
    with quiet_fipy():
        from fipy import CylindricalGrid2D
    grid = build_grid(bench())
    mesh = CylindricalGrid2D(dx=grid.dr, dy=grid.dz, origin=((0.0,), (float(grid.z_faces[0]),)))
    ours = grid.volume.ravel()
    theirs = 2.0 * np.pi * np.asarray(mesh.cellVolumes)
    nz, nr = grid.shape
    areas = 2.0 * np.pi * np.asarray(mesh._faceAreas)
    flat = areas[: nr * (nz + 1)].reshape(nz + 1, nr)
    upright = areas[nr * (nz + 1) :].reshape(nz, nr + 1)
    rings = 2.0 * np.pi * grid.r_faces[None, :] * grid.dz[:, None]
    compare: dict[str, Callable[[], float]] = {
        "cell volumes": lambda: float(np.abs(theirs / ours - 1.0).max()),
        "horizontal face areas": lambda: float(np.abs(flat / grid.area_z - 1.0).max()),
        "vertical face areas": lambda: float(np.abs(upright - rings).max() / rings.max()),
        "cell centres": lambda: float(
            np.abs(np.asarray(mesh.cellCenters[0]) - np.tile(grid.r, nz)).max() / grid.r[-1]
        ),
    }
    return Outcome(tuple(scaled(f"{name}, worst", find(), 0.0, 1.0, 1e-10) for name, find in compare.items()))


CASES = (
    Case(
        key="1-cantera",
        title="Heat capacity and enthalpy against NASA polynomials",
        claim="Sensible heat and heat of fusion of the pure metals.",
        source="McBride, Gordon and Reno, NASA TM-4513 (1993), evaluated by cantera's condensed species.",
        tolerance="3 % for heat capacity and 2 % for enthalpy from 298 K, about what good compilations "
        "differ by; heat capacity not within 12 K of a first-order transition of iron, whose heat the "
        "enthalpy holds.",
        run=run_cantera,
    ),
    Case(
        key="1-chemicals",
        title="Heat capacity against JANAF and Shomate",
        claim="Heat capacity of the pure metals against two further compilations (they share parents with "
        "the first).",
        source="The chemicals package: NIST-JANAF tables (4th ed. 1998) and NIST WebBook Shomate equations.",
        tolerance="3 %, about what good compilations differ by; rows that the table gives twice "
        "(transitions) left out.",
        run=run_chemicals,
    ),
    Case(
        key="1-geometry",
        title="Grid volumes and areas against FiPy",
        claim="Cell volumes and face areas of the default grid equal those of FiPy's cylindrical grid (per "
        "radian there).",
        source="FiPy, CylindricalGrid2D.",
        tolerance="1e-10: rounding.",
        run=run_geometry,
    ),
)
