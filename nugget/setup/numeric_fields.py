"""Which fields of a setup hold a number, for studies that vary one."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from nugget.errors import InputError
from nugget.setup.limits import LimitSection, declared, dimension_of
from nugget.setup.quantity import Quantity, spec_of
from nugget.setup.renamed import new_path
from nugget.setup.sources import CellsSection
from nugget.units import DIMENSIONS, to_si, to_text

if TYPE_CHECKING:
    from nugget.setup.setup import Setup

_PLAIN = {float: "number", int: "count"}


@dataclass(frozen=True)
class QuantityField:
    """A field that holds a number.

    Attributes
    ----------
    path : str
        As overrides write it, such as ``pulse.0.duration``.
    dimension : str
        A key of `nugget.units.DIMENSIONS`; ``"number"`` or ``"count"`` without a unit.
    """

    path: str
    dimension: str

    @property
    def unit(self) -> str:
        """SI unit; empty without a dimension."""
        return DIMENSIONS[self.dimension][0] if self.dimension in DIMENSIONS else ""

    def read(self, text: str) -> float:
        """Return the SI value of `text`; ValueError says what would do."""
        if self.dimension in DIMENSIONS:
            return to_si(text, self.dimension)
        try:
            return float(text)
        except ValueError:
            raise ValueError("a number without a unit") from None

    def exact(self, value: float) -> float | int:
        """Return `value` [SI] as `Setup.with_` takes it, a count as a whole number."""
        return round(value) if self.dimension == "count" else float(value)

    def write(self, value: float) -> str | float | int:
        """Return `value` [SI] as a setup file holds it; it reads back to the same float."""
        return to_text(value, self.dimension) if self.dimension in DIMENSIONS else self.exact(value)


def quantity_fields(setup: Setup) -> dict[str, QuantityField]:
    """Return every field of `setup` that holds or may hold a number, by its path."""
    found = {path: QuantityField(path, dimension) for path, dimension in _walk(setup.file, "")}
    for id in {**declared(), **setup.file.limits}:
        section = setup.file.limits.get(id)
        if dimension := dimension_of(id, None if section is None else {"figure": section.figure}):
            found[f"limits.{id}"] = QuantityField(f"limits.{id}", dimension)
    return dict(sorted(found.items()))


def find_field(setup: Setup, path: str, where: str = "field") -> QuantityField:
    """Return the field at `path`, or the only one whose path ends so.

    Parameters
    ----------
    setup : Setup
    path : str
    where : str
        What an error calls the place where `path` was written.

    Raises
    ------
    InputError
        Naming the nearest field.
    """
    fields = setup.fields
    found = [path] if path in fields else [known for known in fields if known.endswith(f".{path}")]
    if len(found) == 1:
        return fields[found[0]]
    if found:
        raise InputError(where, path, f"one of {', '.join(found)}")
    if new := new_path(path):
        raise InputError(where, path, f"{new}, which the key was renamed to")
    ends = {known.split(".")[-1]: known for known in fields}
    close = difflib.get_close_matches(path, [*fields, *ends], n=1, cutoff=0.4)
    hint = f"; the nearest is {close[0]}" if close else ""
    raise InputError(where, path, f"a field of the setup that holds a number{hint}")


def stated_value(setup: Setup, path: str) -> float | None:
    """Return the value [SI] that the document gives the field at `path`; None where it gives none."""
    found: Any = setup.file
    for key in path.split("."):
        if isinstance(found, tuple):
            found = found[int(key)] if int(key) < len(found) else None
        elif isinstance(found, Mapping):
            found = found.get(key)
        else:
            found = getattr(found, key, None)
    if isinstance(found, LimitSection):
        found = found.value
    if isinstance(found, str):
        return setup.fields[path].read(found)
    return None if found is None else float(found.si if isinstance(found, Quantity) else found)


def value_of(setup: Setup, path: str) -> float | None:
    """Return the value [SI] of the field at `path`, also of one that follows from others."""
    stated = stated_value(setup, path)
    if stated is not None:
        return stated
    if path == "leads.resistance":
        return setup.circuit.lead_ohm
    source = setup.file.source
    if isinstance(source, CellsSection) and path.removeprefix("source.") in source.BY_CELL:
        return source.whole_si(path.removeprefix("source."))
    if path == "joint.minimum_diameter":
        return setup.joint.minimum_diameter_m
    section, _, rest = path.partition(".")
    index, _, key = rest.partition(".")
    if section == "pulse" and key == "duration":
        return setup.train[int(index)].duration_s
    return None


def _walk(model: BaseModel, prefix: str) -> Iterator[tuple[str, str]]:
    for key, info in type(model).model_fields.items():
        path, value = f"{prefix}{key}", getattr(model, key)
        if dimension := _dimension(info):
            yield path, dimension
        elif isinstance(value, BaseModel):
            yield from _walk(value, f"{path}.")
        elif isinstance(value, tuple):
            for index, item in enumerate(value):
                if isinstance(item, BaseModel):
                    yield from _walk(item, f"{path}.{index}.")


def _dimension(info: FieldInfo) -> str | None:
    """Return the dimension of a field, also of an absent one; None when it holds no number."""
    spec = spec_of(info)
    if spec is not None:
        return spec.dimension
    choices = () if get_origin(info.annotation) is tuple else get_args(info.annotation)
    for choice in (info.annotation, *choices):
        plain = getattr(choice, "__origin__", choice)  # what Annotated wraps
        if plain in _PLAIN:
            return _PLAIN[plain]
    return None
