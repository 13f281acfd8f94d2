"""Which fields of a setup hold a number, for studies that vary one."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from nugget.setup.description import Setup
from nugget.setup.fill import split_none
from nugget.setup.limits import declared, dimension_of
from nugget.setup.quantity import spec_of
from nugget.setup.schema import SetupFile
from nugget.units import DIMENSIONS, to_si, to_text

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

    def write(self, value: float) -> str | float | int:
        """Return `value` [SI] as a setup file holds it, for `with_overrides`."""
        if self.dimension in DIMENSIONS:
            return to_text(value, self.dimension)
        return round(value) if self.dimension == "count" else float(value)


def quantity_fields(setup: Setup) -> dict[str, QuantityField]:
    """Return every field of `setup` that holds or may hold a number, by its path."""
    tree = dict(setup.resolved)
    tree["limits"], _ = split_none(tree["limits"])
    found = {path: QuantityField(path, dimension) for path, dimension in _walk(SetupFile(**tree), "")}
    for id in {**declared(), **setup.resolved["limits"]}:
        if dimension := dimension_of(id, tree["limits"].get(id)):
            found[f"limits.{id}"] = QuantityField(f"limits.{id}", dimension)
    return dict(sorted(found.items()))


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
