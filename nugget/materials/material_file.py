"""From a material file to a `Material` or a `Layered`: the one door for all of them.

Built-in, the user's own and a plugin's files pass through `read`; whatever is wrong becomes
an `InputError` that names file, key, what was given and what is allowed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from nugget.constants import REFERENCE_K
from nugget.errors import InputError
from nugget.files import parse_toml, read_toml
from nugget.materials.document import API, LayeredFile, MaterialFile, Sourced
from nugget.materials.file_parts import cite, to_curve, to_number
from nugget.materials.layered import Layered, LayerRule
from nugget.materials.material import Citation, Curve, Material
from nugget.materials.measures import to_si
from nugget.materials.messages import shape_problems
from nugget.materials.reading_strength import read_composition, read_strength, read_tempers


def read(path: Path | Traversable, origin: str | None = None) -> Material | Layered:
    """Read one file.

    Parameters
    ----------
    path : Path or Traversable
    origin : str, optional
        Which door it came through; the path itself when not given.

    Raises
    ------
    InputError
        The first thing that is wrong with the file.
    """
    found, problems = read_all(path, origin)
    if found is None:
        raise problems[0]
    return found


def read_all(
    path: Path | Traversable, origin: str | None = None
) -> tuple[Material | Layered | None, list[InputError]]:
    """Read one file and return what it holds, or None and everything that is wrong with it."""
    where = str(path) if origin in (None, str(path)) else f"{origin}, {path.name}"
    try:
        data = _tree(path, where)
    except InputError as problem:
        return None, [problem]
    found, problems = build(data, where, origin or where)
    if found is not None and path.name != f"{found.name}.toml":
        called = path.name.removesuffix(".toml")
        problems = [InputError(f"{where}: name", found.name, f"{called}, as the file is called {path.name}")]
    return (None if problems else found), problems


def _tree(path: Path | Traversable, where: str) -> dict[str, Any]:
    if isinstance(path, Path):
        return read_toml(path, where, "a readable file", "valid TOML")
    return parse_toml(path.read_text(encoding="utf-8"), where, "valid TOML")  # inside an archive


def build(
    data: dict[str, Any], where: str, origin: str
) -> tuple[Material | Layered | None, list[InputError]]:
    """Check the content of one file and turn it into a material.

    Parameters
    ----------
    data : dict
        The file as TOML gives it.
    where : str
        The file, for errors.
    origin : str
        Which door it came through.

    Returns
    -------
    Material, Layered or None
        None when anything is wrong.
    list of InputError
        Everything that is wrong.
    """
    if data.get("api") != API or isinstance(data.get("api"), bool):
        given = data.get("api", "no api version")
        return None, [InputError(f"{where}: api", given, f"{API}, the version that this nugget reads")]
    shape: type[MaterialFile] | type[LayeredFile]
    shape = LayeredFile if data.get("kind") == "layered" else MaterialFile
    try:
        file = shape.model_validate(data)
    except ValidationError as error:
        return None, shape_problems(error, shape, where)
    problems: list[InputError] = []
    found: Material | Layered | None
    if isinstance(file, LayeredFile):
        found = _layered(file, where, origin, problems)
    else:
        found = _material(file, where, origin, problems)
    return (None if problems else found), problems


def _melting(file: MaterialFile, where: str, problems: list[InputError]) -> tuple[float | None, float | None]:
    """Solidus and liquidus [K], or two Nones."""
    given = file.melting_range
    if given is None:
        return None, None
    key = f"{where}: melting_range"
    try:
        pair = to_si([given.solidus, given.liquidus], given.unit, "temperature", f"{key}.unit")
    except InputError as problem:
        problems.append(problem)
        return None, None
    solidus, liquidus = float(pair[0]), float(pair[1])
    if solidus >= liquidus:
        problems.append(
            InputError(f"{key}.solidus", given.solidus, f"less than the liquidus, {given.liquidus:g}")
        )
    if file.heat_of_fusion is None:
        problems.append(
            InputError(f"{where}: heat_of_fusion", "nothing", "a value, as there is a melting range")
        )
    return solidus, liquidus


def _conductivities(
    file: MaterialFile, where: str, problems: list[InputError]
) -> tuple[Curve | None, Curve | None]:
    """Thermal conductivity along r and z: one curve for both, or two."""
    along_r = to_curve("conductivity_r", file.conductivity_r, where, problems, "conductivity")
    along_z = to_curve("conductivity_z", file.conductivity_z, where, problems, "conductivity")
    if file.conductivity:
        along_r = along_z = to_curve("conductivity", file.conductivity, where, problems)
    if bool(file.conductivity) == bool(file.conductivity_r) or bool(file.conductivity_r) != bool(
        file.conductivity_z
    ):
        asked = "either conductivity, or both conductivity_r and conductivity_z"
        given = [key for key in ("conductivity", "conductivity_r", "conductivity_z") if getattr(file, key)]
        problems.append(InputError(f"{where}: conductivity", " and ".join(given) or "nothing", asked))
    return along_r, along_z


def _material(file: MaterialFile, where: str, origin: str, problems: list[InputError]) -> Material | None:
    """Build a material from a file of the right shape, noting what is wrong."""
    curves = _curves(file, where, problems)
    density, heat_capacity, hardness = curves["density"], curves["heat_capacity"], curves["hardness"]
    along_r, along_z = _conductivities(file, where, problems)
    solidus, liquidus = _melting(file, where, problems)
    fusion = to_number("heat_of_fusion", file.heat_of_fusion, where, problems)
    boiling = to_number("boiling", file.boiling, where, problems, "temperature")
    tensile = to_number("tensile_strength", file.tensile_strength, where, problems)
    melting = None if solidus is None or liquidus is None else 0.5 * (solidus + liquidus)
    strength, strength_citations = read_strength(file, hardness, melting, where, problems)
    tempers = read_tempers(file, hardness, where, problems)
    composition = read_composition(file, where, problems)
    if liquidus is not None and boiling is not None and boiling <= liquidus:
        problems.append(
            InputError(f"{where}: boiling.value", f"{boiling:g} K", f"above the liquidus, {liquidus:g} K")
        )
    curves["conductivity"] = along_r
    if along_z is not along_r:
        curves["conductivity_z"] = along_z
    problems += _too_short(curves, liquidus, where)
    if problems or density is None or heat_capacity is None or along_r is None or along_z is None:
        return None
    citations = _citations(file) | strength_citations
    return Material(
        name=file.name,
        title=file.title,
        family=file.family,
        density_kg_m3=float(density(REFERENCE_K)),
        heat_capacity=heat_capacity,
        conductivity_r=along_r,
        conductivity_z=along_z,
        resistivity=curves["resistivity"],
        solidus_K=solidus,
        liquidus_K=liquidus,
        heat_of_fusion_J_kg=fusion or 0.0,
        boiling_K=boiling,
        hardness=hardness,
        tensile_strength_Pa=tensile,
        scalar_citations={"density": density.citation} | citations,
        estimated=_estimated(curves, citations),
        origin=origin,
        density=density,
        note=file.note,
        strength=strength,
        seebeck=curves["seebeck"],
        composition=composition,
        temper=file.temper,
        tempers=tempers,
    )


def _curves(file: MaterialFile, where: str, problems: list[InputError]) -> dict[str, Curve | None]:
    """The tables of a file by property, thermal conductivity left out."""
    positive = ("density", "heat_capacity", "resistivity", "hardness")
    found = {key: to_curve(key, getattr(file, key), where, problems) for key in positive}
    return found | {"seebeck": to_curve("seebeck", file.seebeck, where, problems, positive=False)}


def _citations(file: MaterialFile) -> dict[str, Citation]:
    """Where single numbers come from."""
    numbers: dict[str, Sourced | None] = {
        "melting_range": file.melting_range,
        "heat_of_fusion": file.heat_of_fusion,
        "boiling": file.boiling,
        "tensile_strength": file.tensile_strength,
        "composition": file.composition,
    }
    return {key: cite([part]) for key, part in numbers.items() if part is not None}


def _too_short(tables: dict[str, Curve | None], liquidus: float | None, where: str) -> Iterator[InputError]:
    """Tables that stop before the metal has melted; what holds its last value beyond may end earlier."""
    for key in ("heat_capacity", "conductivity", "conductivity_z", "resistivity"):
        curve = tables.get(key)
        if liquidus is not None and curve is not None and curve.temperature_K[-1] < liquidus:
            last = f"a table that stops at {curve.temperature_K[-1]:g} K"
            yield InputError(f"{where}: {key}", last, f"rows up to the liquidus, {liquidus:g} K, or beyond")


def _estimated(curves: dict[str, Curve | None], citations: dict[str, Citation]) -> tuple[str, ...]:
    """Name what a rule supplied: a whole property, or the temperatures where it did."""
    found = [key for key, citation in citations.items() if citation.confidence == "estimated"]
    for key, curve in curves.items():
        stretches = curve.stretches if curve is not None else ()
        spans = [
            f"{stretch.first_K:.0f} to {stretch.last_K:.0f} K"
            for stretch in stretches
            if stretch.citation.confidence == "estimated"
        ]
        if spans:
            found.append(key if len(spans) == len(stretches) else f"{key} ({', '.join(spans)})")
    return tuple(found)


def _layered(file: LayeredFile, where: str, origin: str, problems: list[InputError]) -> Layered:
    """Build a layered product, noting what is wrong."""
    rules = []
    for i, layer in enumerate(file.layer):
        key = f"{where}: layer[{i + 1}]"
        thickness = None
        if (layer.thickness is None) == (layer.share is None):
            problems.append(
                InputError(key, "both" if layer.share else "neither", "either thickness or share")
            )
        elif layer.thickness is not None:
            try:
                thickness = float(to_si(1.0, layer.thickness, "thickness", f"{key}.thickness"))
            except InputError as problem:
                problems.append(problem)
        elif layer.share is not None and layer.share <= 0.0:
            problems.append(InputError(f"{key}.share", layer.share, "a share above zero"))
        rules.append(LayerRule(layer.material, thickness, layer.share))
    shares = math.fsum(rule.share or 0.0 for rule in rules)
    if not problems and abs(shares - 1.0) > 1e-6:
        problems.append(
            InputError(f"{where}: layer", f"shares that add up to {shares:g}", "shares that add up to 1")
        )
    return Layered(file.name, file.title, tuple(rules), cite([file]), origin)
